"""The rest of a lay that is cut in part: its own marker for the plies left, compared with planning them anew."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from planner.core.lays.cut_plans import FabricPlan, Lengths
from planner.core.lays.items import width_taken_mm
from planner.core.lays.model import LENGTHS, PlannedLay, Plies
from planner.core.lays.plan import CannotPlan
from planner.core.lays.stored import marker_key
from planner.core.lays.wishes import Wishes
from planner.core.listed import listed
from planner.core.rolls import (
    PliesShort,
    PliesWanted,
    RollQuestion,
    RollThere,
    assign_plies,
    longest_plies,
    what_to_buy,
)
from planner.core.spec import ClothKey, Demand, Workshop
from planner.core.units import format_length, format_money
from planner.cutting.actions.table import left_of
from planner.cutting.cut_plans import decide, is_same
from planner.cutting.judged_plans import BETTER_MONEY, BETTER_SHARE
from planner.cutting.models import Lay
from planner.cutting.other_cloth import why_unlike_cloth
from planner.cutting.rolls_there import rolls_there
from planner.cutting.stored import garment_of, stored_lay
from planner.cutting.wording import length_to_buy
from planner.materials.models import Workroom
from planner.materials.specs import cloth_key
from planner.papers.layers import spreads_in_words

#: So much longer are markers thought that nobody has nested, where only nested ones are to be chosen from.
NESTED_ONLY = 10.0
#: Somebody waits at the table (s).
SECONDS = 1.0
#: No difference (mm): lengths are told to the centimetre.
NOTHING_MM = 5.0


@dataclass(frozen=True)
class Asked:
    """Garments to be planned together, and the cloths they are to be cut from here."""

    demand: tuple[Demand, ...]
    cloths: frozenset[ClothKey]


@dataclass(frozen=True)
class Weighed:
    """`stays` says why its own marker is kept. It is "" where the rest is planned anew: as `lays` where they are known
    already, and from plies no longer than `most_mm` where that is told. `because` says why the marker cannot be used.
    """

    stays: str = ""
    lays: tuple[PlannedLay, ...] = ()
    because: str = ""
    most_mm: float | None = None


@dataclass(frozen=True)
class _Plan:
    """Lays that cut the rest, what cloth and work cost, and what that `weighs`, where cloth without a price counts too.
    `is_nested` where all lengths are.
    """

    lays: tuple[PlannedLay, ...]
    cost: Decimal
    weighs: Decimal
    is_nested: bool

    @property
    def cloth_mm(self) -> float:
        return sum(map(_lay_mm, self.lays))


def left_as_it_is(lay: Lay) -> PlannedLay | None:
    """The plies of a lay that are not cut, on the marker it has; None as long as that is not nested."""
    row = Lay.objects.with_everything().get(pk=lay.pk)
    if not row.marker.is_laid or row.marker.length_mm is None:
        return None
    plies = []
    for cloth in row.cloths.all():
        if left := left_of(cloth):
            slots = tuple(garment_of(held) for held in cloth.garments.all() for _ in range(held.per_marker))
            plies.append(Plies(cloth_key(cloth.fabric_colour), left, slots))
    return replace(stored_lay(row).planned, plies=tuple(plies), estimated_length_mm=row.marker.length_mm)


def weigh(lay: Lay, kept: PlannedLay, asked: Sequence[Asked], shop: Workshop, lengths: Lengths) -> Weighed:
    """Whether the plies left of a lay, `kept`, are best cut from its own marker, which is nested and has its ticket
    printed.

    They are planned anew only where that costs less in cloth and work together, by lengths that were nested, or where
    the marker cannot be used. `shop` is that of the batch with only the rest's pieces; `lengths` must know that of the
    lay. Reads only.
    """
    cannot = unusable(lay, kept, shop)
    if cannot is not None:
        return cannot
    try:
        as_it_is = _as_it_is(kept, asked, shop, lengths)
    except CannotPlan:
        return Weighed(because="that cannot be laid any more as things are now")
    anew = _anew(kept.fabric, asked, shop, replace(lengths, doubt=NESTED_ONLY))
    least = max(BETTER_MONEY, as_it_is.weighs * Decimal(str(BETTER_SHARE)))
    if anew is not None and anew.is_nested and anew.weighs < as_it_is.weighs - least:
        return Weighed(lays=anew.lays)
    if anew is None or not anew.is_nested or is_same(anew.lays, as_it_is.lays):
        anew = _anew(kept.fabric, asked, shop, lengths)
    stays = _stays_in_words(lay, kept, as_it_is, anew)
    buy = to_buy_in_words(short_of_cloth(lay, as_it_is.lays, shop), shop)
    return Weighed(stays=f"{stays} For it {buy}." if buy else stays)


def stays_for_want_of_cloth(lay: Lay, kept: PlannedLay, cannot: Weighed, shop: Workshop) -> str:
    """What is said where neither the marker of a lay nor shorter ones can be cut from the pieces there are."""
    buy = to_buy_in_words(short_of_cloth(lay, (kept,), shop), shop)
    return (
        f"Lay {lay.number} stays as it is, so nothing was changed: the {spreads_in_words(kept.spreads, lay.way)} left"
        f" cannot be cut, for {cannot.because}. Shorter lays for what is left do not fit on the pieces there are"
        f" either: {buy}."
    )


def unusable(lay: Lay, kept: PlannedLay, shop: Workshop) -> Weighed | None:
    """Why the marker of a lay cannot be used for the plies left: its cloth is another one now, or the table or every
    piece of a cloth in stock is too short. None where it can.
    """
    if other := why_unlike_cloth(kept, shop):
        return Weighed(because=other)
    if kept.estimated_length_mm + 2 * kept.end_allowance_mm > shop.table_length_mm + 1e-6:
        return Weighed(because="that is longer than the table")
    if (found := _too_short(lay, kept, shop)) is None:
        return None
    longest_mm, ply_mm = found
    return Weighed(
        because=f"that takes {_to_spread(spread_mm(kept))} in one piece, and no cloth for it in stock is longer than"
        f" {_metres(longest_mm)} without a flaw",
        most_mm=ply_mm,
    )


def held_in_words(lays: Sequence[PlannedLay], lay: Lay, kept: PlannedLay, nested: Collection[str]) -> str:
    """What the rest takes planned anew: "about 3.97 m, 0.56 m more than with the marker of lay 1"."""
    about = "" if all(marker_key(one.job) in nested for one in lays) else "about "
    new_mm = sum(map(_lay_mm, lays))
    return f"{about}{_to_spread(new_mm)}, {_than(new_mm - _lay_mm(kept))} with the marker of lay {lay.number}"


def spread_mm(lay: PlannedLay) -> float:
    """Cloth that one spread takes, ends included (mm)."""
    return LENGTHS[lay.mode] * (lay.estimated_length_mm + 2 * lay.end_allowance_mm)


def _wide_mm(lay: PlannedLay) -> float:
    """How wide the cloth for a lay must be (mm)."""
    return width_taken_mm(lay.lay_width_mm, lay.mode)


def _lay_mm(lay: PlannedLay) -> float:
    return lay.spreads * spread_mm(lay)


def short_of_cloth(
    lay: Lay, lays: Sequence[PlannedLay], shop: Workshop
) -> dict[ClothKey, tuple[PliesShort, ...]]:
    """Spreads of these lays, which cut the rest of a lay, that fit no piece of cloth in stock."""
    return fits_nowhere(lays, _there(lay, {key for one in lays for key in one.cloths}, shop))


def fits_nowhere(
    lays: Sequence[PlannedLay], there: Mapping[ClothKey, tuple[RollThere, ...]]
) -> dict[ClothKey, tuple[PliesShort, ...]]:
    """Spreads of these lays that fit no piece `there`, by cloth, each spread as one length. All of one colour in a lay
    are of one shade lot, as when lays planned anew are given rolls.
    """
    found = {}
    for key in dict.fromkeys(key for one in lays for key in one.cloths):
        wanted = tuple(
            PliesWanted(f"{n}", spread_mm(one), one.spreads_of(key), _wide_mm(one), one_lot=True)
            for n, one in enumerate(lays)
            if key in one.cloths
        )
        short = assign_plies(
            RollQuestion(wanted, there.get(key, ()), keep_from_mm=0.0), seconds=SECONDS
        ).short
        if short:
            found[key] = short
    return found


def to_buy_in_words(short: Mapping[ClothKey, tuple[PliesShort, ...]], shop: Workshop) -> str:
    """ "3.52 m plain jersey rust must be bought, see What to buy"; "" where nothing is short."""
    parts = []
    for key, plies in short.items():
        try:
            metres = what_to_buy(plies, shop.cloths[key], seconds=SECONDS).buy.length_m
        except ValueError:
            parts.append(f"{key.fabric} {key.colour} in a longer piece than a roll")
        else:
            parts.append(f"{length_to_buy(metres, Workroom.the().display)} {key.fabric} {key.colour}")
    return f"{listed(parts)} must be bought, see What to buy" if parts else ""


def _there(lay: Lay, keys: set[ClothKey], shop: Workshop) -> dict[ClothKey, tuple[RollThere, ...]]:
    """Rolls as they are there for the plies left of a lay."""
    return rolls_there(lay.batch, keys, shop, {cloth.pk for cloth in lay.cloths.all()})


def _too_short(lay: Lay, kept: PlannedLay, shop: Workshop) -> tuple[float, float] | None:
    """The longest piece of a colour in stock, and the longest ply of which a roll gives a spread (mm), where none takes
    a spread of it; None where one does, or there is none at all: then cloth is to be bought anyhow, and that will be
    long enough.
    """
    there, wide_mm, each = _there(lay, set(kept.cloths), shop), _wide_mm(kept), LENGTHS[kept.mode]
    for key in kept.cloths:
        wide = [roll for roll in there.get(key, ()) if (roll.usable_width_mm or wide_mm) >= wide_mm - 1e-6]
        ply_mm = max((mm for roll in wide for mm in longest_plies(roll, each)), default=0.0)
        if ply_mm and ply_mm < spread_mm(kept) / each - 1e-6:
            return max(mm for roll in wide for mm in longest_plies(roll, 1)), ply_mm
    return None


def _as_it_is(kept: PlannedLay, asked: Sequence[Asked], shop: Workshop, lengths: Lengths) -> _Plan:
    """What the plies left come to on their own marker. Raises CannotPlan."""
    cost, weighs = Decimal(0), Decimal(0)
    for one in asked:
        own = replace(kept, plies=tuple(plies for plies in kept.plies if plies.cloth in one.cloths))
        wishes = {kept.fabric: Wishes(keep=(own,))}
        for plan in _decide(kept.fabric, one, shop, lengths, wishes):
            cost += plan.facts.best.cost
            weighs += plan.facts.best.weighs
    # Asked for colour by colour, its marker was paid for with each of them.
    times = shop.times
    marker_min = times.setup + (times.mark_piece + times.cut_piece) * len(kept.job.items)
    again = Decimal(str(marker_min)) * Decimal(str(times.rate_per_hour)) / 60 * (len(asked) - 1)
    return _Plan((kept,), cost - again, weighs - again, is_nested=True)


def _anew(fabric: str, asked: Sequence[Asked], shop: Workshop, lengths: Lengths) -> _Plan | None:
    """The rest planned with these lengths; None where it cannot be."""
    cost, weighs, lays = Decimal(0), Decimal(0), []
    try:
        for one in asked:
            for plan in _decide(fabric, one, shop, lengths, {}):
                cost += plan.facts.best.cost
                weighs += plan.facts.best.weighs
                for lay in plan.lays:
                    plies = tuple(row for row in lay.plies if row.cloth in one.cloths)
                    lays += [replace(lay, plies=plies)] if plies else []
    except CannotPlan:
        return None
    return _Plan(tuple(lays), cost, weighs, all(marker_key(one.job) in lengths.nested for one in lays))


def _decide(
    fabric: str, one: Asked, shop: Workshop, lengths: Lengths, wishes: dict[str, Wishes]
) -> tuple[FabricPlan, ...]:
    return decide(one.demand, shop, wishes=wishes, lengths=lengths, only=[fabric], seconds=SECONDS)


def _stays_in_words(lay: Lay, kept: PlannedLay, as_it_is: _Plan, anew: _Plan | None) -> str:
    """ "Lay 1 goes on with its own marker, so nothing was changed: the 1 ply left takes 3.41 m, as nested; …"."""
    takes = "takes" if kept.spreads == 1 else "take"
    words = (
        f"Lay {lay.number} goes on with its own marker, so nothing was changed: the"
        f" {spreads_in_words(kept.spreads, lay.way)} left {takes} {_to_spread(as_it_is.cloth_mm)}, as nested"
    )
    if anew is None or is_same(anew.lays, as_it_is.lays):
        return f"{words}; no other way to lay what is left is known to be cheaper."
    dearer = anew.cost - as_it_is.cost
    money = f"{format_money(abs(dearer), Workroom.the().currency)} {'dearer' if dearer > 0 else 'cheaper'}"
    lays = "1 lay" if len(anew.lays) == 1 else f"{len(anew.lays)} lays"
    guess = "" if anew.is_nested else f"{', but' if dearer < 0 else ','} as a guess that nobody has nested"
    return (
        f"{words}; planned anew it would be {'' if anew.is_nested else 'about '}{_to_spread(anew.cloth_mm)} in {lays},"
        f" {_more(anew.cloth_mm - as_it_is.cloth_mm)} and with the work {money}{guess}."
    )


def _than(by_mm: float) -> str:
    """ "0.56 m more than", "as much as"."""
    return "as much as" if abs(by_mm) < NOTHING_MM else f"{_more(by_mm)} than"


def _more(by_mm: float) -> str:
    """ "0.56 m more", "0.56 m less"."""
    return f"{_metres(abs(by_mm))} {'less' if by_mm < 0 else 'more'}"


def _metres(mm: float) -> str:
    return format_length(mm, Workroom.the().display, "cloth")


def _to_spread(mm: float) -> str:
    """As on a lay's page and ticket: rounded up, so that no ply comes out too short."""
    return format_length(mm, Workroom.the().display, "cloth", at_least=True)
