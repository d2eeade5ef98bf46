"""The papers of a batch as PDF, and its plan file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from planner.common.access import for_helpers, for_makers
from planner.core.needs import CannotPlanError
from planner.core.planfile import plan_to_json
from planner.core.planning import Plan
from planner.core.spec import Workshop
from planner.cutting.actions.printing import note_printed
from planner.cutting.bill_parts import nested_lays
from planner.cutting.bought_together import bought_together
from planner.cutting.bundle_papers import ticket_data
from planner.cutting.buy_papers import buy_list_data
from planner.cutting.buying import what_to_buy
from planner.cutting.models import Batch
from planner.cutting.papers import (
    PaperSetting,
    cut_sheet_data,
    heading_of,
    ticket_lays,
)
from planner.cutting.printed import BUNDLES, SHEET
from planner.cutting.reading import bundles_of
from planner.cutting.setting import batch_setting, heading_for, plain_setting, with_marks
from planner.cutting.stored import PlannedBatch, plan_of, planned_batch
from planner.materials.models import Workroom
from planner.papers.bundle_tickets import bundle_tickets
from planner.papers.buy_lists import buy_list, buy_list_csv
from planner.papers.cut_sheets import cut_sheet
from planner.papers.cut_tickets import cut_tickets

SIZES = {"A4", "Letter", "label"}

Draw = Callable[[Plan, Workshop, PaperSetting, Any], bytes]


def _size(request: HttpRequest, room: Workroom, *, labels: bool = False) -> Any:
    """The paper asked for, else the workroom's."""
    wanted = request.GET.get("paper", "")
    return wanted if wanted in SIZES and (labels or wanted != "label") else room.paper


def _file(data: bytes, name: str, kind: str = "application/pdf") -> HttpResponse:
    answer = HttpResponse(data, content_type=kind)
    answer["Content-Disposition"] = f'inline; filename="{name}"'
    return answer


def _planned(batch: Batch) -> PlannedBatch | None:
    """The batch as planned; None where it has no plan, or something it needs is gone (its page says what)."""
    if batch.state in {Batch.State.GATHERING, Batch.State.CANCELLED}:
        return None
    try:
        return planned_batch(batch)
    except CannotPlanError:
        return None


def _paper(request: HttpRequest, number: str, name: str, draw: Draw, *, labels: bool = False) -> HttpResponse:
    """A paper of a planned batch; before all its lays are nested the page says so instead.

    To fetch it changes nothing: what was not noted as printed (:func:`print_paper`) says so beside its mark.
    """
    batch = get_object_or_404(Batch, number=number)
    read = _planned(batch)
    if read is None or not read.is_nested:
        return _not_nested(request, number)
    room = Workroom.the()
    setting = batch_setting(room, batch, timezone.localtime(), read.demand)
    setting = with_marks(setting, batch, read.lays, bundles_of(batch, read.lays))
    data = draw(plan_of(read), read.shop, setting, _size(request, room, labels=labels))
    return _file(data, f"{number}-{name}.pdf")


#: What may be asked to be printed, and the address of its PDF.
PAPERS = {"cut-sheet": SHEET, "bundle-tickets": BUNDLES, "cut-tickets": ""}


@for_helpers
@require_POST
def print_paper(request: HttpRequest, number: str, paper: str) -> HttpResponse:
    """Notes that a paper is printed now, and goes on to its PDF: `lay` are the lays of cut tickets or of a part of the
    cut sheet, several with commas between or one by one; all where none.
    """
    if paper not in PAPERS:
        raise Http404("There is no such paper.")
    batch = get_object_or_404(Batch, number=number)
    read = _planned(batch)
    if read is None or not read.is_nested:
        return _not_nested(request, number)
    there = {str(lay.number) for lay in read.lays}
    asked_for = [lay for text in request.POST.getlist("lay") for lay in text.split(",")]
    lays = [lay for lay in dict.fromkeys(asked_for) if lay in there]
    papers = [PAPERS[paper]] if PAPERS[paper] else lays or there
    note_printed(batch, papers, timezone.now(), in_part=paper == "cut-sheet" and 0 < len(lays) < len(there))
    asked = {"lay": ",".join(lays), "paper": request.POST.get("paper", "")}
    query = urlencode({name: value for name, value in asked.items() if value})
    return redirect(reverse(paper, args=[number]) + (f"?{query}" if query else ""))


