"""The colour of a colourway on the screen: that of its first cloth role."""

from __future__ import annotations

from collections.abc import Iterable

from planner.styles.models import ColourwayCloth


def colourway_swatches(colourways: Iterable[int]) -> dict[int, str]:
    """#rrggbb by colourway. One query."""
    rows = ColourwayCloth.objects.filter(colourway__in=set(colourways))
    found: dict[int, str] = {}
    for pk, swatch in rows.order_by("role__position", "role").values_list(
        "colourway", "fabric_colour__swatch"
    ):
        found.setdefault(pk, swatch)
    return found
