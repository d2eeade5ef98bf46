"""Outlines of pieces."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction

from planner.core.outline import Outline
from planner.styles.actions.results import Done
from planner.styles.models import (
    Piece,
    PieceOutline,
    Size,
)


@transaction.atomic
def keep_outlines(piece: Piece, outlines: Mapping[Size, Outline]) -> Done:
    """Stores the outline of a piece in each size, in place of what was there."""
    for size, outline in outlines.items():
        PieceOutline.objects.update_or_create(
            piece=piece, size=size, defaults={"shape": outline.as_json(), "area_mm2": outline.area_mm2}
        )
    sizes = ", ".join(size.name for size in outlines)
    return Done(f"{piece.name} has its outline in {sizes}.")


@transaction.atomic
def drop_outline(piece: Piece, size: Size) -> Done:
    """Takes the outline of a piece in one size away."""
    PieceOutline.objects.filter(piece=piece, size=size).delete()
    return Done(f"{piece.name} has no outline in {size.name} now.")
