"""What a batch needs, as a bill of materials of which every line opens to where it comes from."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from planner.common.access import for_helpers
from planner.core.needs import CannotPlanError
from planner.core.too_wide import told_once
from planner.core.units import cm2_in_area_unit
from planner.cutting.bill import BillSetting, make_bill
from planner.cutting.models import Batch
from planner.cutting.reading import batch_with_plans
from planner.cutting.stored import PlannedBatch, planned_batch
from planner.cutting.thread_sources import source_rows, sources_in_words
from planner.materials.models import Workroom
from planner.papers.figures import ROUNDING


@for_helpers
def batch_needs(request: HttpRequest, number: str) -> HttpResponse:
    """The bill of a planned batch.

    `open` names the lines that are open, with commas between ("all" for all). Asked by a script for one `line`, only
    that is answered.
    """
    batch = batch_with_plans(number)
    if batch.state in {Batch.State.GATHERING, Batch.State.CANCELLED}:
        return render(request, "cutting/needs_page.html", {"batch": batch})
    try:
        read = planned_batch(batch)
    except CannotPlanError as fault:
        gone = told_once(fault.missing, Workroom.the().display)
        return render(request, "cutting/needs_page.html", {"batch": batch, "gone": gone})
    context = bill_context(request, read)
    if request.htmx and "line" in request.GET:
        line = context["bill"].line(request.GET["line"])
        if line is None:
            raise Http404("no such line")
        return render(request, "cutting/_bill_line.html", {**context, "line": line})
    rows = source_rows(read.needs, read.shop)
    context |= {"sources": rows, "sources_in_words": sources_in_words(rows), "rounding": ROUNDING}
    return render(request, "cutting/needs_page.html", context)


def bill_context(request: HttpRequest, read: PlannedBatch) -> dict[str, Any]:
    """The bill with the lines that were asked for open."""
    room = Workroom.the()
    wanted = frozenset(request.GET.get("open", "").split(","))
    setting = BillSetting(room.display, room.currency, with_costs=request.user.is_staff, open=wanted)
    bill = make_bill(read, setting)
    return {
        "batch": read.batch,
        "bill": bill,
        "all_open": "all" in wanted,
        "imperial": room.display == "imperial",
        "cm2_in_unit": cm2_in_area_unit(room.display),
    }
