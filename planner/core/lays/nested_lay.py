"""A lay with its verified marker, and how far nesting a batch has come."""

from __future__ import annotations

from dataclasses import dataclass

from planner.core.lays.model import LENGTHS, Marker, PlannedLay
from planner.core.spec import ClothKey


@dataclass(frozen=True)
class NestedLay:
    """A lay with its verified marker. Its number is `planned.section`, counted through the batch from 1."""

    planned: PlannedLay
    marker: Marker

    @property
    def number(self) -> int:
        """The number of the lay in the batch, from 1."""
        return self.planned.section

    @property
    def cloth_mm(self) -> float:
        """Cloth on the table for the spreads of all colours, end allowances included (mm)."""
        return self.planned.spreads * self.spread_mm

    @property
    def spread_mm(self) -> float:
        """Cloth that one spread takes: one length, or two face to face, with both end allowances (mm)."""
        return LENGTHS[self.planned.mode] * self.ply_mm

    @property
    def ply_mm(self) -> float:
        """The marker with both end allowances, as it lies on the table (mm)."""
        return self.marker.length_mm + 2 * self.planned.end_allowance_mm

    def cloth_mm_of(self, cloth: ClothKey) -> float:
        """Cloth on the table for the spreads of one colour (mm)."""
        return self.planned.spreads_of(cloth) * self.spread_mm


@dataclass(frozen=True)
class Progress:
    """A better marker for the lay `planned`; `done` of `lays` lays are finished."""

    planned: PlannedLay
    marker: Marker
    done: int
    lays: int
