"""No metre of a roll is dealt out twice where plies of several lays come from it."""

from __future__ import annotations

from collections import defaultdict

from planner.core.rolls import RollThere
from planner.core.spec import ClothKey
from planner.cutting.actions.dealing import _OfColour
from planner.cutting.lot_units import LotUnit
from planner.cutting.models import Lay, LayCloth, Marker

KEY = ClothKey("jersey", "moss")


def plies_of(number: int, length_mm: float) -> LotUnit:
    """One ply of a lay that is nested to so much; nothing of it is stored."""
    marker = Marker(length_mm=length_mm, state=Marker.State.READY)
    lay = Lay(pk=number, number=number, mode="open", lay_width_mm=1000.0, end_allowance_mm=0.0, marker=marker)
    return LotUnit(lay, KEY, (LayCloth(pk=number, lay=lay, spreads=1),), was_to_buy=True, is_alone=True)


def dealt(units: list[LotUnit], rolls: list[RollThere]) -> dict[str, float]:
    """What all these plies take of each roll (mm), some of them being short."""
    found = _OfColour(units, rolls, 500.0, {})
    found.deal(keep_parts=False)
    wanted = {unit.key: unit.wanted.ply_mm for unit in units}
    taken: dict[str, float] = defaultdict(float)
    for key, rows in found.whole.items():
        for row in rows:
            taken[f"{row.roll}"] += row.spreads * wanted[key]
    return taken


def test_plies_of_several_lays_take_no_more_of_a_roll_than_it_has() -> None:
    """Formerly three of these were given a roll of 4.5 m: 5.8 m in all."""
    units = [plies_of(n, mm) for n, mm in enumerate((2020.0, 2060.0, 1720.0, 1720.0, 1650.0), 1)]
    taken = dealt(units, [RollThere("104", 4500.0)])
    assert 4000.0 < taken["104"] <= 4500.0
