"""What makers do to styles: one function, one transaction, one result."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db import models, transaction
from django.db.models import Max, Q

from planner.core.outline import Outline
from planner.styles.models import (
    ClothRole,
    Colourway,
    ColourwayCloth,
    Detail,
    Operation,
    Option,
    Piece,
    PieceOutline,
    Seam,
    SeamEdge,
    Size,
    SizeRange,
    Style,
    StyleNotion,
)


@dataclass(frozen=True)
class Done:
    """It is done; `text` says what."""

    text: str


@dataclass(frozen=True)
class Refused:
    """It was not done and nothing changed; `text` says why and what to do instead."""

    text: str


@dataclass(frozen=True)
class Asks:
    """It was not done yet: it would throw something away, named in `text`, and wants to be told so again."""

    text: str


# --- whole styles -----------------------------------------------------------------------------------------


@transaction.atomic
def new_style(
    *,
    number: str,
    name: str,
    sizes: SizeRange | Sequence[str],
    base_size: str,
    roles: Sequence[str],
    for_children: bool,
) -> Style:
    """A style with its cloth roles; `sizes` is a range that is there or the names of a new one, in order."""
    size_range = sizes if isinstance(sizes, SizeRange) else _range_of(sizes)
    style = Style.objects.create(
        number=number,
        name=name,
        size_range=size_range,
        base_size=size_range.sizes.get(name=base_size),
        for_children=for_children,
    )
    rows = [ClothRole(style=style, name=role, position=i) for i, role in enumerate(roles)]
    ClothRole.objects.bulk_create(rows)
    return style


@transaction.atomic
def copy_style(style: Style, *, number: str, name: str) -> Style:
    """A new style with everything the old one has, for sale; the two share only the size range."""
    copy = Style.objects.create(
        number=number,
        name=name,
        note=style.note,
        size_range=style.size_range,
        base_size=style.base_size,
        for_children=style.for_children,
    )
    of_style = Q(style=style)
    roles = _copied(ClothRole, of_style, style=copy)
    details = _copied(Detail, of_style, style=copy)
    options = _copied(Option, Q(detail__style=style), detail=details)
    pieces = _copied(Piece, of_style, style=copy, role=roles, option=options)
    _copied(PieceOutline, Q(piece__style=style), piece=pieces)
    operations = _copied(Operation, of_style, style=copy, option=options)
    seams = _copied(Seam, of_style, style=copy, option=options, operation=operations)
    _copied(SeamEdge, Q(seam__style=style), seam=seams, piece=pieces)
    _copied(StyleNotion, of_style, style=copy, option=options, seam=seams)
    colourways = _copied(Colourway, of_style, style=copy)
    _copied(ColourwayCloth, Q(colourway__style=style), colourway=colourways, role=roles)
    return copy


def _copied(
    model: type[models.Model], which: Q, **changes: models.Model | Mapping[int, models.Model]
) -> dict[int, models.Model]:
    """Copies of rows by the key of their originals; a mapping in `changes` says what replaces what."""
    copies: dict[int, models.Model] = {}
    for row in model._default_manager.filter(which).order_by("pk"):
        original = row.pk
        for field, change in changes.items():
            if isinstance(change, models.Model):
                setattr(row, field, change)
            elif getattr(row, f"{field}_id") is not None:
                setattr(row, field, change[getattr(row, f"{field}_id")])
        row.pk = None
        row._state.adding = True
        copies[original] = row
    model._default_manager.bulk_create(copies.values())
    return copies


@transaction.atomic
def set_retired(style: Style, *, retired: bool) -> Done:
    """Takes a style out of sale or back into it; its orders stay."""
    style.retired = retired
    style.save(update_fields=["retired"])
    return Done(f"{style} is {'no longer sold' if retired else 'sold again'}.")


# --- sizes ------------------------------------------------------------------------------------------------


def _range_of(names: Sequence[str]) -> SizeRange:
    """A new size range called after its sizes, with a number behind where that name is taken."""
    title = names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"
    taken = set(SizeRange.objects.filter(name__startswith=title).values_list("name", flat=True))
    free = (title if i == 1 else f"{title} ({i})" for i in range(1, len(taken) + 2))
    size_range = SizeRange.objects.create(name=next(name for name in free if name not in taken))
    _make_sizes(size_range, names)
    return size_range


def _make_sizes(size_range: SizeRange, names: Sequence[str]) -> dict[str, Size]:
    rows = [Size(size_range=size_range, name=name, position=i) for i, name in enumerate(names)]
    return {size.name: size for size in Size.objects.bulk_create(rows)}


@transaction.atomic
def change_sizes(
    style: Style, names: Sequence[str], *, base_size: str, only_this: bool, even_with_outlines: bool
) -> Done | Refused | Asks:
    """The sizes of a style in order, kept by name.

    Sizes are shared by all styles of a range: they change for all of them, or with `only_this` the style gets
    a range of its own. A size that is ordered stays; one that has outlines goes only `even_with_outlines`.
    """
    gone = list(style.size_range.sizes.exclude(name__in=names))
    others = style.size_range.styles.exclude(pk=style.pk)
    if only_this and others.exists():
        return _split_sizes(style, gone, names, base_size, even_with_outlines=even_with_outlines)
    based = others.filter(base_size__in=gone).first()
    if based is not None:
        return Refused(f"{based.base_size} is the base size of {based}, which has the same sizes.")
    ordered = next((size for size in gone if _is_ordered(size)), None)
    if ordered is not None:
        return Refused(f"{ordered} is ordered already, so it has to stay.")
    drawn = PieceOutline.objects.filter(size__in=gone)
    asks = _asks_for(drawn)
    if asks and not even_with_outlines:
        return asks
    drawn.delete()
    there = {size.name: size for size in style.size_range.sizes.all()}
    for position, name in enumerate(names):
        size = there.get(name) or Size(size_range=style.size_range, name=name)
        size.position = position
        size.save()
    style.base_size = style.size_range.sizes.get(name=base_size)
    style.save(update_fields=["base_size"])
    style.size_range.sizes.exclude(name__in=names).delete()
    return Done("The sizes are changed.")


def _split_sizes(
    style: Style, gone: Sequence[Size], names: Sequence[str], base_size: str, *, even_with_outlines: bool
) -> Done | Refused | Asks:
    if style.order_lines.exists():
        return Refused(
            "This style is ordered already, so it has to keep its size range. Copy it and change the copy."
        )
    asks = _asks_for(PieceOutline.objects.filter(piece__style=style, size__in=gone))
    if asks and not even_with_outlines:
        return asks
    new = {size.name: size for size in _range_of(names).sizes.all()}
    PieceOutline.objects.filter(piece__style=style, size__in=gone).delete()
    rows = list(PieceOutline.objects.filter(piece__style=style).select_related("size"))
    for row in rows:
        row.size = new[row.size.name]
    PieceOutline.objects.bulk_update(rows, ["size"])
    style.base_size = new[base_size]
    style.size_range = style.base_size.size_range
    style.save(update_fields=["base_size", "size_range"])
    return Done("The style has sizes of its own now.")


def _is_ordered(size: Size) -> bool:
    """Whether any row of another room holds on to the size; all such relations protect it."""
    relations = (r for r in Size._meta.get_fields(include_hidden=True) if r.auto_created and not r.concrete)
    own = {Style, PieceOutline}
    return any(
        relation.related_model not in own
        and relation.related_model._default_manager.filter(**{relation.field.name: size}).exists()
        for relation in relations
    )


def _asks_for(outlines: models.QuerySet) -> Asks | None:
    rows = list(outlines.select_related("size", "piece__style"))
    if not rows:
        return None
    sizes = ", ".join(dict.fromkeys(row.size.name for row in rows))
    styles = ", ".join(dict.fromkeys(row.piece.style.number for row in rows))
    count = "1 outline" if len(rows) == 1 else f"{len(rows)} outlines"
    return Asks(f"{sizes} goes, and with it {count} of style {styles}. Tick the box to take them away too.")


# --- parts ------------------------------------------------------------------------------------------------


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


# --- outlines ---------------------------------------------------------------------------------------------


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
