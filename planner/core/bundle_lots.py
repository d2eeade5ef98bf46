"""The shade lot of a bundle from the plies it comes from, and which of them to keep apart where there are several."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.core.ply_list import PlyRun, plies_of
from planner.core.spec import ClothKey


@dataclass(frozen=True, slots=True)
class LotPlies:
    """Plies of a bundle that are of one shade lot of a cloth: (first, last) of stretches without a gap, by section.

    `shade_lot` is "" where it is not known.
    """

    cloth: ClothKey
    shade_lot: str
    plies: Mapping[int, tuple[tuple[int, int], ...]]


def shade_lot_of(bundle: str, runs: Sequence[PlyRun], cloth: ClothKey) -> str:
    """The shade lot of a bundle's plies of a cloth in one lay; "" unless it is known and the same of all of them."""
    lots = {run.lot for run in runs if run.cloth == cloth and bundle in run.bundles}
    return lots.pop() if len(lots) == 1 else ""


def lots_apart(bundle: str, runs: Mapping[int, Sequence[PlyRun]]) -> tuple[LotPlies, ...]:
    """A bundle's plies lot by lot, of each cloth that it has from several lots; empty where there is none such.

    Plies whose lot is not known stand there as well, but do not make a lot of their own.
    """
    lots: dict[ClothKey, dict[str, None]] = {}
    for _, of_lay in sorted(runs.items()):
        for run in of_lay:
            if bundle in run.bundles:
                lots.setdefault(run.cloth, {})[run.lot] = None
    found = []
    for cloth, of_cloth in lots.items():
        if len(of_cloth.keys() - {""}) < 2:
            continue
        for lot in of_cloth:
            own = {
                section: [run for run in of_lay if run.cloth == cloth and run.lot == lot]
                for section, of_lay in runs.items()
            }
            found.append(LotPlies(cloth, lot, plies_of(bundle, own)))
    return tuple(found)
