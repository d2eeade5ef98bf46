"""The stock of a cloth in one colour: its rolls, and what came and went."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from planner.common.access import for_helpers
from planner.materials import actions
from planner.materials.forms import CountClothForm, TakeOutClothForm
from planner.materials.models import FabricColour, Roll, StockMove
from planner.materials.roll_forms import ReceiveClothForm
from planner.materials.rolls import on_shelf
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
)
from planner.materials.washed import as_bought_in_words


@for_helpers
@require_GET
def colour_stock(request: HttpRequest, pk: int) -> HttpResponse:
    """What is on hand of a cloth in one colour, roll by roll."""
    return _stock_page(request, pk)


@for_helpers
@require_http_methods(["GET", "POST"])
def receive(request: HttpRequest, pk: int) -> HttpResponse:
    """A roll came in."""
    colour = get_object_or_404(FabricColour.objects.select_related("fabric"), pk=pk)
    width = colour.fabric.full_width_mm
    form = ReceiveClothForm(posted(request), display=display(), fabric_width_mm=width)
    received = carry_out(form, actions.receive_cloth, colour, person=request.user, at=now())
    if received:
        said = f"{cloth_words(received.move.quantity)} of {colour} came in on roll {received.roll}."
        return _done(request, said, colour.pk)
    return _stock_page(request, pk, AskedFor(form, "A roll came in", "Put it on the shelf"))


@for_helpers
@require_http_methods(["GET", "POST"])
def count_roll(request: HttpRequest, pk: int) -> HttpResponse:
    """A roll was measured again."""
    roll = get_object_or_404(Roll, pk=pk)
    form = CountClothForm(posted(request), display=display())
    counted = carry_out(form, actions.count_cloth, roll, person=request.user, at=now())
    if counted:
        said = f"Roll {roll}: {_counted(counted)}"
        if counted.are_flaws_in_doubt:
            said += " Look where its flaws lie now: they are kept from its outer end."
        warn_of_roll(request, roll)
        return _done(request, said, roll.fabric_colour_id)
    asked = AskedFor(form, f"Measure roll {roll} again", "Set")
    return _stock_page(request, roll.fabric_colour_id, asked, at_roll=roll.pk)


@for_helpers
@require_http_methods(["GET", "POST"])
def count_loose(request: HttpRequest, pk: int) -> HttpResponse:
    """The cloth that is on no roll was measured again."""
    colour = get_object_or_404(FabricColour, pk=pk)
    form = CountClothForm(posted(request), display=display())
    counted = carry_out(form, actions.count_loose_cloth, colour, person=request.user, at=now())
    if counted:
        return _done(request, f"Cloth on no roll: {_counted(counted)}", pk)
    return _stock_page(request, pk, AskedFor(form, "Measure the loose cloth again", "Set"), at_loose=True)


@for_helpers
@require_http_methods(["GET", "POST"])
def take_out(request: HttpRequest, pk: int) -> HttpResponse:
    """Cloth leaves a roll: it is damaged, or was used for something else."""
    roll = get_object_or_404(Roll.objects.select_related("fabric_colour"), pk=pk)
    form = TakeOutClothForm(posted(request), display=display())
    taken = carry_out(form, actions.take_out_cloth, roll, person=request.user, at=now())
    if taken:
        said = f"{cloth_words(-taken.move.quantity)} taken off roll {roll}; {cloth_words(taken.left)} left."
        warn_of_roll(request, roll)
        return _done(request, said, roll.fabric_colour_id)
    asked = AskedFor(form, f"Take cloth off roll {roll}", "Take out")
    return _stock_page(request, roll.fabric_colour_id, asked, at_roll=roll.pk)


def _stock_page(
    request: HttpRequest,
    pk: int,
    asked: AskedFor | None = None,
    *,
    at_roll: int | None = None,
    at_loose: bool = False,
) -> HttpResponse:
    """The stock of one colour; the form stands at the roll it is for, at the loose cloth, or above them."""
    colour = get_object_or_404(FabricColour.objects.with_stock(), pk=pk)
    rolls = on_shelf(colour.rolls.not_used_up())
    on_rolls = StockMove.objects.filter(fabric_colour=colour, roll__isnull=False).total()
    context: dict[str, Any] = {
        "colour": colour,
        "rolls": rolls,
        "loose_m": colour.on_hand_m - on_rolls,
        "moves": page_of(request, colour.moves.for_reading()),
        "washed": as_bought_in_words(colour.fabric),
        "at_roll": at_roll,
        "at_loose": at_loose,
        **form_context(asked),
        "section": "cloth",
    }
    return answer(request, "materials/colour_stock.html", "materials/_cloth_stock.html", context)


def _done(request: HttpRequest, text: str, pk: int) -> HttpResponse:
    return done(request, text, lambda again: _stock_page(again, pk), reverse("colour-stock", args=[pk]))


def _counted(counted: actions.Counted) -> str:
    """What a count changed, in a sentence."""
    if not counted.difference:
        return f"{cloth_words(counted.after)}, as the books said."
    more = "more" if counted.difference > 0 else "less"
    return f"{cloth_words(counted.after)}, {cloth_words(abs(counted.difference))} {more} than the books said."
