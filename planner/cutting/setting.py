"""What stands on every paper: the workroom, the batch, the days; and who supplies what."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime

from django.conf import settings
from django.db.models import Prefetch
from django.urls import reverse

from planner.core.lays.wishes import PlanFacts
from planner.core.units import Display
from planner.cutting.bundle_orders import order_in_words, wanted_by
from planner.cutting.cut_plans import facts_of
from planner.cutting.cut_so_far import cut_so_far
from planner.cutting.demand import BatchDemand, batch_demand
from planner.cutting.flaws_ahead import ahead_in_words, flaws_ahead
from planner.cutting.models import Batch, Lay, LayCloth
from planner.cutting.papers import PaperSetting
from planner.cutting.plan_now import are_others, now_in_words
from planner.cutting.printed import fingerprints, mark_now, not_noted
from planner.cutting.reading import BundleThere
from planner.cutting.spread_rows import rolls_of, told_of
from planner.cutting.why import as_it_is_cut, is_to_follow, plans_in_words
from planner.materials.models import Fabric, Notion, Workroom
from planner.papers.data import Heading


def day_in_words(day: date | None) -> str:
    """ "Fri 4 Dec 2026", the same everywhere on paper; "no day set" for none."""
    return f"{day:%a} {day.day} {day:%b %Y}" if day else "no day set"


def heading_for(room: Workroom, batch: str, printed: date | datetime, due_on: date | None) -> Heading:
    """The heading of a paper printed on this day, or at this (local) moment."""
    hour = f", {printed:%H:%M}" if isinstance(printed, datetime) else ""
    return Heading(room.name, batch, day_in_words(printed) + hour, day_in_words(due_on))


def with_marks(
    setting: PaperSetting, batch: Batch, lays: Sequence[Lay], bundles: Sequence[BundleThere]
) -> PaperSetting:
    """With the marks its papers bear now, which of them were not noted as printed, and the flaws before the plies of
    its lays, which are read with their rolls. No query where these have no flaws.
    """
    ahead = flaws_ahead(lays)
    now = fingerprints(lays, bundles, ahead)
    marks = {key: mark_now(batch.printed, key, now) for key in now}
    display: Display = "imperial" if setting.display == "imperial" else "metric"
    told = {
        lay.number: tuple(ahead_in_words(one, lay, display) for one in ahead.of_lay[lay.pk])
        for lay in lays
        if lay.pk in ahead.of_lay
    }
    return replace(
        setting,
        marks=marks,
        not_noted=not_noted(batch.printed, now),
        flaws=told,
        at_flaws=ahead.turns_of(batch),
    )


def plain_setting(room: Workroom, heading: Heading) -> PaperSetting:
    """For papers without bundles in the database. Two queries."""
    return PaperSetting(heading, room.display, room.currency, suppliers=suppliers())


def batch_setting(
    room: Workroom, batch: Batch, printed: date | datetime, demand: BatchDemand | None = None
) -> PaperSetting:
    """For the papers of a batch: addresses of its bundles for the QR, orders and days, rolls, how its plan was judged.

    `printed` is the day or the (local) moment. Six queries, fifteen where something is cut; without the batch's
    `demand` one more where a bundle holds garments of several orders (and what nobody ordered is not told). Everybody
    who cuts reads the papers, so money is not told.
    """
    urls, orders = {}, {}
    for bundle in batch.bundles.select_related("line__order__customer"):
        urls[bundle.number] = settings.BASE_URL + reverse("bundle-scan", args=[bundle.token])
        if bundle.line:
            order = bundle.line.order
            orders[bundle.number] = (order_in_words(order), day_in_words(order.due_on))
        else:
            orders[bundle.number] = ("", day_in_words(batch.due_on))
    is_shared = any(not order for order, _ in orders.values())
    return PaperSetting(
        heading_for(room, batch.number, printed, batch.due_on),
        room.display,
        room.currency,
        urls,
        orders,
        wanted_by(demand or batch_demand(batch)) if is_shared or demand else {},
        suppliers(),
        rolls_of(batch),
        cut_so_far(batch),
        judged(batch, room.display),
        told_of(batch),
        dict(batch.lays.with_turn().filter(first_due__isnull=False).values_list("number", "first_due")),
    )


#: Said of a fabric of which nothing is cut yet.
ANEW = "its lays were planned anew since cutting began"


def judged(batch: Batch, display: str) -> tuple[str, ...]:
    """How good the plan of each fabric is; of one whose lays are no longer those of the plan, because something
    was planned anew since, what is cut and what is left instead. One query, three once cutting has begun.
    """
    facts = facts_by_fabric(batch)
    if batch.state == Batch.State.PLANNED:
        # As on the page: while single sizes are to be nested still, what a plan saves is not told.
        return plans_in_words(facts, display, follows=any(map(is_to_follow, facts.values())))
    cloths = LayCloth.objects.select_related("fabric_colour__fabric")
    lays: dict[str, list[Lay]] = defaultdict(list)
    for lay in batch.lays.without_drawing().prefetch_related(Prefetch("cloths", queryset=cloths)):
        lays[lay.cloths.all()[0].fabric_colour.fabric.name].append(lay)
    # Where one of them says nothing, nobody knows how many lays there were.
    known = list(facts.values()) if set(facts) == set(lays) else [None]
    split = {fabric: own for fabric, own in lays.items() if are_others(own, known)}
    left = {fabric: now_in_words(own, display).removeprefix("Now: ") for fabric, own in split.items()}
    whole = {fabric: as_it_is_cut(of_plan) for fabric, of_plan in facts.items() if fabric not in split}
    return (
        *(f"{fabric}: {words or ANEW}." for fabric, words in left.items()),
        *plans_in_words(whole, display),
    )


def facts_by_fabric(batch: Batch) -> dict[str, PlanFacts]:
    """What the cut plan of each fabric says of itself, by the fabric's name; those that say nothing are left out."""
    found = {plan.fabric.name: facts_of(plan) for plan in batch.cut_plans.select_related("fabric")}
    return {fabric: facts for fabric, facts in found.items() if facts is not None}


def suppliers() -> dict[str, str]:
    """Supplier by the name of what they supply."""
    names: dict[str, str] = {}
    for model in (Fabric, Notion):
        names |= dict(model.objects.filter(supplier__isnull=False).values_list("name", "supplier__name"))
    return names
