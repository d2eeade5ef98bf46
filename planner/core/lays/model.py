"""Markers and lays as plain data. Lay coordinates: x along the cloth from 0, y across from 0, float mm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.core.outline import Outline, Point
from planner.core.spec import ClothKey, Garment

Mode = Literal["open", "face_to_face", "folded"]


@dataclass(frozen=True)
class ItemToLay:
    """One outline to be placed once: a piece of one garment of the marker.

    `garment_no` counts the garments of the marker from 1, so that all pieces of one garment can be told.
    `outline` is as cut (shrinkage allowed for, mirrored already where `mirrored`), anywhere in the plane.
    """

    style: str
    piece: str
    size: str
    garment_no: int
    mirrored: bool
    may_turn: bool
    outline: Outline


@dataclass(frozen=True)
class MarkerJob:
    """What is to be nested: items on a strip `lay_width_mm` wide, at least `gap_mm` apart."""

    lay_width_mm: float
    one_way: bool
    gap_mm: float
    items: tuple[ItemToLay, ...]


@dataclass(frozen=True, slots=True)
class Placement:
    """A placed piece: its final outline in lay coordinates and how it got there."""

    style: str
    piece: str
    size: str
    garment_no: int
    mirrored: bool
    rotation_deg: int
    outline: tuple[Point, ...]


@dataclass(frozen=True)
class Marker:
    """A nested arrangement, verified. `efficiency` = area of pieces / (lay_width_mm × length_mm).

    `how` is "rows" where the pieces merely lie in plain rows that may not be the shortest, as at first or
    where nesting failed.
    """

    lay_width_mm: float
    length_mm: float
    efficiency: float
    placements: tuple[Placement, ...]
    how: Literal["nested", "rows"] = "nested"


@dataclass(frozen=True, slots=True)
class LayGarments:
    """How many of one garment a marker holds."""

    garment: Garment
    per_marker: int


@dataclass(frozen=True)
class PlannedLay:
    """A section of the cut plan for one cloth: these garments per marker, `spreads` times."""

    section: int
    cloth: ClothKey
    mode: Mode
    spreads: int
    lay_width_mm: float
    end_allowance_mm: float
    garments: tuple[LayGarments, ...]
    job: MarkerJob
    estimated_length_mm: float