def _not_nested(request: HttpRequest, number: str) -> HttpResponse:
    messages.error(request, "Papers can be printed once every lay is nested.")
    return redirect("batch-detail", number)


@for_helpers
def cut_sheet_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """The cut sheet of a batch: of all its lays, or with some of them (`?lay=2`, `?lay=2,5`)."""
    wanted = _lay_numbers(request.GET.get("lay", ""))

    def draw(plan: Plan, shop: Workshop, setting: PaperSetting, size: Any) -> bytes:
        data = cut_sheet_data(plan, shop, setting)
        there = {lay.number for lay in data.lays}
        if wanted and not there.intersection(wanted):
            raise Http404("There is no such lay in this batch.")
        return cut_sheet(replace(data, only=frozenset(wanted) if there - set(wanted) else frozenset()), size)

    return _paper(request, number, "cut-sheet", draw)


@for_helpers
def cut_tickets_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """The cut tickets in the order in which lays are cut: of all, or of some (`?lay=2`, `?lay=2,5`)."""
    wanted = _lay_numbers(request.GET.get("lay", ""))

    def draw(plan: Plan, shop: Workshop, setting: PaperSetting, size: Any) -> bytes:
        lays = [lay for lay in ticket_lays(plan, shop, setting) if not wanted or lay.number in wanted]
        if not lays:
            raise Http404("There is no such lay in this batch.")
        return cut_tickets(setting.heading, lays, size, imperial=setting.display == "imperial")

    name = "-".join(["cut-ticket", *map(str, wanted)]) if wanted else "cut-tickets"
    return _paper(request, number, name, draw)


def _lay_numbers(text: str) -> list[int]:
    """ "2,5" as numbers of lays, none for ""; 404 for anything else."""
    parts = text.split(",") if text else []
    if not all(part.isascii() and part.isdigit() and len(part) < 6 for part in parts):
        raise Http404("Lays have numbers.")
    return [int(part) for part in parts]


@for_helpers
def bundle_tickets_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """The bundle tickets, on sheets or on labels (`?paper=label`)."""

    def draw(plan: Plan, shop: Workshop, setting: PaperSetting, size: Any) -> bytes:
        heading = heading_of(BUNDLES, setting)
        return bundle_tickets(heading, ticket_data(plan, shop, setting), size)

    return _paper(request, number, "bundle-tickets", draw, labels=True)


@for_helpers
def plan_file(request: HttpRequest, number: str) -> HttpResponse:
    """The plan file (notchbook-plan/1) of a batch."""
    read = _planned(get_object_or_404(Batch, number=number))
    if read is None or not read.is_nested:
        messages.error(request, "The plan file can be had once every lay is nested.")
        return redirect("batch-detail", number)
    answer = JsonResponse(plan_to_json(plan_of(read)))
    answer["Content-Disposition"] = f'attachment; filename="{number}-plan.json"'
    return answer


@for_makers
def batch_buy_list(request: HttpRequest, number: str) -> HttpResponse:
    """What to buy for one batch, as PDF or CSV (`?as=csv`)."""
    batch = get_object_or_404(Batch, number=number)
    read = _planned(batch)
    if read is None:
        messages.error(request, "What to buy for this batch is known once it is planned.")
        return redirect("batch-detail", number)
    room = Workroom.the()
    setting = batch_setting(room, batch, timezone.localtime(), read.demand)
    together = bought_together(read, room.display)  # type: ignore[arg-type]
    data = buy_list_data(read.needs, read.shop, setting, nested_lays(read), read.not_settled, in_all=together)
    return _buy_list(request, data, f"{number}-buy-list", room)


@for_makers
def buy_list_all(request: HttpRequest) -> HttpResponse:
    """What to buy for all planned batches, as PDF or CSV (`?as=csv`)."""
    room = Workroom.the()
    setting = plain_setting(room, heading_for(room, "all batches", timezone.localtime(), None))
    buying = what_to_buy()
    data = buy_list_data(buying.needs, buying.shop, setting, not_settled=buying.remarks, for_batch=False)
    return _buy_list(request, data, "buy-list", room)


def _buy_list(request: HttpRequest, data: Any, name: str, room: Workroom) -> HttpResponse:
    if request.GET.get("as") == "csv":
        answer = _file(buy_list_csv(data), f"{name}.csv", "text/csv; charset=utf-8")
        answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
        return answer
    return _file(buy_list(data, _size(request, room)), f"{name}.pdf")
