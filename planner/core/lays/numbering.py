"""The order in which the pieces of a marker are numbered on papers and screens."""

from __future__ import annotations

from collections.abc import Sequence

from planner.core.lays.model import Placement


def in_order(placements: Sequence[Placement]) -> tuple[Placement, ...]:
    """The pieces of a marker in the order of their numbers, which follows from the marker alone.

    The same pieces in the same places have the same numbers, in whatever order they come. Pieces of one kind (style,
    size, name) have consecutive numbers, mirrored ones last, counted along the cloth and then across it; kinds come in
    the order of the garments they are for, then by name. Places are taken in whole mm, for a marker that is laid anew
    may differ in what was rounded.
    """
    first: dict[tuple[str, str], int] = {}
    for one in placements:
        of = (one.style, one.size)
        first[of] = min(first.get(of, one.garment_no), one.garment_no)

    def rank(one: Placement) -> tuple[object, ...]:
        along, across = (round(min(axis)) for axis in zip(*one.outline, strict=True))
        of = (one.style, one.size)
        return (first[of], of, one.piece, one.mirrored, along, across, one.garment_no, one.twin_no)

    return tuple(sorted(placements, key=rank))
