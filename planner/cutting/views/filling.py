"""Putting orders into a batch, by one person or two at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from planner.common.access import for_makers
from planner.core.listed import counted
from planner.cutting.actions import gathering
from planner.cutting.filled_since import (
    Holds,
    boxes_but_those_left,
    changed_in_words,
    holds_of,
    mark_of,
    read_mark,
)
from planner.cutting.filling import rows_for_filling
from planner.cutting.forms import NOTHING_TYPED, Boxes, read_boxes
from planner.cutting.models import Batch
from planner.cutting.screens_fill import fill_lines
from planner.cutting.views.batches import plan_and_tell
from planner.orders.models import OrderLine


@for_makers
def batch_fill(request: HttpRequest, number: str) -> HttpResponse:
    """Puts order lines, whole or in part, into a batch."""
    batch = get_object_or_404(Batch, number=number)
    if batch.state != Batch.State.GATHERING:
        return planned_meanwhile(request, batch)
    if request.method != "POST":
        return fill_page(request, batch)
    boxes, seen = read_boxes(request.POST), request.POST.get("seen")
    if not boxes.is_right:
        boxes = with_problems(boxes, gathering.problems_of(batch, boxes.wanted))
        return fill_page(request, batch, boxes, seen=seen, status=422)
    try:
        filled = gathering.fill_batch(batch, boxes.wanted, boxes.extra, seen=seen)
    except gathering.NotGathering:  # somebody planned it since this page began
        return planned_meanwhile(request, batch)
    if filled.is_stale:
        return fill_page(request, batch, boxes, was=read_mark(seen or ""), status=409)
    if filled.problems:
        return fill_page(request, batch, with_problems(boxes, filled.problems), seen=seen, status=422)
    holds = f"{batch.number} holds {counted(filled.garments, 'garment')}"
    if "plan" in request.POST:
        return plan_and_tell(request, batch, saved=holds)
    messages.success(request, f"{holds}.")
    return redirect("batch-detail", batch.number)


def with_problems(boxes: Boxes, problems: Sequence[gathering.Problem]) -> Boxes:
    """The boxes with what is wrong with their numbers, beside what could not be read: all is told at once."""
    found = {problem.line_quantity: problem.text for problem in problems}
    return replace(boxes, errors={**found, **boxes.errors})


def fill_page(
    request: HttpRequest,
    batch: Batch,
    boxes: Boxes = NOTHING_TYPED,
    *,
    seen: str | None = None,
    was: Holds | None = None,
    status: int = 200,
) -> HttpResponse:
    """The boxes with what was typed. `seen` is the mark the page was sent with; where the batch holds something else by
    now than it `was`, that is told, and boxes that were left alone show what it holds.
    """
    holds = holds_of(batch.items.all())
    rows = list(rows_for_filling(batch, boxes.filled))
    if was is not None:
        boxes = boxes_but_those_left(boxes, rows, was)
    clashing = OrderLine.objects.filter(pk__in={row.line_id for row in rows}).clashing()
    shown = {row.pk for row in rows}
    context = {
        "batch": batch,
        "lines": fill_lines(rows, holds, boxes, timezone.localdate(), clashing),
        "errors": {pk for pk in {**boxes.extra_errors, **boxes.errors} if pk in shown},
        "lost": not boxes.filled <= shown,
        "seen": mark_of(holds) if seen is None else seen,
        "changed": "" if was is None else changed_in_words(was, holds),
    }
    return render(request, "cutting/batch_fill.html", context, status=status)


def planned_meanwhile(request: HttpRequest, batch: Batch) -> HttpResponse:
    """Back to a batch whose orders stand fast, be it since a moment ago."""
    batch.refresh_from_db(fields=["state"])
    if batch.state == Batch.State.CUTTING:
        messages.error(request, "Something of this batch is cut. What is not begun can be taken out.")
        return redirect("batch-take-out", batch.number)
    if batch.state == Batch.State.PLANNED:
        text = "This batch is planned. Take the plan back before you change its orders."
    else:
        text = f"This batch is {batch.get_state_display()}: its orders cannot be changed any more."
    messages.error(request, text)
    return redirect("batch-detail", batch.number)
