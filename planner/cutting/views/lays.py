"""Lays: how they are nested, what was cut of them, and the lay thrown onto the cloth by a projector."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST
from django_htmx.http import HttpResponseClientRedirect

from planner.common.access import for_helpers, for_makers
from planner.cutting import counted_on
from planner.cutting.actions import letting_go, nesting, rest, table
from planner.cutting.actions.since_seen import Changed, changed_since
from planner.cutting.came_later import came_later
from planner.cutting.exports import pages_to_join
from planner.cutting.forms import LongerForm
from planner.cutting.lay_screens import garments_in_words, lay_screen
from planner.cutting.models import Batch, Lay, LayFact, Marker
from planner.cutting.narrow_cloth import lay_too_wide_in_words
from planner.cutting.old_pattern import old_pieces_of_lay
from planner.cutting.printed import fingerprints, paper_now
from planner.cutting.projecting import measures_for, projected
from planner.cutting.reading import bundles_of
from planner.cutting.screens_lay import (
    LayTable,
    booked_in_words,
    lay_table,
    rest_in_words,
    rolls_now,
    still_nested_in_words,
    told_in_words,
)
from planner.cutting.stripes import stripes_on_lay, washing_on_lay
from planner.cutting.table_forms import LayCutForm
from planner.cutting.typed_again import changed_in_words, marker_seen, typed_again
from planner.materials.models import Workroom


def unless_gone(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """What is done to a lay that is no more, since its batch was planned anew: back to the batch, which is told."""

    @wraps(view)
    def answer(request: HttpRequest, number: str, lay_number: int, **more: Any) -> HttpResponse:
        try:
            return view(request, number, lay_number, **more)
        except (Lay.DoesNotExist, LayFact.DoesNotExist):
            get_object_or_404(Batch, number=number)
            messages.error(
                request, f"{number} was planned anew meanwhile, so this lay is no more. Nothing was changed."
            )
            address = reverse("batch-detail", args=[number])
            return HttpResponseClientRedirect(address) if request.htmx else redirect(address)

    return answer


def _lay(number: str, lay_number: int) -> Lay:
    """The lay with everything; Lay.DoesNotExist where there is none."""
    lays = Lay.objects.with_rolls().naming_options().with_standing().select_related("rest_of")
    return lays.get(batch__number=number, number=lay_number)


def _page(
    request: HttpRequest,
    lay: Lay,
    form: LayCutForm | None = None,
    *,
    shown: LayTable | None = None,
    said: bool = False,
    status: int = 200,
) -> HttpResponse:
    """The lay's page, or its region with HTMX; `said` carries the messages along with the region. `shown` is the
    table's part where it was read already, as for the form."""
    screen = lay_screen(lay)
    display = Workroom.the().display
    table = shown or lay_table(lay, display)
    now = fingerprints([lay], bundles_of(lay.batch, [lay]), table.ahead)
    paper = paper_now(lay.batch, str(lay.number), now, timezone.localdate())
    short_rolls = counted_on.counted_on_by(lay.batch, [lay])
    context = {
        "counted_on": [counted_on.counted_on_in_words(one, lay.batch.number, display) for one in short_rolls],
        "lay": screen,
        "garments": garments_in_words(lay),
        "table": table,
        "form": form or _cut_form(lay, table),
        "longer": LongerForm(),
        "still_nested": still_nested_in_words(lay, timezone.now()),
        "batch": lay.batch,
        "late": () if paper.printed and not paper.is_old else came_later(lay),
        "paper": paper,
        "too_wide": lay_too_wide_in_words(lay, display),
        # Asked for only where there may be some, which was read with the lay.
        "old_pattern": old_pieces_of_lay(lay, screen.kinds) if lay.has_old_pieces else "",  # type: ignore[attr-defined]
        "stripes": stripes_on_lay(lay, display),
        "washing": washing_on_lay(lay),
        "to_join": pages_to_join(lay, Workroom.the().paper),
        "said": said,
    }
    template = "cutting/_lay.html" if request.htmx else "cutting/lay_detail.html"
    return render(request, template, context, status=status)


def _cut_form(lay: Lay, table: LayTable, data: QueryDict | None = None) -> LayCutForm:
    """The form of a lay read by `_lay`."""
    return LayCutForm(
        data,
        table.portions,
        display=Workroom.the().display,
        only=data.get("only", "") if data else "",
        rolls=rolls_now(table) if data else {},
        is_moving=lay.is_moving,  # type: ignore[attr-defined]
    )


def _after(request: HttpRequest, number: str, lay_number: int, *, status: int = 200) -> HttpResponse:
    """The lay as it stands now: its region with HTMX, else back to its page."""
    if request.htmx or status != 200:
        return _page(request, _lay(number, lay_number), said=bool(request.htmx), status=status)
    return redirect("lay-detail", number, lay_number)


