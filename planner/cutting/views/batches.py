"""Batches: the list, gathering orders, planning."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from planner.common.access import for_helpers, for_makers
from planner.common.addresses import only_on_this_computer
from planner.core.listed import counted
from planner.core.needs import CannotPlanError
from planner.core.too_wide import told_once
from planner.cutting.actions import gathering, notions_out, planning
from planner.cutting.batch_answer import batch_answer
from planner.cutting.bought_together import bought_together
from planner.cutting.bundle_rows import bundle_rows
from planner.cutting.counted_on import counted_on_by, counted_on_in_words
from planner.cutting.demand import batch_demand
from planner.cutting.fact_beside_plan import fact_table
from planner.cutting.figures_since import longer_than_roll_in_words, too_long_in_words
from planner.cutting.filling import left_to_batch
from planner.cutting.flaws_ahead import flaws_ahead
from planner.cutting.lay_screens import MOST_DRAWN, lay_screens, page_of_lays
from planner.cutting.models import Batch
from planner.cutting.much_paper import much_paper
from planner.cutting.narrow_cloth import too_wide_in_words
from planner.cutting.need_rows import need_rows
from planner.cutting.notions_shown import owing_in_words, surplus_in_words
from planner.cutting.old_pattern import old_parts_in_words, old_patterns_in_words
from planner.cutting.papers import count_rows
from planner.cutting.plan_progress import RUNNING, any_hurried, still_nested
from planner.cutting.plan_screens import Refused, plan_panels, plans_for_anew, stamp_of
from planner.cutting.printed import papers_now
from planner.cutting.reading import BundleThere, batch_with_plans, bundles_of
from planner.cutting.screens import batch_row, kind_rows
from planner.cutting.stored import PlannedBatch, planned_batch
from planner.cutting.stripes import unmarked_in_words
from planner.cutting.swatches import swatches
from planner.cutting.tasks import SLICE_SECONDS
from planner.cutting.turns import forward_in_words, in_turn
from planner.cutting.why_it_stays import why_it_stays
from planner.materials.models import Workroom
from planner.orders.due import due_words
from planner.styles.specs import workshop

PAGE = 50
#: Bundles on one page of their batch.
BUNDLES = 120
#: The cutting counts of more kinds of garment are folded.
MOST_COUNTED = 12
#: So often a page asks on once nothing of its batch is being nested any more, every five seconds.
ASKED_AFTER = 6


@for_helpers
def batch_list(request: HttpRequest) -> HttpResponse:
    """Batches on the go, or those that are over."""
    today = timezone.localdate()
    over = request.GET.get("show") == "over"
    batches = Batch.objects.filter(state__in=["done", "cancelled"]) if over else Batch.objects.on_the_go()
    page = Paginator(batches.values_list("pk", flat=True), PAGE).get_page(request.GET.get("page"))
    left = left_to_batch()
    # Counted for the batches of this page, not for all those before it.
    rows = [batch_row(batch, today) for batch in Batch.objects.filter(pk__in=list(page)).with_counts()]
    return render(
        request, "cutting/batch_list.html", {"page": page, "rows": rows, "over": over, "still_to_batch": left}
    )


@for_makers
@require_http_methods(["GET", "HEAD", "POST"])
def batch_new(request: HttpRequest) -> HttpResponse:
    """Begins a batch and goes on to putting orders into it. Whoever only comes to its address is led to where one is
    begun.
    """
    if request.method != "POST":
        return redirect("batch-list")
    batch = gathering.create_batch(request.user, timezone.localdate())
    return redirect("batch-fill", batch.number)


@for_helpers
def batch_detail(request: HttpRequest, number: str) -> HttpResponse:
    """A batch: what it makes, needs, how it is laid, its bundles and papers."""
    batch = batch_with_plans(number)
    context = batch_context(
        batch, timezone.localdate(), is_maker=request.user.is_staff, now=timezone.now(), pages=request.GET
    )
    return render(request, "cutting/batch_detail.html", context)


@for_helpers
def batch_running(request: HttpRequest, number: str) -> HttpResponse:
    """The regions that change while lays are nested; asked for again and again until all are done.

    `seen` says what of the cut plans is shown already: they are only answered again where that has changed, so that
    nothing is swapped away that is just being chosen.
    """
    batch = batch_with_plans(number)
    context = batch_context(
        batch, timezone.localdate(), is_maker=request.user.is_staff, now=timezone.now(), pages=request.GET
    )
    context |= {"swap": True, "swap_plans": context.get("plan_stamp") != request.GET.get("seen")}
    # While the plan is on its way, choices that stand open stay so.
    context["keep_choices"] = True
    if not context.get("running"):
        # Sums and rolls are reckoned anew once the last lay is nested: that is waited for a little, and for what the
        # plan is held against.
        asked = request.GET.get("after", "0")
        asked_before = int(asked) if asked in {str(n) for n in range(ASKED_AFTER + 1)} else ASKED_AFTER
        if any(plan.follows for plan in context.get("plans", ())):
            asked_before = 0
        context |= {"after": asked_before + 1} if asked_before < ASKED_AFTER else {}
    return render(request, "cutting/_running.html", context)


def batch_context(
    batch: Batch,
    today: date,
    *,
    is_maker: bool,
    refused: Refused | None = None,
    open_pk: int | None = None,
    now: datetime | None = None,
    pages: Mapping[str, str] | None = None,
) -> dict[str, Any]:
    """Everything the page of a batch shows. `refused` is a choice that could not be taken, `open_pk` the plan whose
    choices stand open, `pages` which of many lays and bundles are asked for."""
    room = Workroom.the()
    due = due_words(batch.due_on, today) if batch.due_on else None
    context: dict[str, Any] = {"batch": batch, "due": due, "room": room}
    if batch.state in {Batch.State.GATHERING, Batch.State.CANCELLED}:
        demand = batch_demand(batch)
        shop = workshop(demand.style_numbers)
        return {
            **context,
            "kinds": kind_rows(demand.demand, shop),
            "garments": demand.garments,
            "unmarked": unmarked_in_words(demand.demand, shop),
        }
    try:
        read = planned_batch(batch)
    except CannotPlanError as fault:
        garments = sum(item.quantity + item.extra for item in batch.items.all())
        return {
            **context,
            "garments": garments,
            "gone": told_once(fault.missing, room.display),
        }
    panels = plan_panels(
        read, room.display, room.currency, is_maker=is_maker, refused=refused, open_pk=open_pk, now=now
    )
    plans = {"plans": panels, "plan_stamp": stamp_of(panels)}
    return {**context, **planned_context(read, room, today, pages or {}), **plans}


def planned_context(
    read: PlannedBatch, room: Workroom, today: date, pages: Mapping[str, str]
) -> dict[str, Any]:
    """What a planned batch shows; many lays and bundles come in `pages`, by the numbers asked for."""
    bundles = bundles_of(read.batch, read.lays)
    promised = read.claims.promised
    ahead = flaws_ahead(read.lays, promised)
    turns = ahead.turns_of(read.batch)
    papers = papers_now(read.batch, read.lays, bundles, today, ahead) if read.is_nested else None
    tickets = papers.tickets if papers else {}
    anew = plans_for_anew(read)
    forward = forward_in_words(read.lays, turns)
    shown = page_of_lays(in_turn(read.lays, turns), pages.get("lays"))
    lays = [
        replace(
            lay,
            paper=tickets.get(lay.row.number),
            forward=forward.get(lay.row.number, ""),
            plan_anew=anew.get(lay.row.pk, 0),
            stays="" if lay.is_cut else why_it_stays(lay.row, read.lays),
        )
        for lay in lay_screens(shown)
    ]
    uncut = [lay for lay in read.lays if lay.cut_at is None]
    running = [lay for lay in read.lays if lay.marker.state in RUNNING]
    is_cutting = read.batch.state == Batch.State.CUTTING
    counts = count_table(read)
    in_all = bought_together(read, room.display, promised)  # type: ignore[arg-type]
    is_long = bool(running) and all(lay.marker.seconds > SLICE_SECONDS for lay in running)
    return {
        "kinds": kind_rows(read.demand.demand, read.shop, read.demand.ordered),
        "garments": read.demand.garments,
        "unmarked": unmarked_in_words(read.demand.demand, read.shop),
        "answer": batch_answer(read, room.display, in_all, turns),
        "needs": need_rows(
            read.needs,
            read.shop,
            room.display,
            swatches(read.shop),
            not_settled=read.not_settled,
            in_all=in_all,
            read=read,
        ),
        "surplus": surplus_in_words(read.batch, room.display),
        "lays": lays,
        "lays_page": shown,
        "counted_on": [
            counted_on_in_words(one, read.batch.number, room.display)
            for one in counted_on_by(read.batch, read.lays, promised)
        ],
        "too_long": too_long_in_words(read.lays, read.shop, room.display),
        "longer_than_roll": longer_than_roll_in_words(read.lays, read.shop, room.display),
        "old_pattern": old_patterns_in_words(read.batch, read.demand.demand, read.lays),
        "old_parts": old_parts_in_words(read.batch, read.demand.demand, read.lays),
        "too_wide": too_wide_in_words(read.lays, read.shop.cloths, room.display),
        "lay_days": len({lay.first_due for lay in uncut}) > 1,
        "any_forward": bool(forward),
        "running": bool(running) or not read.is_settled,
        "every": "15s" if (is_long and read.is_settled) or len(read.lays) > MOST_DRAWN else "1s",
        "extra": read.demand.extra,
        "may_keep": len(uncut) == len(read.lays) and read.batch.state == Batch.State.PLANNED,
        "may_give_rolls": is_cutting and any(not lay.some_cut and lay.marker.is_final for lay in uncut),
        "papers_ready": read.is_nested,
        "still_nested": still_nested(read),
        "hurried": any_hurried(read),
        "papers": papers,
        "only_this_computer": only_on_this_computer(),
        "much_paper": much_paper(read.lays, list(shown), len(bundles)) if papers else None,
        "any_cut": len(uncut) < len(read.lays),
        "all_cut": not uncut,
        "fact": fact_table(read.lays, {row.number for row in shown}),
        "counts": counts,
        "fold_counts": len(counts) > MOST_COUNTED,
        "cut_lengths": read.needs.cut_lengths,
        **bundles_shown(bundles, pages.get("bundles")),
    }


def bundles_shown(bundles: Sequence[BundleThere], asked: str | None) -> dict[str, Any]:
    """The page of bundles that is asked for."""
    page = Paginator(bundles, BUNDLES).get_page(asked)
    return {"bundles": bundle_rows(page, bundles), "bundles_page": page}


def count_table(read: PlannedBatch) -> list[dict[str, Any]]:
    """Cutting counts as a table for each garment kind: pieces down, sizes across."""
    tables: dict[tuple[str, str, str], dict[str, Any]] = {}
    for row in count_rows(read.needs, read.shop):
        key = (row.style, row.options, row.colourway)
        kind = tables.setdefault(
            key, {"style": row.style, "options": row.options, "colourway": row.colourway, "rows": []}
        )
        kind["sizes"] = row.sizes
        kind["rows"].append(row)
    return list(tables.values())


def _dropped(batch: Batch, taken_back: str) -> str:
    """What is said of a batch whose plan is no more, which somebody asked something of; "" where it has one."""
    batch.refresh_from_db(fields=["state"])
    why = {Batch.State.GATHERING: taken_back, Batch.State.CANCELLED: "This batch is cancelled"}
    return f"{why[state]}; nothing was changed." if (state := Batch.State(batch.state)) in why else ""


def _notions_back(done: planning.PlanDropped) -> str:
    """What is to be done with notions that had been taken out for a plan that is no more, as a further sentence."""
    if not done.notions:
        return ""
    kinds = counted(done.notions, "kind of notion", "kinds of notions")
    return f" Put its notions back on the shelf: {kinds} taken out for it count as in stock again."


@for_makers
@require_POST
def batch_plan(request: HttpRequest, number: str) -> HttpResponse:
    """Plans a gathered batch."""
    return plan_and_tell(request, get_object_or_404(Batch, number=number))


def plan_and_tell(request: HttpRequest, batch: Batch, *, saved: str = "") -> HttpResponse:
    """Plans and shows the batch; what is missing is listed there, with what was `saved` just before and stays, in
    words, and nothing else is changed."""
    planned = planning.plan_batch(batch, timezone.now())
    if planned.problems:
        batch.refresh_from_db()
        context = batch_context(batch, timezone.localdate(), is_maker=True)
        context |= {"problems": planned.problems, "saved": saved}
        return render(request, "cutting/batch_detail.html", context, status=422)
    return redirect("batch-detail", batch.number)


@for_makers
@require_POST
def batch_take_back(request: HttpRequest, number: str) -> HttpResponse:
    """Takes the plan back, so that orders can be changed."""
    batch = get_object_or_404(Batch, number=number)
    if done := planning.take_plan_back(batch, request.user, timezone.now()):
        said = f"The plan of {batch.number} is taken back. Its tickets are no longer valid."
        messages.success(request, said + _notions_back(done))
    else:
        dropped = _dropped(batch, "The plan had been taken back before")
        messages.error(request, dropped or "The plan cannot be taken back: part of it is cut already.")
    return redirect("batch-detail", batch.number)


@for_makers
@require_POST
def batch_cancel(request: HttpRequest, number: str) -> HttpResponse:
    """Cancels a batch; its garments go back to their orders."""
    batch = get_object_or_404(Batch, number=number)
    if done := gathering.cancel_batch(batch, request.user, timezone.now()):
        said = f"{batch.number} is cancelled. Its garments can be batched again."
        messages.success(request, said + _notions_back(done))
    else:
        messages.error(request, "This batch cannot be cancelled: part of it is cut already.")
    return redirect("batch-detail", batch.number)


@for_helpers
@require_POST
def batch_notions(request: HttpRequest, number: str) -> HttpResponse:
    """Takes the notions of a batch out of the stock; with "back" it puts those back that it needs no more."""
    batch = get_object_or_404(Batch, number=number)
    if "back" in request.POST:
        return _surplus_back(request, batch)
    taken = notions_out.take_notions_out(batch, request.user, timezone.now())
    if taken:
        kinds = counted(taken, "kind of notion is", "kinds of notions are")
        messages.success(request, f"{kinds} taken out of the stock for {batch.number}.")
        for owing in owing_in_words(batch, Workroom.the().display):
            messages.warning(request, owing)
    elif dropped := _dropped(batch, "The plan was taken back meanwhile, so no notions are known for it"):
        messages.error(request, dropped)
    elif batch.needs.filter(notion_colour__isnull=False).exists():
        messages.info(request, "They had been taken out before; nothing was changed.")
    else:
        messages.info(request, "This batch needs no notions.")
    return redirect("batch-detail", batch.number)


def _surplus_back(request: HttpRequest, batch: Batch) -> HttpResponse:
    why = f"{batch.number} needs less of it by now"
    if back := notions_out.put_surplus_back(batch, request.user, timezone.now(), why=why):
        kinds = counted(back, "kind of notion", "kinds of notions")
        messages.success(request, f"What {batch.number} needs no more of {kinds} is in the stock again.")
    else:
        messages.info(
            request, f"{batch.number} has no more of its notions than it needs; nothing was changed."
        )
    return redirect("batch-detail", batch.number)
