"""The page of a roll: what is left of it, its flaws, the lays it is promised to."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from planner.common.access import for_helpers
from planner.materials import roll_actions
from planner.materials.models import Roll, RollFlaw
from planner.materials.roll_forms import FlawForm, PartRollForm, RollWidthForm
from planner.materials.rolls import on_shelf
from planner.materials.signals import said_of_width
from planner.materials.views.answers import (
    AskedFor,
    answer,
    carry_out,
    cloth_words,
    display,
    done,
    form_context,
    now,
    page_of,
    posted,
    warn_of_roll,
    width_words,
)
from planner.materials.washed import as_bought_in_words


@for_helpers
@require_GET
def roll_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """A roll or an end."""
    return _roll_page(request, pk)


@for_helpers
@require_http_methods(["GET", "POST"])
def flaw_new(request: HttpRequest, pk: int) -> HttpResponse:
    """A flaw was found."""
    roll = get_object_or_404(Roll.objects.select_related("fabric_colour"), pk=pk)
    form = FlawForm(posted(request), display=display())
    noted = carry_out(form, roll_actions.note_flaw, roll)
    if noted:
        said = f"The flaw from {cloth_words(noted.flaw.from_m)} to {cloth_words(noted.flaw.to_m)} is noted."
        warn_of_roll(request, roll)
        return _done(request, said, pk)
    return _roll_page(request, pk, AskedFor(form, "Note a flaw", "Note it"))


@for_helpers
@require_POST
def flaw_remove(request: HttpRequest, pk: int) -> HttpResponse:
    """What was noted is no flaw."""
    flaw = get_object_or_404(RollFlaw.objects.select_related("roll"), pk=pk)
    gone = roll_actions.remove_flaw(flaw)
    said = f"The flaw from {cloth_words(gone.from_m)} to {cloth_words(gone.to_m)} is removed."
    return _done(request, said, gone.roll.pk)


@for_helpers
@require_http_methods(["GET", "POST"])
def roll_part(request: HttpRequest, pk: int) -> HttpResponse:
    """A piece is cut off and kept as an end of its own."""
    roll = get_object_or_404(Roll.objects.select_related("fabric_colour"), pk=pk)
    form = PartRollForm(posted(request), display=display())
    parted = carry_out(form, roll_actions.part_roll, roll, person=request.user, at=now())
    if parted:
        kept = cloth_words(form.cleaned_data["metres"])
        said = f"{kept} are kept as {parted.end}; {cloth_words(parted.left)} left."
        warn_of_roll(request, roll)
        return _done(request, said, pk)
    return _roll_page(request, pk, AskedFor(form, "Cut off an end to keep", "Cut it off"), at_part=True)


@for_helpers
@require_http_methods(["GET", "POST"])
def roll_width(request: HttpRequest, pk: int) -> HttpResponse:
    """The width of a roll was measured again."""
    roll = get_object_or_404(Roll.objects.select_related("fabric_colour__fabric"), pk=pk)
    width = roll.fabric_colour.fabric.full_width_mm
    now_mm = {"full_width_mm": roll.full_width_mm}
    form = RollWidthForm(posted(request), display=display(), fabric_width_mm=width, initial=now_mm)
    if carry_out(form, roll_actions.set_width, roll):
        own = f"{width_words(roll.full_width_mm)} wide" if roll.full_width_mm else "as wide as its cloth"
        for text in said_of_width(roll):
            messages.warning(request, text)
        return _done(request, f"Roll {roll} is {own}.", pk)
    return _roll_page(request, pk, AskedFor(form, "Put its width right", "Set"), at_width=True)


def _roll_page(
    request: HttpRequest,
    pk: int,
    asked: AskedFor | None = None,
    *,
    at_part: bool = False,
    at_width: bool = False,
) -> HttpResponse:
    rows = Roll.objects.with_left().filter(pk=pk).select_related("fabric_colour__fabric")
    roll = rows.first()
    if roll is None:
        raise Http404
    context: dict[str, Any] = {
        "line": on_shelf(rows)[0],
        "colour": roll.fabric_colour,
        "moves": page_of(request, roll.moves.for_reading()),
        "washed": as_bought_in_words(roll.fabric_colour.fabric),
        "at_part": at_part,
        "at_width": at_width,
        **form_context(asked),
        "section": "cloth",
    }
    return answer(request, "materials/roll_detail.html", "materials/_roll.html", context)


def _done(request: HttpRequest, text: str, pk: int) -> HttpResponse:
    return done(request, text, lambda again: _roll_page(again, pk), reverse("roll-detail", args=[pk]))
