"""Styles and sizes that lays cut, and how a choice of the page names one of them."""

from __future__ import annotations

from collections.abc import Sequence

from planner.core.lays.wishes import Kind
from planner.cutting.models import Lay

#: Between style and size in the value of a choice on the page.
SEPARATOR = "|"


def kinds_cut(lays: Sequence[Lay]) -> list[Kind]:
    """Styles and sizes that the lays cut, in order."""
    held = {
        (g.style.number, g.size.position, g.size.name)
        for lay in lays
        for cloth in lay.cloths.all()
        for g in cloth.garments.all()
    }
    return [(style, size) for style, _, size in sorted(held)]


def value_of(kind: Kind) -> str:
    """A kind as the value of a choice on the page."""
    return SEPARATOR.join(kind)


def kind_of(value: str) -> Kind | None:
    """Reads what :func:`value_of` wrote; None where it is none."""
    style, found, size = value.partition(SEPARATOR)
    return (style, size) if found and style and size else None
