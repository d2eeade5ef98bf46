"""What is shown of a lay at the table: what is still to cut and from which roll, and what was told."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from django.db.models import Exists, OuterRef, Value

from planner.core.listed import counted, lays_listed, listed
from planner.core.units import Display, format_length, format_metres_told
from planner.cutting.actions.rest import RestPlanned
from planner.cutting.actions.since_seen import mark_of
from planner.cutting.actions.table import LayTold, left_of
from planner.cutting.fact_beside_plan import FactTable, fact_table
from planner.cutting.flaws_ahead import FlawsAhead, ahead_in_words, flaws_ahead
from planner.cutting.lot_units import units_of
from planner.cutting.lots import bundles_apart
from planner.cutting.models import Lay, LayFact, LayRoll, Marker
from planner.cutting.narrow_rolls import usable_mm
from planner.cutting.nesting_words import left_in_words
from planner.cutting.no_piece import flaws_in_the_way
from planner.cutting.portions import (
    Portion,
    portions_of,
    rolls_to_choose,
)
from planner.cutting.roll_now import RollNow
from planner.cutting.turns import next_to_cut
from planner.materials.models import Roll, RollFlaw, Workroom
from planner.materials.promised import flaws_of
from planner.materials.washed import left_of_a_metre
from planner.papers.layers import SPREADS, spreads_in_words


@dataclass(frozen=True)
class FlawToldAhead:
    """A roll whose flaws are in the way, in words. `keep` is how much good cloth goes with them, "" where that is too
    little to be kept as an end."""

    roll: int
    words: str
    keep: str = ""


@dataclass(frozen=True)
class LayTable:
    """All that the table's part of a lay's page shows.

    `so_far` marks how the lay is now, `state` says it in words. `next_lay` is the next lay to cut, 0 for none.
    """

    portions: tuple[Portion, ...]
    facts: tuple[LayFact, ...]
    fact: FactTable | None
    so_far: str
    state: str
    left_words: str
    is_begun: bool
    in_part: bool
    #: What spreads are called, one and several, with a comma between.
    spread_forms: str
    rests: tuple[Lay, ...] = ()
    next_lay: int = 0
    #: Bundles of several shade lots, with words that say which plies are of which.
    apart: tuple[tuple[str, str], ...] = ()
    #: What of its cloth is still to be bought, in words; "" for nothing.
    waits_for: str = ""
    #: The flaws that are the reason, in sentences.
    no_piece: tuple[str, ...] = ()
    #: Rolls kept for a part of its plies, in words.
    kept: tuple[str, ...] = ()
    #: How long its marker is now (mm), "" before it is nested: what is filled in at the table goes by it.
    marker_mm: str = ""
    #: Flaws of its rolls that are in the way of its plies, and in sentences.
    ahead: FlawsAhead = field(default_factory=FlawsAhead)
    flaws: tuple[FlawToldAhead, ...] = ()


def lay_table(lay: Lay, display: str) -> LayTable:
    """The table's part of a lay read by `with_rolls`. Three queries at most; where it waits for cloth three more, where
    rolls of several shade lots were told or came in later, twelve; where its rolls have flaws three."""
    cloths = list(lay.cloths.all())
    facts = tuple(
        LayFact.objects.filter(lay_cloth__lay=lay)
        .select_related("roll", "person", "lay_cloth__fabric_colour")
        .order_by("-told_at", "-pk")
    )
    portions: tuple[Portion, ...] = ()
    promised: list[LayRoll] = []
    rests: tuple[Lay, ...] = ()
    next_lay = 0
    ahead = flaws_ahead([lay])
    if lay.cut_at is None:
        promised = [row for cloth in cloths for row in cloth.rolls.all()]
        portions = portions_of(lay, cloths, facts, rolls_to_choose(lay, display), ahead.lost_m)
    else:
        rests = tuple(lay.rests.order_by("number"))
        next_lay = next_to_cut(lay.batch)
    taken = sum(fact.taken_back_at is not None for fact in facts)
    cut = sum(cloth.cut_spreads or 0 for cloth in cloths)
    left = sum(left_of(cloth) for cloth in cloths)
    return LayTable(
        portions=portions,
        facts=facts,
        fact=fact_table([lay]),
        so_far=mark_of(lay, len(facts), taken, promised),
        state=lay_state(lay),
        left_words=spreads_in_words(left, lay.way),
        is_begun=bool(cut) and lay.cut_at is None,
        in_part=is_in_part(lay),
        spread_forms=",".join(SPREADS[lay.way]),
        rests=rests,
        next_lay=next_lay,
        waits_for=missing_in_words(portions, display),
        no_piece=flaws_in_the_way(lay, portions, display),
        apart=bundles_apart(lay) if _has_several_lots(lay) else (),
        kept=() if cut or lay.cut_at is not None else kept_in_words(lay),
        marker_mm="" if lay.marker.length_mm is None else f"{lay.marker.length_mm:.2f}",
        ahead=ahead,
        flaws=_flaws_told(lay, ahead, display),
    )


def _flaws_told(lay: Lay, ahead: FlawsAhead, display: str) -> tuple[FlawToldAhead, ...]:
    found, left = [], float(left_of_a_metre(lay.cloths.all()[0].fabric_colour.fabric))
    for one in ahead.of_lay.get(lay.pk, ()):
        is_kept = one.keep_mm >= float(Workroom.the().keep_remnant_m) * 1000
        keep = format_length(one.keep_mm * left, display, "cloth") if is_kept else ""  # type: ignore[arg-type]
        found.append(FlawToldAhead(one.pk, ahead_in_words(one, lay, display), keep))  # type: ignore[arg-type]
    return tuple(found)


def missing_in_words(portions: Sequence[Portion], display: str) -> str:
    """ "1 ply of moss (2.42 m) and 3 plies of ink (7.24 m)", what of a lay is still to be bought; "" for nothing."""
    spreads: dict[str, int] = defaultdict(int)
    mm: dict[str, Decimal] = defaultdict(Decimal)
    for portion in portions:
        if portion.to_buy:
            spreads[portion.cloth.fabric_colour.name] += portion.spreads
            mm[portion.cloth.fabric_colour.name] += portion.planned_mm
    words = [
        f"{spreads_in_words(count, portions[0].way)} of {colour} "
        f"({format_length(mm[colour], display, 'cloth', at_least=True)})"  # type: ignore[arg-type]
        for colour, count in spreads.items()
    ]
    return listed(words)


def kept_in_words(lay: Lay) -> tuple[str, ...]:
    """ "R12 of lot B03 is kept for 1 of its 2 plies of ink", of a lay read with its rolls. No query."""
    found = []
    for unit in units_of(lay):
        rolls = dict.fromkeys(one.roll for one in unit.kept if one.roll is not None)
        if rolls:
            names = " and ".join(roll.number for roll in rolls)
            lot = next(iter(rolls)).shade_lot
            spreads = sum(one.spreads for one in unit.kept)
            of_all = spreads_in_words(unit.spreads, lay.way)
            are = "is" if len(rolls) == 1 else "are"
            found.append(
                f"{names} of lot {lot} {are} kept for {spreads} of its {of_all} of {unit.cloth.colour}"
            )
    return tuple(found)


def _has_several_lots(lay: Lay) -> bool:
    """Whether bundles may have a cloth of this lay from several shade lots, of this lay or another of the batch.

    As planned none has: only where rolls were told at the table, or came in later, may there be one. One query.
    """
    colours = {cloth.fabric_colour_id for cloth in lay.cloths.all()}
    in_batch = {"lay_cloth__lay__batch": lay.batch_id, "lay_cloth__fabric_colour__in": colours}
    planned = LayRoll.objects.filter(**in_batch).exclude(roll__shade_lot="").exclude(roll=None)
    told = LayFact.objects.filter(**in_batch, taken_back_at=None, spreads__gt=0).exclude(roll__shade_lot="")
    both = (
        planned.order_by()
        .values_list("lay_cloth__fabric_colour", "roll__shade_lot", "came_later")
        .union(
            told.exclude(roll=None)
            .order_by()
            .values_list("lay_cloth__fabric_colour", "roll__shade_lot", Value(True))
        )
    )
    lots: dict[int, set[str]] = defaultdict(set)
    is_new = False
    for colour, lot, came_later in both:
        lots[colour].add(lot)
        is_new |= came_later
    return is_new and any(len(of_colour) > 1 for of_colour in lots.values())


def told_in_words(told: LayTold, display: Display) -> str:
    """What telling came to: "Lay 2 is cut; 7.4 m have left the stock." """
    kept = (
        " It was being nested for longer; that is stopped, so it stays as it is cut." if told.stopped else ""
    )
    parts = []
    if told.booked_m:
        parts.append(f"{booked_in_words(told.booked_m, told.used_m, display)} have left the stock")
    if told.flaws:
        several = f"{told.flaws} flaws are noted on what is left of the cloth"
        parts.append("the flaw is noted on its roll" if told.flaws == 1 else several)
    if told.left == 0:
        return "; ".join([f"Lay {told.lay.number} is cut", *parts]) + f".{kept}"
    left = f"{spreads_in_words(told.left, told.lay.way)} of lay {told.lay.number} still to cut"
    return "; ".join([*parts, left]).capitalize() + f".{kept}"


def booked_in_words(booked_m: Decimal, used_m: Decimal, display: Display) -> str:
    """ "7.4 m"; of cloth that is washed first "7.4 m (as bought; 6.66 m on the table)"; of a roll that had a bit less
    by the books "7.4 m (all that the books had; 7.42 m on the table)"."""
    booked = format_metres_told(booked_m, display)
    if booked_m == used_m:
        return booked
    why = "as bought" if booked_m > used_m else "all that the books had"
    return f"{booked} ({why}; {format_metres_told(used_m, display)} on the table)"


def still_nested_in_words(lay: Lay, now: datetime) -> str:
    """What is said of a lay that can be cut as it is although it is nested for longer just now; "" else. No query."""
    marker = lay.marker
    if not marker.is_laid or marker.is_final or lay.cut_at is not None:
        return ""
    left_s = marker.seconds
    if marker.state == Marker.State.NESTING and marker.started_at is not None:
        left_s -= (now - marker.started_at).total_seconds()
    return (
        f"Being nested for longer, about {left_in_words(left_s)} to go: it may become shorter. Until then all here,"
        " and its papers, show it as it is now. As soon as plies are told as cut, it stays as it is."
    )


def rest_in_words(planned: RestPlanned) -> str:
    """What the rest of a lay became: "The rest, 4 garments, is lay 5 now. 1 bundle was divided: print its tickets." """
    lays = lays_listed([lay.number for lay in planned.lays])
    words = f"The rest, {counted(planned.garments, 'garment')}, is {lays} now."
    if planned.divided:
        bundles = counted(planned.divided, "bundle was", "bundles were")
        words += f" {bundles} divided: print the tickets again."
    if planned.why:
        words += f" It takes {planned.why}."
    if planned.to_buy:
        words += f" For it {planned.to_buy}."
    return words


def is_in_part(lay: Lay) -> bool:
    """Ended although not all of its plies are cut."""
    return lay.cut_at is not None and any(
        cloth.cut_spreads is not None and cloth.cut_spreads < cloth.spreads for cloth in lay.cloths.all()
    )


def lay_state(lay: Lay) -> str:
    """ "cut", "cut in part: 3 of 5 plies", "2 of 5 plies cut"; what its marker is as long as nothing is cut."""
    cloths = list(lay.cloths.all())
    planned = sum(cloth.spreads for cloth in cloths)
    cut = sum(cloth.cut_spreads or 0 for cloth in cloths)
    words = f"{cut} of {spreads_in_words(planned, lay.way)}"
    if is_in_part(lay):
        return f"cut in part: {words}"
    if lay.cut_at is not None:
        return "cut"
    return f"{words} cut" if cut else str(lay.marker.get_state_display())


def rolls_now(table: LayTable) -> dict[int, RollNow]:
    """What is on the rolls that may be chosen for what is still to cut by the books, by pk. One query, another one
    where there are flaws.
    """
    offered = {int(key) for portion in table.portions for key, _ in portion.rolls if key}
    flawed = Exists(RollFlaw.objects.filter(roll=OuterRef("pk"), to_m__gt=0))
    rows = Roll.objects.with_left().filter(pk__in=offered).annotate(has_flaws=flawed)
    rolls = list(rows.select_related("fabric_colour__fabric"))
    flaws = flaws_of({roll.pk: roll.left_m for roll in rolls if roll.has_flaws})
    return {
        roll.pk: RollNow.by_books(
            roll.fabric_colour.fabric, roll.left_m, flaws.get(roll.pk, ()), usable_mm(roll)
        )
        for roll in rolls
    }
