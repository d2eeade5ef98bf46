"""Plies of one colour of a lay that must be of one shade lot, because bundles take them as such.

Once bundles have their plies, these stay together whatever roll they get: of two lots, a garment would be of two.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from planner.common.shared_rows import KeptShared, keep_related
from planner.core.lays.items import width_taken_mm
from planner.core.lays.model import LENGTHS
from planner.core.rolls import PliesWanted
from planner.core.spec import ClothKey
from planner.cutting.kept_rolls import kept_rolls, planned_rolls
from planner.cutting.models import Batch, Lay, LayCloth, LayRoll, Marker
from planner.materials.specs import cloth_key

#: Whether they were to be bought when bundles were given their plies, and else which lot they are planned from.
_Lot = tuple[bool, str]


@dataclass(frozen=True)
class LotUnit:
    """Plies of a lay that must be of one shade lot. `is_alone`: the lay has no others of this colour.

    Of rows that are begun the plies left are meant; `lot` is the one they must be of, for a bundle has plies of that
    already; "" where any will do.
    """

    lay: Lay
    cloth: ClothKey
    rows: tuple[LayCloth, ...]
    was_to_buy: bool
    is_alone: bool
    lot: str = ""

    @property
    def key(self) -> str:
        """What tells it from others."""
        return f"{self.lay.pk}-{self.rows[0].pk}"

    @property
    def spreads(self) -> int:
        """How many spreads these are."""
        return sum(row.spreads - (row.cut_spreads or 0) for row in self.rows)

    @property
    def rolls(self) -> list[LayRoll]:
        """What they are planned from."""
        return [one for row in self.rows for one in planned_rolls(row)]

    @property
    def to_buy(self) -> int:
        """How many of them are to be bought; what is cut came from cloth that was there after all."""
        return min(self.spreads, sum(one.spreads for one in self.rolls if one.roll_id is None))

    @property
    def is_part(self) -> bool:
        """Whether some plies of its rows are cut: then only those left are meant."""
        return any(row.cut_spreads for row in self.rows)

    @property
    def is_begun(self) -> bool:
        """Whether some of their lay is cut."""
        return any(cloth.cut_spreads for cloth in self.lay.cloths.all())

    @property
    def on_no_roll(self) -> int:
        """How many of them have no roll in stock."""
        return self.spreads - sum(one.spreads for one in self.rolls if one.roll_id is not None)

    @property
    def kept(self) -> list[LayRoll]:
        """Rolls kept for a part of them."""
        return [one for row in self.rows for one in kept_rolls(row)]

    @property
    def lengths(self) -> int:
        """How many lengths of cloth a spread takes."""
        return LENGTHS[self.lay.mode]  # type: ignore[index]

    @property
    def wanted(self) -> PliesWanted:
        """Their plies, as many of a spread from one roll, all of one lot."""
        lay, each = self.lay, self.lengths
        ply_mm = (lay.marker.length_mm or 0.0) + 2 * lay.end_allowance_mm
        wide_mm = width_taken_mm(lay.lay_width_mm, lay.mode)  # type: ignore[arg-type]
        return PliesWanted(self.key, ply_mm, each * self.spreads, wide_mm, each, one_lot=True)


def uncut_units(batch: Batch, *, by_colour: bool = False) -> list[LotUnit]:
    """The plies of all lays that are nested and not begun, in the order of the lays. Five queries.

    `by_colour`: all of a colour in a lay are to be of one lot, though bundles would bear several.
    """
    begun = batch.lays.begun().values("pk")
    final = [Marker.State.READY, Marker.State.STOPPED]
    rows = batch.lays.filter(marker__state__in=final, marker__length_mm__isnull=False).exclude(pk__in=begun)
    return [
        unit for lay in rows.order_by("number").with_rolls() for unit in units_of(lay, by_colour=by_colour)
    ]


def _with_a_part_kept() -> QuerySet[Any]:
    """Lays of batches being cut where some plies of a colour have rolls and the others are still to be bought."""
    uncut = {"lay_cloth__lay__batch__state": Batch.State.CUTTING, "lay_cloth__lay__cut_at": None}
    to_buy = LayRoll.objects.filter(roll=None, **uncut).order_by().values("lay_cloth")
    there = LayRoll.objects.filter(roll__isnull=False, lay_cloth__in=to_buy)
    return there.order_by().values("lay_cloth__lay")


_CLOTHS = KeptShared(
    lambda: LayCloth.objects.filter(lay__in=_with_a_part_kept()).order_by(
        "lay__batch_id", "lay__number", "pk"
    ),
    {
        "lay": ("number", "mode", "lay_width_mm", "end_allowance_mm", "rest_of", "cut_at"),
        "lay__batch": ("number",),
        "lay__marker": ("state", "length_mm"),
        "fabric_colour": ("name",),
        "fabric_colour__fabric": ("name", "is_tube"),
    },
    own=("spreads", "cut_spreads"),
)
_ROLLS = KeptShared(
    lambda: LayRoll.objects.filter(lay_cloth__lay__in=_with_a_part_kept()),
    {"roll": ("number", "shade_lot")},
    own=("lay_cloth", "spreads", "came_later"),
)


def kept_units() -> list[LotUnit]:
    """Those of all batches being cut that a part is kept for, batch by batch in the order of lays. Two queries."""
    cloths_of: dict[Lay, list[LayCloth]] = defaultdict(list)
    rolls_of: dict[int, list[LayRoll]] = defaultdict(list)
    for roll in _ROLLS.read():
        rolls_of[roll.lay_cloth_id].append(roll)
    for cloth in _CLOTHS.read():
        keep_related(cloth, "rolls", rolls_of[cloth.pk])
        cloths_of[cloth.lay].append(cloth)
    for lay, cloths in cloths_of.items():
        keep_related(lay, "cloths", cloths)
    return kept_units_of(cloths_of)


def kept_units_of(lays: Iterable[Lay]) -> list[LotUnit]:
    """Those of these lays that a part is kept for, read with their rolls; of lays as :func:`uncut_units` asks for them.
    No query.
    """
    found = []
    for lay in lays:
        is_begun = lay.cut_at is not None or any(cloth.cut_spreads for cloth in lay.cloths.all())
        if lay.marker.is_final and not is_begun:
            found += [unit for unit in units_of(lay) if unit.kept]
    return found


def short_units(batch: Batch) -> list[LotUnit]:
    """Those of which some are to be bought, and such of lays that are begun; lays of a rest not begun are left out, for
    they have their own way.
    """
    uncut = [unit for unit in uncut_units(batch) if unit.to_buy and unit.lay.rest_of_id is None]
    return [*uncut, *(unit for lay in begun_lays(batch) for unit in _to_buy_of(lay))]


def begun_lays(batch: Batch) -> list[Lay]:
    """Lays of which some plies are cut and others are not, with their rolls. Four queries at most."""
    return list(batch.lays.begun().filter(cut_at=None).order_by("number").with_rolls())


def _to_buy_of(lay: Lay) -> Iterator[LotUnit]:
    """The plies left of a begun lay that are all to be bought, row by row."""
    rows = list(lay.cloths.all())
    for row in rows:
        planned = planned_rolls(row)
        is_left = row.spreads > (row.cut_spreads or 0)
        if planned and is_left and all(one.roll_id is None for one in planned):
            of_colour = sum(one.fabric_colour_id == row.fabric_colour_id for one in rows)
            yield LotUnit(lay, cloth_key(row.fabric_colour), (row,), was_to_buy=True, is_alone=of_colour == 1)


def units_of(lay: Lay, *, by_colour: bool = False) -> Iterator[LotUnit]:
    """The plies of a lay read with its rolls, lot by lot. No query."""
    found: dict[ClothKey, dict[_Lot, list[LayCloth]]] = defaultdict(lambda: defaultdict(list))
    for row in lay.cloths.all():
        if row.spreads:
            # The bundles of a rest are divided by no lot.
            lot = (True, "") if by_colour or lay.rest_of_id is not None else _lot_of(row)
            found[cloth_key(row.fabric_colour)][lot].append(row)
    for key, lots in found.items():
        for rows in lots.values():
            was_to_buy = any(_lot_of(row) == (True, "") for row in rows)
            yield LotUnit(lay, key, tuple(rows), was_to_buy, is_alone=len(lots) == 1)


def _lot_of(row: LayCloth) -> _Lot:
    for one in planned_rolls(row):
        if one.came_later or one.roll is None:
            return True, ""
        return False, one.roll.shade_lot
    return False, ""
