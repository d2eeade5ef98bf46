"""A roll at the moment plies are cut from it: what is left by the books, its flaws, and what plies lose at these.

Metres are those on the table, as the cutter measures them: of cloth that is washed first fewer than the books have.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from planner.core.lays.model import LENGTHS
from planner.core.rolls import PliesPromised, place_promised
from planner.cutting.laid import length_mm
from planner.cutting.models import Lay
from planner.materials.models import Fabric, Roll
from planner.materials.promised import flaws_of, to_cm
from planner.materials.washed import on_table_m

#: Metres are measured with a tape: so much more than the books say of a roll is no slip.
BY_TAPE_M = Decimal("0.05")


@dataclass(frozen=True)
class RollNow:
    """What is on a roll: metres on the table, and the flaws (from, to) in them from the outer end; and how wide it lies
    between its selvedges (mm), None where that was not asked.
    """

    left_m: Decimal
    flaws: tuple[tuple[Decimal, Decimal], ...] = ()
    usable_mm: float | None = None

    def without(self, metres: Decimal) -> RollNow:
        """What is on it once so much is cut off its outer end."""
        flaws = tuple(
            (max(low - metres, Decimal(0)), high - metres) for low, high in self.flaws if high > metres
        )
        return RollNow(self.left_m - metres, flaws, self.usable_mm)

    def with_flaws(self, flaws: Iterable[tuple[Decimal, Decimal]]) -> RollNow:
        """What is on it where these are found too, metres from its outer end."""
        return replace(self, flaws=(*self.flaws, *flaws))

    @classmethod
    def by_books(
        cls,
        fabric: Fabric,
        left_m: Decimal,
        flaws: Iterable[tuple[Decimal, Decimal]] = (),
        usable_mm: float | None = None,
    ) -> RollNow:
        """What the books say of a roll of this cloth, as it lies on the table."""
        laid = tuple((on_table_m(low, fabric), on_table_m(high, fabric)) for low, high in flaws)
        return cls(on_table_m(left_m, fabric), laid, usable_mm)

    def lost_before(self, ply_mm: float, spreads: int, mode: str) -> Decimal | None:
        """What spreads with plies of such a length on the table lose at its flaws, cut from it now (m); None where not
        all find a place beside them."""
        each = LENGTHS[mode]  # type: ignore[index]
        flaws = [(float(low) * 1000, float(high) * 1000) for low, high in self.flaws]
        room_mm = float(max(self.left_m, Decimal(0)) + BY_TAPE_M) * 1000
        placed = place_promised(room_mm, flaws, [PliesPromised(ply_mm, spreads * each)])
        return to_cm(placed.lost_mm) if placed.fits else None


def rolls_now(rolls: Mapping[int, Roll], fabrics: Mapping[int, Fabric]) -> dict[int, RollNow]:
    """Rolls (read `with_left`) by pk; `fabrics` by the pk of their colours. One query, none for none."""
    flaws = flaws_of({pk: roll.left_m for pk, roll in rolls.items()})
    return {
        pk: RollNow.by_books(fabrics[roll.fabric_colour_id], roll.left_m, flaws.get(pk, ()))
        for pk, roll in rolls.items()
    }


def lost_when_cut(lay: Lay, spreads: int, used_m: Decimal, roll: RollNow) -> Decimal:
    """What of the metres used for spreads of a lay, cut from the roll now, was lost at its flaws.

    Nothing where they do not even do for plies as long as the marker besides: then these lay across it, or it is none.
    """
    if not spreads or not any(low < used_m for low, _ in roll.flaws):
        return Decimal(0)
    marker_mm = length_mm(lay)
    lost_m = roll.lost_before(marker_mm + 2 * lay.end_allowance_mm, spreads, lay.mode)
    least_m = Decimal(repr(spreads * LENGTHS[lay.mode] * marker_mm)) / 1000  # type: ignore[index]
    return lost_m if lost_m and used_m - lost_m >= least_m - BY_TAPE_M else Decimal(0)
