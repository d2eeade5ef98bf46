"""Cloth on the table for the lays of a batch: as nested, as cut, and as estimated where a lay is not nested yet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from planner.core.lays.model import LENGTHS, PlannedLay
from planner.core.needs import Laid
from planner.core.spec import ClothKey
from planner.cutting.models import Lay, LayCloth, Marker
from planner.materials.specs import cloth_key

#: Lengths that differ by less are the same (m).
SAME_M = 1e-6


def laid(lays: Iterable[Lay]) -> dict[ClothKey, Laid]:
    """Metres on the table of each cloth, in how many lays, and how many of them are nested, be it for longer just now.
    The others count as the plan estimates them."""
    metres: dict[ClothKey, float] = defaultdict(float)
    all_lays: dict[ClothKey, set[int]] = defaultdict(set)
    nested: dict[ClothKey, set[int]] = defaultdict(set)
    for lay in lays:
        for cloth in lay.cloths.all():
            key = cloth_key(cloth.fabric_colour)
            metres[key] += cloth_mm(lay, cloth) / 1000
            all_lays[key].add(lay.pk)
            if lay.marker.is_laid:
                nested[key].add(lay.pk)
    return {key: Laid(m, len(all_lays[key]), len(nested[key])) for key, m in metres.items()}


def laid_as_planned(lays: Iterable[tuple[PlannedLay, Marker]]) -> dict[ClothKey, Laid]:
    """As :func:`laid`, of lays that are not written yet, with their markers."""
    metres: dict[ClothKey, float] = defaultdict(float)
    all_lays: dict[ClothKey, set[int]] = defaultdict(set)
    nested: dict[ClothKey, set[int]] = defaultdict(set)
    for lay, marker in lays:
        is_laid = marker.is_laid and marker.length_mm is not None
        marker_mm = marker.length_mm if is_laid else lay.estimated_length_mm
        each = LENGTHS[lay.mode] * (marker_mm + 2 * lay.end_allowance_mm)
        for key in lay.cloths:
            metres[key] += lay.spreads_of(key) * each / 1000
            all_lays[key].add(lay.section)
            if is_laid:
                nested[key].add(lay.section)
    return {key: Laid(m, len(all_lays[key]), len(nested[key])) for key, m in metres.items()}


def is_as_much(one: Mapping[ClothKey, Laid], other: Mapping[ClothKey, Laid]) -> bool:
    """Whether both are the same but for the order in which lengths were added up."""
    return one.keys() == other.keys() and all(
        (found.lays, found.nested) == (other[key].lays, other[key].nested)
        and abs(found.lay_m - other[key].lay_m) < SAME_M
        for key, found in one.items()
    )


def valid_spreads(lay: Lay, cloth: LayCloth) -> int:
    """Spreads that are cut or will be: as planned, or of a lay that was cut in part those really cut."""
    if lay.cut_at is not None and cloth.cut_spreads is not None:
        return cloth.cut_spreads
    return cloth.spreads


def length_mm(lay: Lay) -> float:
    """Length of a lay's marker, without its ends: as nested, else as estimated (mm)."""
    nested = lay.marker.length_mm if lay.marker.is_laid else None
    return lay.estimated_length_mm if nested is None else nested


def cloth_mm(lay: Lay, cloth: LayCloth) -> float:
    """Cloth of one colour on the table for a lay, end allowances included (mm)."""
    each = length_mm(lay) + 2 * lay.end_allowance_mm
    return valid_spreads(lay, cloth) * LENGTHS[lay.mode] * each  # type: ignore[index]
