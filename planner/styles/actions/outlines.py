"""Outlines of pieces: kept, taken away, made from the sizes beside."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from planner.core.outline import Outline
from planner.styles.actions.results import Done
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
