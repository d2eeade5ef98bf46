"""What becomes of a lay that is cut in part: its rest is planned anew, as lays of their own."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max, QuerySet

from planner.core.lays.cut_plans import Lengths
from planner.core.lays.model import PlannedLay
from planner.core.lays.nest import seconds_for
from planner.core.lays.plan import CannotPlan, numbered, plan_lays
from planner.core.lays.stored import marker_key
from planner.core.spec import ClothKey, Demand, Garment, Workshop
from planner.cutting.actions.laying import drop_lays
from planner.cutting.actions.planning import refresh_needs
from planner.cutting.actions.since_seen import SEE_NOW, told_so_far
from planner.cutting.actions.table import count_on_rolls, left_of, lock_lay, move_batch_on
from planner.cutting.actions.weighing import (
    Asked,
    Weighed,
    held_in_words,
    left_as_it_is,
    short_of_cloth,
    stays_for_want_of_cloth,
    to_buy_in_words,
    unusable,
    weigh,
)
from planner.cutting.arrivals import cloth_is_free
from planner.cutting.cut_plans import lengths_for
from planner.cutting.demand import BatchDemand, batch_demand
from planner.cutting.dividing import Places, divide_bundles, join_bundles
from planner.cutting.lots import give_lots
from planner.cutting.marker_store import make_marker
from planner.cutting.models import Batch, Lay, LayCloth, LayFact, Marker
from planner.cutting.stored import garment_of, shop_of, write_lays
from planner.cutting.tasks import queue_nesting, queue_rolls
from planner.materials.models import Workroom
from planner.materials.specs import cloth_key

#: Somebody waits at the table: so long is thought about the rest (s).
SECONDS = 2.0

#: Garments by garment and cloth.
Counts = Counter[tuple[Garment, ClothKey]]


@dataclass(frozen=True)
class RestPlanned:
    """What came of planning the rest of a lay. With a problem nothing was changed, nor where it `stays` as it is.

    `stays` says why; `why` what the new lays take against the lay's own marker, `to_buy` what cloth must be bought.
    """

    lays: tuple[Lay, ...] = ()
    garments: int = 0
    divided: int = 0
    problem: str = ""
    stays: str = ""
    why: str = ""
    to_buy: str = ""


def replan_rest(lay: Lay, person: User | None, now: datetime, *, if_better: bool = False) -> RestPlanned:
    """Ends a lay of which some plies are cut, and plans the garments of the others in new lays of the batch.

    These are numbered on from the last lay and nested by the worker. Bundles that are cut stay, the others go to the
    new lays with number and token kept; one that is cut in part is divided. The spreads once planned stay to be read.
    With `if_better` nothing is changed where the plies left are best cut from the lay's own marker.
    """
    lay = Lay.objects.select_related("batch").get(pk=lay.pk)
    so_far, cloths = told_so_far(lay), _cloths(lay)
    if problem := _problem(lay, cloths):
        return RestPlanned(problem=problem)
    demand = batch_demand(lay.batch)
    # The planning may think for a while, so nothing is locked meanwhile.
    try:
        planned, said = _think(lay, cloths, shop_of(lay.batch, demand), if_better=if_better)
    except CannotPlan as refusal:
        told = refusal.told_in(Workroom.the().display)
        return RestPlanned(problem=f"The rest cannot be planned: {told}. Nothing was changed.")
    if said.stays:
        return said
    done = _end_and_write(lay, planned, demand, so_far, person, now)
    return done if done.problem else replace(done, why=said.why, to_buy=said.to_buy)


def _think(
    lay: Lay, cloths: Sequence[LayCloth], shop: Workshop, *, if_better: bool
) -> tuple[tuple[PlannedLay, ...], RestPlanned]:
    """The lays of the rest, or else why it stays as it is; and what is to be said of them. Raises CannotPlan.

    Nothing is learnt from the batch itself. Cloth spoilt at this very lay would make every marker that is not nested
    yet look bad beside the lay's own, whose length is known anyhow.
    """
    rest, fabric = _counts(cloths, uncut=True), cloths[0].fabric_colour.fabric.name
    lengths = lengths_for([fabric], besides=lay.batch_id)
    kept = left_as_it_is(lay)
    if kept is None:
        return lays_for(rest, fabric, shop, lengths), RestPlanned()
    lengths = replace(lengths, nested={**lengths.nested, marker_key(kept.job): kept.estimated_length_mm})
    own = only_of(fabric, rest, shop)
    if if_better:
        weighed = weigh(lay, kept, asked_of(rest, fabric, own), own, lengths)
    else:
        weighed = unusable(lay, kept, own) or Weighed()
    if weighed.stays:
        return (), RestPlanned(stays=weighed.stays)
    planned = weighed.lays
    if weighed.most_mm is not None:
        planned = _from_pieces(lay, rest, fabric, shop, lengths, weighed.most_mm)
        if not planned and if_better:
            return (), RestPlanned(stays=stays_for_want_of_cloth(lay, kept, weighed, own))
    planned = planned or lays_for(rest, fabric, shop, lengths)
    why = held_in_words(planned, lay, kept, lengths.nested)
    why = f"{why}, but {weighed.because}" if weighed.because else why
    return planned, RestPlanned(why=why, to_buy=to_buy_in_words(short_of_cloth(lay, planned, own), own))


def _from_pieces(
    lay: Lay, rest: Counts, fabric: str, shop: Workshop, lengths: Lengths, most_mm: float
) -> tuple[PlannedLay, ...]:
    """Lays of a rest that fit on the pieces of cloth in stock, no longer than these; none where they do not fit."""
    with suppress(CannotPlan):
        least = min(most_mm, shop.table_length_mm)
        planned = lays_for(rest, fabric, replace(shop, table_length_mm=least), lengths)
        if not short_of_cloth(lay, planned, shop):
            return planned
    return ()


@transaction.atomic
def _end_and_write(
    lay: Lay,
    planned: Sequence[PlannedLay],
    demand: BatchDemand,
    so_far: str,
    person: User | None,
    now: datetime,
) -> RestPlanned:
    """Writes the rest as it was planned for what was told `so_far`; writes nothing where something was told since."""
    lay = lock_lay(lay)
    if lay.cut_at is not None or told_so_far(lay) != so_far:
        return RestPlanned(problem=f"Something of this lay was told or changed meanwhile. {SEE_NOW}")
    cloths = _cloths(lay)
    rest = _counts(cloths, uncut=True)
    _end_in_part(lay, cloths, person, now)
    lays, divided = divide_rest(lay, planned, demand)
    move_batch_on(lay.batch)
    refresh_needs(lay.batch)
    return RestPlanned(tuple(lays), _garments(rest), divided)


def divide_rest(lay: Lay, planned: Sequence[PlannedLay], demand: BatchDemand) -> tuple[list[Lay], int]:
    """Writes the lays of a rest and gives them their bundles. Returns how many bundles were divided.

    Call it with the batch locked and the lay ended.
    """
    lays, places = write_numbered_on(lay.batch, planned, demand, rest_of=lay)
    lots = set(_facts(lay).exclude(roll=None).values_list("roll__shade_lot", flat=True)) - {""}
    divided = divide_bundles(lay, _counts(_cloths(lay), uncut=False), places, lots)
    give_lots(lay)
    queue_rolls(lay.batch_id)
    return lays, divided


def left_to_plan(lay: Lay) -> tuple[Counts, str]:
    """What was not cut of a lay, and from which fabric."""
    cloths = _cloths(lay)
    return _counts(cloths, uncut=True), cloths[0].fabric_colour.fabric.name


def uncut_of(lay: Lay) -> Counts:
    """What was not cut of a lay."""
    return _counts(_cloths(lay), uncut=True)


def _cloths(lay: Lay) -> list[LayCloth]:
    """The plies of a lay with their garments."""
    return list(
        lay.cloths.select_related("fabric_colour__fabric").prefetch_related(
            "garments__style", "garments__colourway", "garments__size", "garments__options__detail"
        )
    )


def _end_in_part(lay: Lay, cloths: Sequence[LayCloth], person: User | None, now: datetime) -> None:
    """Ends a lay of which no more is cut; plies of which nothing was told count as not spread."""
    for cloth in cloths:
        if cloth.cut_spreads is None:
            cloth.cut_spreads = 0
            cloth.save(update_fields=["cut_spreads"])
    lay.cut_at, lay.cut_by = now, person
    lay.save(update_fields=["cut_at", "cut_by"])


def write_numbered_on(
    batch: Batch, planned: Sequence[PlannedLay], demand: BatchDemand, *, rest_of: Lay | None = None
) -> tuple[list[Lay], dict[tuple[Garment, ClothKey], Places]]:
    """New lays, numbered on from the last of the batch and queued; and where each garment is cut."""
    last = batch.lays.aggregate(last=Max("number"))["last"]
    pairs = [
        (part, make_marker(part.job, seconds_for(len(part.job.items))))
        for part in numbered(planned, first=last + 1)
    ]
    lays = write_lays(batch, pairs, demand.rows)
    if rest_of is not None:
        Lay.objects.filter(pk__in=[one.pk for one in lays]).update(rest_of=rest_of)
    places: dict[tuple[Garment, ClothKey], Places] = defaultdict(list)
    for row, (part, marker) in zip(lays, pairs, strict=True):
        for key in part.cloths:
            for garment, count in part.cut_from(key).items():
                places[garment, key].append((row, count))
        if marker.state == Marker.State.WAITING:
            queue_nesting(marker)
    return lays, places


@transaction.atomic
def take_rest_back(lay: Lay) -> str:
    """Drops the lays of a rest: their plies are to be cut in the lay itself after all. Returns why it cannot be done,
    "" if it was.

    Possible until something of the rest is cut. Bundles go back, and those that were divided are joined again. The lay
    counts on its own rolls again, and what its rest was to take from others goes to lays that are short, of this batch
    too.
    """
    lay = lock_lay(lay)
    rests = list(lay.rests.all())
    if not rests:
        return "The rest of this lay is not planned as lays of their own; nothing was changed."
    if lay.batch.state in {Batch.State.DONE, Batch.State.CANCELLED}:
        return f"{lay.batch.number} is {lay.batch.get_state_display()}; nothing was changed."
    begun = lay.rests.begun().order_by("number").first()
    if begun is not None:
        return f"Something of lay {begun.number} is cut already, so the rest stays as it is planned."
    join_bundles(lay, rests)
    drop_lays(rests)
    lay.cut_at = lay.cut_by = None
    lay.save(update_fields=["cut_at", "cut_by"])
    give_lots(lay)
    move_batch_on(lay.batch)
    refresh_needs(lay.batch)
    count_on_rolls(lay)
    cloth_is_free({cloth.fabric_colour_id for cloth in lay.cloths.all()})
    return ""


def lays_for(
    rest: Counts, fabric: str, shop: Workshop, lengths: Lengths | None = None
) -> tuple[PlannedLay, ...]:
    """Lays that cut just these numbers of each garment from each colour of a fabric, and nothing from other cloths.

    Raises CannotPlan as `plan_lays` does. All colours are planned together, so that they may be stacked, unless a
    garment is to be cut from two of them in different numbers.
    """
    shop = only_of(fabric, rest, shop)
    lays: list[PlannedLay] = []
    for one in asked_of(rest, fabric, shop):
        for lay in plan_lays(one.demand, shop, lengths=lengths, seconds=SECONDS):
            plies = tuple(row for row in lay.plies if row.cloth in one.cloths)
            if plies:
                lays.append(replace(lay, plies=plies))
    _assert_met(rest, lays)
    return tuple(lays)


def asked_of(rest: Counts, fabric: str, shop: Workshop) -> list[Asked]:
    """What is planned together of a rest; `shop` has no other pieces than its."""
    alike: dict[Garment, set[int]] = defaultdict(set)
    for garment, key in _cloths_of(rest, fabric, shop):
        alike[garment].add(rest[garment, key])
    if all(len(counts) == 1 for counts in alike.values()):
        groups = [list(rest)]
    else:
        groups = [[one for one in rest if one[1] == key] for key in dict.fromkeys(key for _, key in rest)]
    asked = []
    for group in groups:
        wanted = {garment: rest[garment, key] for garment, key in group}
        demand = tuple(Demand(garment, count) for garment, count in wanted.items())
        asked.append(Asked(demand, frozenset(key for _, key in group)))
    return asked


def _problem(lay: Lay, cloths: Sequence[LayCloth]) -> str:
    if lay.cut_at is not None:
        return "This lay is recorded as cut; nothing was changed."
    if not any(cloth.cut_spreads for cloth in cloths):
        return "Nothing of this lay is cut yet. Say first how many plies are."
    return ""


def _counts(cloths: Sequence[LayCloth], *, uncut: bool) -> Counts:
    """Garments of the plies that are cut, or of those that are not."""
    counts: Counts = Counter()
    for cloth in cloths:
        spreads = left_of(cloth) if uncut else cloth.cut_spreads or 0
        key = cloth_key(cloth.fabric_colour)
        for held in cloth.garments.all():
            if spreads:
                counts[garment_of(held), key] += held.per_marker * spreads
    return counts


def _facts(lay: Lay) -> QuerySet[LayFact]:
    return LayFact.objects.filter(lay_cloth__lay=lay, taken_back_at=None)


def _garments(counts: Counts) -> int:
    """Garments in all; one that is cut from two colours counts once."""
    most: dict[Garment, int] = defaultdict(int)
    for (garment, _), count in counts.items():
        most[garment] = max(most[garment], count)
    return sum(most.values())


def only_of(fabric: str, rest: Counts, shop: Workshop) -> Workshop:
    """The workshop with no other pieces than those the garments of the rest have from this fabric."""
    roles: dict[str, set[str]] = defaultdict(set)
    for garment, _ in rest:
        cloths = shop.styles[garment.style].colourways[garment.colourway].cloths
        roles[garment.style] |= {role for role, key in cloths.items() if key.fabric == fabric}
    styles = {
        number: replace(style, pieces=tuple(p for p in style.pieces if p.role in roles[number]))
        for number, style in shop.styles.items()
        if number in roles
    }
    return replace(shop, styles=styles)


def _cloths_of(rest: Counts, fabric: str, shop: Workshop) -> set[tuple[Garment, ClothKey]]:
    """Every garment of the rest with each colour of the fabric that it has pieces from."""
    found = set()
    for garment, _ in rest:
        style = shop.styles[garment.style]
        cloths = style.colourways[garment.colourway].cloths
        keys = {cloths[piece.role] for piece in style.pieces_for(garment.options)}
        found |= {(garment, key) for key in keys if key.fabric == fabric}
    return found


def _assert_met(rest: Counts, lays: Sequence[PlannedLay]) -> None:
    cut: Counts = Counter()
    for lay in lays:
        for key in lay.cloths:
            for garment, count in lay.cut_from(key).items():
                cut[garment, key] += count
    if cut != rest:
        raise AssertionError(f"the lays of the rest cut {dict(cut)}, wanted are {dict(rest)}")
