"""Everything the page of a batch shows, ready for its templates, in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any

from django.core.paginator import Page, Paginator

from planner.common.addresses import only_on_this_computer
from planner.core.needs import CannotPlanError
from planner.core.spec import ClothKey
from planner.core.too_wide import told_once
from planner.cutting.batch_answer import batch_answer
from planner.cutting.bought_together import bought_together
from planner.cutting.bundle_rows import bundle_rows
from planner.cutting.counted_on import counted_on_by, counted_on_in_words
from planner.cutting.demand import batch_demand
from planner.cutting.fact_beside_plan import fact_table
from planner.cutting.figures_since import longer_than_roll_in_words, too_long_in_words
from planner.cutting.flaws_ahead import flaws_ahead
from planner.cutting.lay_screens import MOST_DRAWN, lay_screens, page_of_lays
from planner.cutting.models import Batch, Lay
from planner.cutting.much_paper import much_paper
from planner.cutting.narrow_cloth import too_wide_in_words
from planner.cutting.need_rows import need_rows
from planner.cutting.notions_shown import surplus_in_words
from planner.cutting.old_pattern import old_parts_in_words, old_patterns_in_words
from planner.cutting.papers import count_rows
from planner.cutting.plan_progress import RUNNING, any_hurried, still_nested
from planner.cutting.plan_screens import Refused, plan_panels, plans_for_anew, stamp_of
from planner.cutting.printed import PapersNow, papers_now
from planner.cutting.reading import BundleThere, bundles_of
from planner.cutting.screens import kind_rows
from planner.cutting.stored import PlannedBatch, planned_batch
from planner.cutting.stripes import unmarked_in_words
from planner.cutting.swatches import swatches
from planner.cutting.tasks import SLICE_SECONDS
from planner.cutting.turns import forward_in_words, in_turn
from planner.cutting.why_it_stays import why_it_stays
from planner.materials.models import Workroom
from planner.materials.promised import StillPromised
from planner.orders.due import due_words
from planner.styles.specs import workshop

#: Bundles on one page of their batch.
BUNDLES = 120
#: The cutting counts of more kinds of garment are folded.
MOST_COUNTED = 12


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
    shown = page_of_lays(in_turn(read.lays, turns), pages.get("lays"))
    in_all = bought_together(read, room.display, promised)  # type: ignore[arg-type]
    return {
        "answer": batch_answer(read, room.display, in_all, turns),
        "papers_ready": read.is_nested,
        "papers": papers,
        "much_paper": much_paper(read.lays, list(shown), len(bundles)) if papers else None,
        "only_this_computer": only_on_this_computer(),
        **_made(read),
        **_needed(read, room, in_all),
        **_lays_shown(read, shown, turns, papers),
        **_cutting(read, shown),
        **_nesting(read),
        **_fits_no_more(read, room, promised),
        **bundles_shown(bundles, pages.get("bundles")),
    }


def _made(read: PlannedBatch) -> dict[str, Any]:
    """What the batch makes, and how often each piece is cut."""
    counts = count_table(read)
    return {
        "kinds": kind_rows(read.demand.demand, read.shop, read.demand.ordered),
        "garments": read.demand.garments,
        "extra": read.demand.extra,
        "unmarked": unmarked_in_words(read.demand.demand, read.shop),
        "counts": counts,
        "fold_counts": len(counts) > MOST_COUNTED,
        "cut_lengths": read.needs.cut_lengths,
    }


def _needed(read: PlannedBatch, room: Workroom, in_all: Mapping[ClothKey, str]) -> dict[str, Any]:
    """What the batch needs; `in_all` has words for cloths that others want before."""
    needs = need_rows(
        read.needs,
        read.shop,
        room.display,
        swatches(read.shop),
        not_settled=read.not_settled,
        in_all=in_all,
        read=read,
    )
    return {"needs": needs, "surplus": surplus_in_words(read.batch, room.display)}


def _lays_shown(
    read: PlannedBatch, shown: Page[Lay], turns: Mapping[int, int], papers: PapersNow | None
) -> dict[str, Any]:
    """One page of the lays, each with its ticket, its turn and why it stays where it cannot be planned anew."""
    tickets = papers.tickets if papers else {}
    anew = plans_for_anew(read)
    forward = forward_in_words(read.lays, turns)
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
    return {"lays": lays, "lays_page": shown, "any_forward": bool(forward)}


def _cutting(read: PlannedBatch, shown: Page[Lay]) -> dict[str, Any]:
    """What is cut, and what may still be done with what is not."""
    uncut = [lay for lay in read.lays if lay.cut_at is None]
    is_cutting = read.batch.state == Batch.State.CUTTING
    return {
        "any_cut": len(uncut) < len(read.lays),
        "all_cut": not uncut,
        "lay_days": len({lay.first_due for lay in uncut}) > 1,
        "may_keep": len(uncut) == len(read.lays) and read.batch.state == Batch.State.PLANNED,
        "may_give_rolls": is_cutting and any(not lay.some_cut and lay.marker.is_final for lay in uncut),
        "fact": fact_table(read.lays, {row.number for row in shown}),
    }


def _nesting(read: PlannedBatch) -> dict[str, Any]:
    """How far nesting has come, and how often the page asks for more."""
    running = [lay for lay in read.lays if lay.marker.state in RUNNING]
    is_long = bool(running) and all(lay.marker.seconds > SLICE_SECONDS for lay in running)
    return {
        "running": bool(running) or not read.is_settled,
        "every": "15s" if (is_long and read.is_settled) or len(read.lays) > MOST_DRAWN else "1s",
        "still_nested": still_nested(read),
        "hurried": any_hurried(read),
    }


def _fits_no_more(read: PlannedBatch, room: Workroom, promised: StillPromised) -> dict[str, Any]:
    """Which lays no longer fit what the workroom has: table, rolls, cloth or pattern."""
    demand = read.demand.demand
    return {
        "counted_on": [
            counted_on_in_words(one, read.batch.number, room.display)
            for one in counted_on_by(read.batch, read.lays, promised)
        ],
        "too_long": too_long_in_words(read.lays, read.shop, room.display),
        "longer_than_roll": longer_than_roll_in_words(read.lays, read.shop, room.display),
        "too_wide": too_wide_in_words(read.lays, read.shop.cloths, room.display),
        "old_pattern": old_patterns_in_words(read.batch, demand, read.lays),
        "old_parts": old_parts_in_words(read.batch, demand, read.lays),
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
