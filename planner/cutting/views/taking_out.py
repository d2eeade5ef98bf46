"""Taking what is not begun of an order out of a batch that is being cut."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from planner.common.access import for_makers
from planner.core.listed import counted, lays_listed
from planner.cutting.actions.taking_out import TakenOut, items_to_take_out, take_out
from planner.cutting.forms import read_taken_out
from planner.cutting.models import Batch, BatchItem
from planner.cutting.taken_boxes import order_boxes, too_many
from planner.orders.models import Order

#: Of a page that was only opened.
NOTHING: Mapping[int, str] = MappingProxyType({})


@for_makers
@require_http_methods(["GET", "POST"])
def batch_take_out(request: HttpRequest, number: str) -> HttpResponse:
    """Which garments of each order may still be taken out; with an order, takes them out, or `some` of them."""
    batch = get_object_or_404(Batch, number=number)
    if batch.state != Batch.State.CUTTING:
        messages.error(request, f"Nothing is changed: {number} is {batch.get_state_display()}.")
        return redirect("batch-detail", number)
    if request.method != "POST":
        return _page(request, batch)
    order = get_object_or_404(Order, number=request.POST.get("order", "")[:20])
    wanted = None
    if "some" in request.POST:
        wanted, typed, errors = read_taken_out(request.POST)
        free = items_to_take_out(batch)
        errors = {**too_many(free.get(order.pk, []), wanted), **errors}
        if errors or not any(wanted.values()):
            return _page(request, batch, free, typed, errors, order)
    done = take_out(batch, order, request.user, timezone.now(), wanted)
    if done.problem:
        messages.error(request, done.problem)
        return redirect("batch-take-out", number)
    messages.success(request, taken_out_in_words(done, order.number))
    return redirect("batch-detail", number)


def _page(
    request: HttpRequest,
    batch: Batch,
    free: Mapping[int, list[tuple[BatchItem, int]]] | None = None,
    typed: Mapping[int, str] = NOTHING,
    errors: Mapping[int, str] = NOTHING,
    wrong: Order | None = None,
) -> HttpResponse:
    """The orders with their boxes; what was typed for the order that is `wrong` stands in them."""
    rows = order_boxes(items_to_take_out(batch) if free is None else free, typed, errors)
    context = {"batch": batch, "rows": rows, "wrong": wrong, "errors": errors}
    return render(request, "cutting/batch_take_out.html", context, status=422 if wrong else 200)


def taken_out_in_words(done: TakenOut, order: str) -> str:
    """ "6 garments of O-0002 are taken out. Lays 3 and 5 are planned anew without them as lay 7, which …", and what is
    to be done with tickets and notions."""
    garments = counted(done.garments, "garment")
    is_are = "is" if done.garments == 1 else "are"
    head = f"{garments} of {order} {is_are} taken out of the batch and can be batched again or cancelled."
    gone = lays_listed(done.gone).capitalize()
    verb = "is" if len(done.gone) == 1 else "are"
    old = "Throw their old tickets away, and those of bundles that are gone."
    if done.notions:
        kinds = counted(done.notions, "kind of notion", "kinds of notions")
        old += f" Put their notions back on the shelf: what was taken out of {kinds} for them counts as in stock again."
    if not done.lays:
        return f"{head} {gone} {verb} not cut any more. {old}"
    new = "is" if len(done.lays) == 1 else "are"
    return (
        f"{head} {gone} {verb} planned anew without them as {lays_listed(done.lays)}, which {new} nested now and then"
        f" given rolls. {old}"
    )
