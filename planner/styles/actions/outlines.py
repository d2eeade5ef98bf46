"""Outlines of pieces: kept, taken away, made from the sizes beside."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from django.db import transaction

from planner.core.grading import interpolate
from planner.core.outline import Outline, OutlineError, outline_from_json
from planner.styles.actions.results import Done, Refused
from planner.styles.models import (
    Piece,
    PieceOutline,
    Size,
)


@transaction.atomic
def keep_outlines(
    piece: Piece,
    outlines: Mapping[Size, Outline],
    *,
    source: str = "",
    marks: Mapping[Size, Mapping[str, Any]] | None = None,
) -> Done:
    """Stores the outline of a piece in each size, in place of what was there, made from other sizes or not.

    `source` says where it came from; `marks` are those within it, as stored, and none where they are not given:
    those of the outline before would not lie right in this one.
    """
    for size, outline in outlines.items():
        PieceOutline.objects.update_or_create(
            piece=piece,
            size=size,
            defaults={
                "shape": outline.as_json(),
                "area_mm2": outline.area_mm2,
                "marks": dict((marks or {}).get(size, {})),
                "source": source[:200],
                "is_interpolated": False,
            },
        )
    sizes = ", ".join(size.name for size in outlines)
    return Done(f"{piece.name} has its outline in {sizes}.")


@transaction.atomic
def drop_outline(piece: Piece, size: Size) -> Done:
    """Takes the outline of a piece in one size away."""
    PieceOutline.objects.filter(piece=piece, size=size).delete()
    return Done(f"{piece.name} has no outline in {size.name} now.")


def between(size: Size, given: Collection[int], sizes: Sequence[Size]) -> tuple[Size, Size] | None:
    """The nearest smaller and larger size with a given outline (keys in `given`), None where one is lacking."""
    here = sizes.index(size)
    smaller = next((other for other in reversed(sizes[:here]) if other.pk in given), None)
    larger = next((other for other in sizes[here + 1 :] if other.pk in given), None)
    return (smaller, larger) if smaller and larger else None


@transaction.atomic
def interpolate_size(piece: Piece, size: Size, sizes: Sequence[Size]) -> Done | Refused:
    """Makes the outline of a size from the nearest given ones, in proportion to its place in the range (`sizes`).

    Refused where the size has a given outline, stands at an end, or its neighbours have other edges. The outline
    is marked as interpolated until a real one is entered.
    """
    rows = {row.size_id: row for row in piece.outlines.select_for_update()}
    if size.pk in rows and not rows[size.pk].is_interpolated:
        return Refused(f"{piece.name} has an outline in {size.name} already.")
    pair = between(size, {pk for pk, row in rows.items() if not row.is_interpolated}, sizes)
    if pair is None:
        return Refused(f"{size.name} does not stand between two sizes in which {piece.name} has an outline.")
    smaller, larger = pair
    place, low, high = (sizes.index(one) for one in (size, smaller, larger))
    ends = [outline_from_json(rows[one.pk].shape) for one in pair]
    try:
        outline = interpolate(*ends, (place - low) / (high - low))
    except OutlineError as problem:
        return Refused(
            f"{piece.name} in {size.name} cannot be made from {smaller.name} and {larger.name}: {problem}."
        )
    keep_outlines(piece, {size: outline}, source=f"interpolated from {smaller.name} and {larger.name}")
    PieceOutline.objects.filter(piece=piece, size=size).update(is_interpolated=True)
    return Done(
        f"{piece.name} in {size.name} is made from {smaller.name} and {larger.name}. Check it before you cut."
    )
