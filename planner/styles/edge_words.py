"""Lengths of the edges of one name: an edge and its mirror image are two of one length, not one of twice that."""

from __future__ import annotations

from collections.abc import Sequence

from planner.core.outline import Outline, path_length_mm
from planner.core.units import format_length

#: Lengths that differ by less are the same (mm).
SAME_MM = 0.15


def lengths_each_mm(outline: Outline) -> dict[str, tuple[float, ...]]:
    """The length of every edge (mm) by name, in the order of the ring."""
    found: dict[str, list[float]] = {}
    for index, edge in enumerate(outline.edges):
        found.setdefault(edge.name, []).append(path_length_mm(outline.edge_path(index)))
    return {name: tuple(lengths) for name, lengths in found.items()}


def lengths_in_words(lengths_mm: Sequence[float], *, display: str) -> str:
    """ "42.8 cm", "2 × 42.8 cm" of two alike, "42.8 cm + 40.1 cm" of two that differ."""
    if not lengths_mm:
        return "none"
    first = format_length(lengths_mm[0], display=display, kind="small")
    if len(lengths_mm) == 1:
        return first
    if max(lengths_mm) - min(lengths_mm) < SAME_MM:
        mean = sum(lengths_mm) / len(lengths_mm)
        return f"{len(lengths_mm)} × {format_length(mean, display=display, kind='small')}"
    return " + ".join(format_length(mm, display=display, kind="small") for mm in lengths_mm)