@for_helpers
@unless_gone
def lay_detail(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """One lay, drawn large, with its pieces and what can be done to it. With HTMX only the region: a page that follows
    a lay which goes leads to its batch.
    """
    try:
        return _page(request, _lay(number, lay_number))
    except Lay.DoesNotExist:
        if request.htmx:
            raise
        raise Http404 from None


@for_helpers
@require_POST
@unless_gone
def lay_stop(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """Stops the nesting and keeps the best so far."""
    lay = _lay(number, lay_number)
    if not nesting.stop_and_keep(lay.marker):
        messages.info(request, "Nothing is being nested here just now.")
    return redirect("lay-detail", number, lay_number)


@for_makers
@require_POST
@unless_gone
def lay_longer(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """Nests the lay again for longer; it never gets longer than it is."""
    lay = _lay(number, lay_number)
    form = LongerForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose how long to go on.")
    elif not nesting.run_longer(lay.marker, float(form.cleaned_data["seconds"])):
        messages.error(request, "This lay is being nested already, or it is cut.")
    else:
        messages.success(
            request, f"Lay {lay_number} is being nested for longer. It never gets longer than it is."
        )
    return redirect("lay-detail", number, lay_number)


@for_helpers
@require_POST
@unless_gone
def lay_cut(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """Records what was spread and cut of a lay, all of it or a part."""
    lay = _lay(number, lay_number)
    running = lay.marker.state in {Marker.State.WAITING, Marker.State.NESTING}
    if lay.marker.placements is None or (running and not lay.marker.is_laid):
        messages.error(request, "This lay is not nested yet; it cannot be cut.")
        return _after(request, number, lay_number)
    shown = lay_table(lay, Workroom.the().display)
    form = _cut_form(lay, shown, request.POST)
    so_far, marker_mm = request.POST.get("so_far"), marker_seen(request.POST)
    # What changed is told before what is wrong: it may be wrong for what changed alone.
    if changed := changed_since(lay, so_far, marker_mm, now=shown.so_far):
        return _changed(request, number, lay_number, changed)
    if not form.is_valid():
        return _page(request, lay, form, shown=shown, status=422)
    told = letting_go.let_go_after(
        table.tell_lay(lay, form.told(), request.user, timezone.now(), so_far=so_far, marker_mm=marker_mm)
    )
    if told.meanwhile:
        return _changed(request, number, lay_number, told.meanwhile)
    if told.problem:
        messages.error(request, told.problem)
        return _after(request, number, lay_number, status=409)
    display = Workroom.the().display
    messages.success(request, told_in_words(told, display))
    if lay.is_moving and told.spreads:  # type: ignore[attr-defined]
        messages.info(request, f"The lays of {number} stay as they are now. Their rolls are being chosen.")
    if told.short_rolls:
        names = " and ".join(told.short_rolls)
        messages.warning(request, f"The books said there was less on {names}. Count what is left.")
    for owed in told.owed:
        messages.warning(request, owed.told_in(display))
    for one in told.counted_on:
        messages.warning(
            request, counted_on.told_in_words(one, number, told.asked_again, told.waiting, display)
        )
    return _after(request, number, lay_number)


def _changed(request: HttpRequest, number: str, lay_number: int, changed: Changed) -> HttpResponse:
    """The lay as it is now, which is not how the form showed it; what was typed stands there again where it can."""
    lay, display, marker_mm = _lay(number, lay_number), Workroom.the().display, marker_seen(request.POST)
    shown = lay_table(lay, display)
    again = typed_again(request.POST, shown.portions, changed, marker_mm, display)
    messages.error(
        request,
        changed_in_words(changed, shown.portions, marker_mm, display, is_kept=again is not None),
    )
    form = None if again is None else _cut_form(lay, shown, again)
    return _page(request, lay, form, shown=shown, said=bool(request.htmx), status=409)


@for_helpers
@require_POST
@unless_gone
def lay_uncut(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """Takes back that a lay was cut."""
    lay = _lay(number, lay_number)
    if table.take_cut_back(lay, request.user, timezone.now()):
        messages.success(request, f"Lay {lay_number} is not cut; its cloth is back in the stock.")
    elif lay.cut_at is None:
        messages.info(request, "This lay was not recorded as cut; nothing was changed.")
    elif lay.rests.exists():
        messages.error(request, "The rest of this lay is planned as lays of their own. Take that back first.")
    else:
        messages.error(request, f"{number} is done, so its lays stay cut. Open the batch again first.")
    return _after(request, number, lay_number)


@for_helpers
@require_POST
@unless_gone
def lay_fact_back(request: HttpRequest, number: str, lay_number: int, fact: int) -> HttpResponse:
    """Takes back one thing told of a lay."""
    row = LayFact.objects.get(
        pk=fact, lay_cloth__lay__number=lay_number, lay_cloth__lay__batch__number=number
    )
    taken = table.take_fact_back(row, request.user, timezone.now())
    if taken.problem:
        messages.error(request, taken.problem)
    else:
        back = booked_in_words(taken.booked_m, taken.used_m, Workroom.the().display)
        messages.success(request, f"Taken back; {back} are back in the stock.")
    return _after(request, number, lay_number)


@for_makers
@require_POST
@unless_gone
def lay_rest(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """No more of this lay is cut: what is left of it is planned anew, unless its own marker is best for it.

    With `anyway` the lay ends here all the same, and its rest becomes lays of their own.
    """
    lay, anyway = _lay(number, lay_number), bool(request.POST.get("anyway"))
    planned = rest.replan_rest(lay, request.user, timezone.now(), if_better=not anyway)
    if planned.problem:
        messages.error(request, planned.problem)
    elif planned.stays:
        messages.info(request, planned.stays)
    else:
        messages.success(request, rest_in_words(planned))
    return _after(request, number, lay_number)


@for_makers
@require_POST
@unless_gone
def lay_rest_back(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """The rest is cut in this lay after all."""
    problem = rest.take_rest_back(_lay(number, lay_number))
    if problem:
        messages.error(request, problem)
    else:
        messages.success(request, f"The lays of the rest are dropped; lay {lay_number} goes on.")
    return _after(request, number, lay_number)


@for_helpers
def lay_projector(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """The lay alone, light on black, to be thrown onto the cloth at true scale."""
    lay = get_object_or_404(
        Lay.objects.with_options().with_standing(), batch__number=number, number=lay_number
    )
    if not lay.marker.is_laid:
        messages.error(request, "This lay is not nested yet; its pieces would still move.")
        return redirect("lay-detail", number, lay_number)
    shown = projected(lay, measures_for(Workroom.the().display))
    return render(request, "cutting/lay_projector.html", {"lay": shown, "batch": lay.batch})
