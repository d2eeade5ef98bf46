"""Whole styles: new, copied, taken out of sale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.db import models, transaction
from django.db.models import Q

from planner.styles.actions.results import Done
from planner.styles.actions.sizes import range_of
from planner.styles.models import (
    Band,
    ClothRole,
    Colourway,
    ColourwayCloth,
    ColourwayThread,
    Detail,
    Operation,
    Option,
    Piece,
    PieceOutline,
    Seam,
    SeamEdge,
    SizeRange,
    Style,
    StyleNotion,
)


@transaction.atomic
def new_style(
    *,
    number: str,
    name: str,
    sizes: SizeRange | Sequence[str],
    base_size: str,
    roles: Sequence[str],
    for_children: bool,
    base: Style | None = None,
) -> Style:
    """A style with its cloth roles; `sizes` is a range that is there or the names of a new one, in order.

    Built on a `base` it has the base's sizes. Raises ValueError where the base is itself built on another.
    """
    if base is not None and base.base_id is not None:
        raise ValueError(f"{base} is itself built on another style")
    given = base.size_range if base is not None else sizes
    size_range = given if isinstance(given, SizeRange) else range_of(given)
    style = Style.objects.create(
        number=number,
        name=name,
        size_range=size_range,
        base_size=size_range.sizes.get(name=base_size),
        for_children=for_children,
        base=base,
    )
    rows = [ClothRole(style=style, name=role, position=i) for i, role in enumerate(roles)]
    ClothRole.objects.bulk_create(rows)
    return style


@transaction.atomic
def copy_style(style: Style, *, number: str, name: str) -> Style:
    """A new style with everything the old one has, for sale; the two share only size range and base."""
    copy = Style.objects.create(
        number=number,
        name=name,
        note=style.note,
        size_range=style.size_range,
        base_size=style.base_size,
        base=style.base,
        for_children=style.for_children,
    )
    of_style = Q(style=style)
    roles = _copied(ClothRole, of_style, style=copy)
    details = _copied(Detail, of_style, style=copy)
    options = _copied(Option, Q(detail__style=style), detail=details)
    _copy_exclusions(options, style)
    pieces = _copied(Piece, of_style, style=copy, role=roles, option=options)
    _copied(PieceOutline, Q(piece__style=style), piece=pieces)
    operations = _copied(Operation, of_style, style=copy, option=options)
    seams = _copied(Seam, of_style, style=copy, option=options, operation=operations)
    _copied(SeamEdge, Q(seam__style=style), seam=seams, piece=pieces)
    _copied(Band, Q(piece__style=style), piece=pieces, seam=seams)
    _copied(StyleNotion, of_style, style=copy, option=options, seam=seams, piece=pieces)
    colourways = _copied(Colourway, of_style, style=copy)
    _copied(ColourwayThread, Q(colourway__style=style), colourway=colourways)
    _copied(ColourwayCloth, Q(colourway__style=style), colourway=colourways, role=roles)
    return copy


def _copied(
    model: type[models.Model], which: Q, **changes: models.Model | Mapping[int, models.Model]
) -> dict[int, models.Model]:
    """Copies of rows by the key of their originals; a mapping in `changes` says what replaces what.

    What is not in the mapping belongs to the base, and the copy goes on using it.
    """
    copies: dict[int, models.Model] = {}
    for row in model._default_manager.filter(which).order_by("pk"):
        original = row.pk
        for field, change in changes.items():
            if isinstance(change, models.Model):
                setattr(row, field, change)
            elif getattr(row, f"{field}_id") is not None:
                key = getattr(row, f"{field}_id")
                if key in change:
                    setattr(row, field, change[key])
        row.pk = None
        row._state.adding = True
        copies[original] = row
    model._default_manager.bulk_create(copies.values())
    return copies


def _copy_exclusions(options: Mapping[int, models.Model], style: Style) -> None:
    """Which options of the copy cannot be had together: as in the original, among its own and with its base's."""
    pairs = Option.not_with.through.objects.filter(Q(from_option__in=options) | Q(to_option__in=options))
    of_base = set(Option.objects.filter(detail__style=style.base_id).values_list("pk", flat=True))
    keys = {**{pk: pk for pk in of_base}, **{pk: option.pk for pk, option in options.items()}}
    Option.not_with.through.objects.bulk_create(
        Option.not_with.through(from_option_id=keys[one], to_option_id=keys[other])
        for one, other in pairs.values_list("from_option", "to_option")
        if one in keys and other in keys
    )


@transaction.atomic
def set_retired(style: Style, *, retired: bool) -> Done:
    """Takes a style out of sale or back into it; its orders stay."""
    style.retired = retired
    style.save(update_fields=["retired"])
    return Done(f"{style} is {'no longer sold' if retired else 'sold again'}.")
