"""Parts of a style: taken out, moved."""

from __future__ import annotations

from django.db import models, transaction
from django.db.models import Max

from planner.styles.actions.results import Done, Refused
from planner.styles.models import (
    ClothRole,
    Colourway,
    Detail,
    Operation,
    Option,
    Piece,
    Seam,
)


@transaction.atomic
def drop_part(part: models.Model) -> Done | Refused:
    """Takes a role, detail, option, piece, operation, seam, notion or colourway out of its style.

    Refused where an order or another part of the style needs it.
    """
    reason = reason_to_keep(part)
    if reason:
        return Refused(reason)
    name = str(part)
    part.delete()
    return Done(f"{name} is taken out.")


def reason_to_keep(part: models.Model) -> str:
    """Why a part may not be taken out, or ""."""
    match part:
        case ClothRole():
            return _still(part.name, pieces=part.pieces.all())
        case Detail():
            reasons = (reason_to_keep(option) for option in part.options.all())
            return next((reason for reason in reasons if reason), "")
        case Option() if part.order_lines.exists():
            return f"{part.name} is ordered already. Copy the style and change the copy."
        case Option():
            return _still(
                part.name, pieces=part.pieces.all(), operations=part.operations.all(), seams=part.seams.all(),
                notions=part.notions.all(),
            )  # fmt: skip
        case Piece() if _piece_is_ordered(part):
            return f"{part.name} is in garments that are ordered already. Copy the style and change the copy."
        case Piece():
            return _still(part.name, seams=Seam.objects.filter(edges__piece=part).distinct())
        case Operation():
            return _still(part.name, seams=part.seams.all())
        case Seam():
            return _still(part.name, notions=part.notions.all())
        case Colourway() if part.order_lines.exists():
            return f"{part.name} is ordered already. Copy the style and change the copy."
    return ""


def _piece_is_ordered(piece: Piece) -> bool:
    lines = piece.style.order_lines if piece.option is None else piece.option.order_lines
    return bool(lines.exists())


def _still(name: str, **needed_by: models.QuerySet) -> str:
    """The reason that other parts of the style give for keeping one."""
    for kind, rows in needed_by.items():
        names = [str(row) for row in rows[:4]]
        if names:
            word = kind if len(names) > 1 else kind.removesuffix("s")
            needed = f"{name} is still needed by the {word} {', '.join(names)}."
            return f"{needed} Change or take out the {word} first."
    return ""


def next_position(rows: models.QuerySet) -> int:
    """The place behind all rows."""
    last = rows.aggregate(last=Max("position"))["last"]
    return 0 if last is None else last + 1


@transaction.atomic
def move_part(part: models.Model, rows: models.QuerySet, *, up: bool) -> None:
    """Changes places with the neighbour before (or behind); at the end of the row nothing happens."""
    in_order = list(rows.select_for_update().order_by("position", "pk"))
    here = in_order.index(part)
    there = here - 1 if up else here + 1
    if not 0 <= there < len(in_order):
        return
    in_order[here], in_order[there] = in_order[there], in_order[here]
    for position, row in enumerate(in_order):
        row.position = position
    type(part)._default_manager.bulk_update(in_order, ["position"])
