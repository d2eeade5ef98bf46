"""Taking what is not begun of an order out of a batch that is being cut."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from planner.common.access import for_makers
from planner.core.listed import counted, lays_listed
from planner.cutting.actions.taking_out import TakenOut, garments_to_take_out, take_out
from planner.cutting.models import Batch
from planner.orders.models import Order


@for_makers
@require_http_methods(["GET", "POST"])
def batch_take_out(request: HttpRequest, number: str) -> HttpResponse:
    """Which garments of each order may still be taken out; with an order, takes them out."""
    batch = get_object_or_404(Batch, number=number)
    if batch.state != Batch.State.CUTTING:
        messages.error(request, f"Nothing is changed: {number} is {batch.get_state_display()}.")
        return redirect("batch-detail", number)
    if request.method == "POST":
        order = get_object_or_404(Order, number=request.POST.get("order", "")[:20])
        done = take_out(batch, order)
        if done.problem:
            messages.error(request, done.problem)
            return redirect("batch-take-out", number)
        messages.success(request, taken_out_in_words(done, order.number))
        return redirect("batch-detail", number)
    free = garments_to_take_out(batch)
    orders = Order.objects.filter(pk__in=list(free)).select_related("customer").by_due_day()
    rows = [(order, free[order.pk]) for order in orders]
    return render(request, "cutting/batch_take_out.html", {"batch": batch, "rows": rows})


def taken_out_in_words(done: TakenOut, order: str) -> str:
    """ "6 garments of O-0002 are taken out. Lays 3 and 5 are planned anew without them as lay 7, which …" """
    garments = counted(done.garments, "garment")
    is_are = "is" if done.garments == 1 else "are"
    head = f"{garments} of {order} {is_are} taken out of the batch and can be batched again or cancelled."
    gone = lays_listed(done.gone).capitalize()
    verb = "is" if len(done.gone) == 1 else "are"
    old = "Throw their old tickets away, and those of bundles that are gone."
    if not done.lays:
        return f"{head} {gone} {verb} not cut any more. {old}"
    new = "is" if len(done.lays) == 1 else "are"
    return (
        f"{head} {gone} {verb} planned anew without them as {lays_listed(done.lays)}, which {new} nested now and then"
        f" given rolls. {old}"
    )
