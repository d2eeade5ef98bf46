"""Parts of a style: taken out, moved."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.db import models, transaction
from django.db.models import Max

from planner.styles.actions.results import Done, Refused
from planner.styles.family import merged, numbers_of, offered_by, sharing
from planner.styles.models import (
    ClothRole,
    Colourway,
    Detail,
    Operation,
    Option,
    Piece,
    Seam,
    Style,
)


@transaction.atomic
def drop_part(part: models.Model) -> Done | Refused:
    """Takes a role, detail, option, piece, operation, seam, notion or colourway out of its style.

    Refused where an order or another part needs it, of this style or of one built on it. Names the styles that
    lose it too.
    """
    reason = reason_to_keep(part)
    if reason:
        return Refused(reason)
    name, others = str(part), [] if isinstance(part, (Option, Colourway)) else sharing(part)
    part.delete()
    return Done(f"{name} is taken out{', also of ' + numbers_of(others) if others else ''}.")


def reason_to_keep(part: models.Model) -> str:
    """Why a part may not be taken out, or ""."""
    match part:
        case ClothRole():
            return _still(part, pieces=part.pieces.all())
        case Detail():
            reasons = (reason_to_keep(option) for option in part.options.all())
            return next((reason for reason in reasons if reason), "")
        case Option() if part.order_lines.exists():
            return f"{part.name} is ordered already. Copy the style and change the copy."
        case Option():
            return _still(
                part, pieces=part.pieces.all(), operations=part.operations.all(), seams=part.seams.all(),
                notions=part.notions.all(),
            )  # fmt: skip
        case Piece() if ordered := _styles_ordered_with(part):
            where = f" of {numbers_of(ordered)}" if ordered != [part.style] else ""
            return (
                f"{part.name} is in garments{where} that are ordered already. "
                "Copy the style and change the copy."
            )
        case Piece():
            seams = Seam.objects.filter(edges__piece=part).distinct()
            return _still(part, seams=seams, notions=part.notions.all())
        case Operation():
            return _still(part, seams=part.seams.all())
        case Seam():
            return _still(part, notions=part.notions.all(), bands=Piece.objects.filter(band__seam=part))
        case Colourway() if part.order_lines.exists():
            return f"{part.name} is ordered already. Copy the style and change the copy."
    return ""


def _styles_ordered_with(piece: Piece) -> list[Style]:
    """The styles, of those that have the piece, of which garments with it are ordered."""
    having = [piece.style, *sharing(piece)]
    rows = Style.objects.filter(pk__in=[style.pk for style in having], order_lines__isnull=False)
    if piece.option is not None:
        rows = Style.objects.filter(
            pk__in=[style.pk for style in having],
            order_lines__options__name=piece.option.name,
            order_lines__options__detail__name=piece.option.detail.name,
        )
    ordered = set(rows.values_list("pk", flat=True))
    return [style for style in having if style.pk in ordered]


def _still(part: models.Model, **needed_by: models.QuerySet) -> str:
    """The reason that other parts give for keeping one; those of styles built on its own are named with theirs."""
    name = str(part)
    home = part.detail.style_id if isinstance(part, Option) else part.style_id  # type: ignore[attr-defined]
    for kind, rows in needed_by.items():
        names = [_named(row, home) for row in rows[:4]]
        if names:
            word = kind if len(names) > 1 else kind.removesuffix("s")
            needed = f"{name} is still needed by the {word} {', '.join(names)}."
            return f"{needed} Change or take out the {word} first."
    return ""


def _named(row: models.Model, home: int) -> str:
    return str(row) if row.style_id == home else f"{row} of {row.style.number}"  # type: ignore[attr-defined]


def next_position(rows: models.QuerySet) -> int:
    """The place behind all rows."""
    last = rows.aggregate(last=Max("position"))["last"]
    return 0 if last is None else last + 1


#: Places left free between parts when they are set out anew, so that further ones fit between.
_APART = 16


@transaction.atomic
def move_part(part: models.Model, style: Style, *, up: bool) -> None:
    """Changes places with the neighbour before (or behind); at the end of the row nothing happens.

    The steps of a style's base stay in their order for all styles that share it: its own move between them.
    Other parts of its own stand behind those of the base and move among themselves.
    """
    model = type(part)
    in_order = _shown(model, style)
    here = next(i for i, row in enumerate(in_order) if row.pk == part.pk)
    there = here - 1 if up else here + 1
    if not 0 <= there < len(in_order):
        return
    _set_apart(model, style)
    in_order = _shown(model, style)
    one, other = in_order[here], in_order[there]
    if one.style_id == other.style_id:
        one.position, other.position = other.position, one.position
        model._default_manager.bulk_update([one, other], ["position"])
        return
    beyond = there - 1 if up else there + 1
    edge = (
        in_order[beyond].position if 0 <= beyond < len(in_order) else other.position + (_APART, -_APART)[up]
    )
    one.position = (edge + other.position) // 2
    one.save(update_fields=["position"])


def _shown(model: type[models.Model], style: Style) -> list[Any]:
    """The parts among which one of the style moves."""
    if model is not Operation:
        return _in_order(model, [style.pk])
    return merged(style, _in_order(model, style.family), offered_by(style))


def _in_order(model: type[models.Model], styles: Collection[int]) -> list[Any]:
    """Parts of these styles in the order of any style that has them: those of a base before others' own."""
    rows = model._default_manager.filter(style__in=styles).select_for_update(of=("self",))
    rows = rows.select_related("style", *(["option__detail"] if model is Operation else []))
    return sorted(rows, key=lambda row: (row.position, row.style.base_id is not None, row.pk))


def _set_apart(model: type[models.Model], style: Style) -> None:
    """Gives the parts of a base and of all styles built on it places apart from each other, their order kept."""
    base = style.base_id or style.pk
    built = Style.objects.filter(base=base).values_list("pk", flat=True)
    rows = _in_order(model, [base, *built])
    for i, row in enumerate(rows, 1):
        row.position = i * _APART
    model._default_manager.bulk_update(rows, ["position"])
