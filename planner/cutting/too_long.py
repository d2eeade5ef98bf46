"""Lays longer than they may be: than the table, or than a roll of a cloth that is sold by the roll gives on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from planner.core.lays.cloth_limits import longest_spread_mm
from planner.core.spec import ClothKey, Workshop
from planner.cutting.models import Lay, Marker
from planner.cutting.stored import StoredLay
from planner.materials.specs import cloth_key

#: Said of a lay that is too long where nothing shorter was found; then nobody looks again.
NOTHING_SHORTER = "nothing shorter was found"
#: A length is no longer than another by less than this (mm).
NOISE_MM = 1e-6


def most_mm(cloths: Iterable[ClothKey], mode: str, shop: Workshop) -> float:
    """How long a ply of these cloths may be, laid so, with its ends (mm): they lie in one stack."""
    found = (shop.cloths[key] for key in cloths if key in shop.cloths)
    return longest_spread_mm(found, mode, shop)  # type: ignore[arg-type]


def too_long(lays: Iterable[StoredLay], shop: Workshop) -> list[StoredLay]:
    """Lays whose nested marker does not fit the table with its ends, or is longer than a roll of their cloth gives."""
    return [
        lay
        for lay in lays
        if lay.marker is not None and lay.row.marker.is_final and is_too_long(lay.row, shop)
    ]


def is_too_long(lay: Lay, shop: Workshop) -> bool:
    """Whether it is longer than the table, or than a roll gives, with its ends; by its estimate as long as it is not
    nested. The lay is read with its cloths."""
    return _ply_mm(lay) > most_mm(cloths_of(lay), lay.mode, shop) + NOISE_MM


def cloths_of(lay: Lay) -> list[ClothKey]:
    """The cloths that are spread in a lay read with them."""
    return [cloth_key(cloth.fabric_colour) for cloth in lay.cloths.all()]


def say_why(lays: Iterable[Lay], shop: Workshop, why: str) -> None:
    """Notes with the markers of these lays what they are too long for, and `why` they stay so."""
    said: dict[str, list[int]] = defaultdict(list)
    for lay in lays:
        on_table = _ply_mm(lay) > shop.table_length_mm + NOISE_MM
        of_roll = "a roll of its cloth gives" + (" twice" if lay.mode == Lay.Mode.FACE_TO_FACE else "")
        said["the table" if on_table else of_roll].append(lay.marker_id)
    for what, markers in said.items():
        Marker.objects.filter(pk__in=markers).update(message=f"longer than {what}, and {why}"[:300])


def is_said(marker: Marker) -> bool:
    """Whether it was found that nothing shorter can be had in its place."""
    return marker.message.endswith(NOTHING_SHORTER)


def _ply_mm(lay: Lay) -> float:
    length_mm = lay.marker.length_mm if lay.marker.is_laid else None
    return (length_mm or lay.estimated_length_mm) + 2 * lay.end_allowance_mm
