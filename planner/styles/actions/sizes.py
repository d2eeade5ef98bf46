"""The sizes of a style."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.db import models, transaction

from planner.styles.actions.results import Asks, Done, Refused
from planner.styles.family import numbers_of
from planner.styles.models import (
    PieceOutline,
    Size,
    SizeRange,
    Style,
    StyleNotion,
)


def range_of(names: Sequence[str]) -> SizeRange:
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
    a range of its own. A size that is ordered stays, and one in which alone a notion is taken; one that has outlines
    goes only `even_with_outlines`.
    """
    gone = list(style.size_range.sizes.exclude(name__in=names))
    others = style.size_range.styles.exclude(pk=style.pk)
    if only_this and (style.base or style.built_on_it.exists()):
        return Refused(_of_one_range(style))
    if only_this and others.exists():
        return _split_sizes(style, gone, names, base_size, even_with_outlines=even_with_outlines)
    based = others.filter(base_size__in=gone).first()
    if based is not None:
        return Refused(f"{based.base_size} is the base size of {based}, which has the same sizes.")
    ordered = next((size for size in gone if _is_ordered(size)), None)
    if ordered is not None:
        return Refused(f"{ordered} is ordered already, so it has to stay.")
    if needed := needed_by_notions(StyleNotion.objects.filter(size__in=gone), names):
        return Refused(needed)
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


def _of_one_range(style: Style) -> str:
    if style.base:
        return f"{style.number} is built on {style.base}, so the two have the same sizes."
    built = numbers_of(style.built_on_it.order_by("number"))
    return f"{built} {'are' if ' ' in built else 'is'} built on this style, so they have the same sizes."


def _split_sizes(
    style: Style, gone: Sequence[Size], names: Sequence[str], base_size: str, *, even_with_outlines: bool
) -> Done | Refused | Asks:
    if style.order_lines.exists():
        return Refused(
            "This style is ordered already, so it has to keep its size range. Copy it and change the copy."
        )
    if needed := needed_by_notions(style.notions.all(), names):
        return Refused(needed)
    asks = _asks_for(PieceOutline.objects.filter(piece__style=style, size__in=gone))
    if asks and not even_with_outlines:
        return asks
    new = {size.name: size for size in range_of(names).sizes.all()}
    PieceOutline.objects.filter(piece__style=style, size__in=gone).delete()
    rows = list(PieceOutline.objects.filter(piece__style=style).select_related("size"))
    for row in rows:
        row.size = new[row.size.name]
    PieceOutline.objects.bulk_update(rows, ["size"])
    notions_follow(style, new)
    style.base_size = new[base_size]
    style.size_range = style.base_size.size_range
    style.save(update_fields=["base_size", "size_range"])
    return Done("The style has sizes of its own now.")


def needed_by_notions(notions: models.QuerySet[StyleNotion], names: Sequence[str]) -> str:
    """Why sizes other than these cannot go, because one of the notions is taken in such a size alone; "" if none is."""
    of_gone = notions.filter(size__isnull=False).exclude(size__name__in=names)
    row = of_gone.select_related("size", "style", "notion_colour__notion").order_by("pk").first()
    if row is None:
        return ""
    return (
        f"{row.notion_colour} of style {row.style.number} is taken in {row.size} only, so that size has to stay. "
        "Change that notion or take it out first."
    )


def notions_follow(style: Style, sizes: Mapping[str, Size]) -> None:
    """Notions that a style takes in one size only take it in that of the same name among its new `sizes`."""
    rows = list(style.notions.filter(size__isnull=False).select_related("size"))
    for row in rows:
        row.size = sizes[row.size.name]
    StyleNotion.objects.bulk_update(rows, ["size"])


def _is_ordered(size: Size) -> bool:
    """Whether any row of another room holds on to the size; all such relations protect it, and so do notions."""
    relations = (r for r in Size._meta.get_fields(include_hidden=True) if r.auto_created and not r.concrete)
    own = {Style, PieceOutline, StyleNotion}
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
