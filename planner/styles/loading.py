"""Details and parts of styles as model rows, those of a base put together with a style's own, in few queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from typing import Any

from django.db.models import F, Prefetch, prefetch_related_objects

from planner.core.spec import Option as OptionKey
from planner.materials.models import Notion, NotionColour
from planner.styles.family import merged
from planner.styles.models import (
    ClothRole,
    Colourway,
    ColourwayCloth,
    ColourwayThread,
    Detail,
    Operation,
    Piece,
    Seam,
    SeamEdge,
    Style,
    StyleNotion,
)


@dataclass(frozen=True)
class DetailRow:
    """A detail with the names of its options in order; `style` is whose it is.

    `not_with` are pairs of one of its options and an option of another detail it cannot be had together with.
    """

    pk: int
    name: str
    options: tuple[str, ...]
    style: Style
    not_with: tuple[tuple[str, OptionKey], ...] = ()
    option_pks: tuple[int, ...] = ()


def details_of(style: Style) -> list[DetailRow]:
    """The details of a style with their options, in one query; in none where it was read `with_everything`."""
    known: list[DetailRow] | None = getattr(style, "_detail_rows", None)
    return read_details([style])[style.pk] if known is None else known


def read_details(styles: Sequence[Style]) -> dict[int, list[DetailRow]]:
    """Details by the key of the style, in one query; an own one takes the place of its namesake in the base."""
    families = {pk for style in styles for pk in style.family}
    rows = Detail.objects.filter(style__in=families)
    rows = rows.order_by("position", "pk", "options__position", "options__pk", "options__not_with__pk")
    columns = ("style", "pk", "name", "options__pk", "options__name")
    other = ("options__not_with__detail__name", "options__not_with__name", "options__not_with__detail__style")
    gathered: dict[int, dict[tuple[int, str], list[tuple[Any, ...]]]] = defaultdict(dict)
    for style, pk, name, *option in rows.values_list(*columns, *other):
        gathered[style].setdefault((pk, name), []).append(tuple(option))
    return {style.pk: _details_together(style, gathered) for style in styles}


def _details_together(style: Style, gathered: Mapping[int, Mapping[tuple[int, str], Any]]) -> list[DetailRow]:
    found: dict[str, DetailRow] = {}
    for home in filter(None, (style.base, style)):
        for (pk, name), rows in gathered.get(home.pk, {}).items():
            options = {key: option for key, option, *_ in rows if option is not None}
            not_with = tuple(
                (option, (detail, other))
                for _, option, detail, other, theirs in rows
                if theirs in style.family
            )
            found[name] = DetailRow(pk, name, tuple(options.values()), home, not_with, tuple(options))
    return list(found.values())


def exclusions_of(details: Iterable[DetailRow]) -> tuple[tuple[OptionKey, OptionKey], ...]:
    """Pairs of options that exclude each other, each pair once, both of them offered."""
    every = list(details)
    offered = {(detail.name, option) for detail in every for option in detail.options}
    pairs = set()
    for detail in every:
        for option, other in detail.not_with:
            pair = sorted([(detail.name, option), other])
            if offered.issuperset(pair):
                pairs.add((pair[0], pair[1]))
    return tuple(sorted(pairs))


#: What is read with each kind of part.
_WITH: Mapping[type[Any], tuple[str, ...]] = {
    ClothRole: (),
    Piece: ("role", "option__detail", "band__seam"),
    Operation: ("option__detail", "own_machine"),
    Seam: ("operation", "option__detail"),
    StyleNotion: ("notion_colour__notion", "seam", "piece", "size", "option__detail"),
    Colourway: ("thread__notion",),
}


def read_parts(styles: Sequence[Style]) -> None:
    """Gives each style its parts as prefetching would, those of its base put together with its own.

    Ten queries for any number of styles: details, roles, pieces, their outlines, operations, seams, their edges,
    uses of notions, colourways with their threads, their cloths. `part.style` is the style a part is changed at.
    """
    if not styles:
        return
    families = {pk for style in styles for pk in style.family}
    details = read_details(styles)
    rows = {model: _rows(model, families) for model in _WITH}
    prefetch_related_objects(rows[Piece], "outlines")
    edges = SeamEdge.objects.select_related("piece")
    prefetch_related_objects(rows[Seam], Prefetch("edges", queryset=edges))
    cloths = ColourwayCloth.objects.select_related("role", "fabric_colour__fabric")
    cloths = cloths.order_by("role__position", "role__pk")
    prefetch_related_objects(rows[Colourway], Prefetch("cloths", queryset=cloths))
    for style in styles:
        style._detail_rows = details[style.pk]
        offered = {(detail.name, option) for detail in details[style.pk] for option in detail.options}
        for model, every in rows.items():
            own = [row for row in every if row.style_id == style.pk]
            of_base = [row for row in every if row.style_id == style.base_id and model is not Colourway]
            _keep(style, model, merged(style, [*map(copy, of_base), *own], offered))


def _rows(model: type[Any], families: Collection[int]) -> list[Any]:
    rows = model._default_manager.filter(style__in=families).select_related(*_WITH[model])
    if model is Colourway:
        return _with_threads(rows.order_by("position", "pk"))
    return list(rows.order_by("pk") if model is StyleNotion else rows.order_by("position", "pk"))


#: What a colourway's thread of a position is read with, as the columns of each table are in order.
_THREAD = {
    ColourwayThread: ("id", "colourway_id", "position", "notion_colour_id"),
    NotionColour: ("id", "notion_id", "name", "swatch"),
    Notion: ("id", "name"),
}
_PATHS = {
    ColourwayThread: "threads",
    NotionColour: "threads__notion_colour",
    Notion: "threads__notion_colour__notion",
}


def _with_threads(ways: Any) -> list[Colourway]:
    """Colourways with the threads of their positions as prefetching would give them, in one query with both."""
    columns = {
        f"{model.__name__}_{name}": F(f"{_PATHS[model]}__{name}")
        for model in _THREAD
        for name in _THREAD[model]
    }
    found: dict[int, Colourway] = {}
    threads: dict[int, list[ColourwayThread]] = defaultdict(list)
    for row in ways.annotate(**columns).order_by("position", "pk", "threads__position"):
        way = found.setdefault(row.pk, row)
        thread, colour, notion = (_read(model, row) for model in _THREAD)
        if thread is not None:
            colour.notion = notion
            thread.notion_colour, thread.colourway = colour, way
            threads[way.pk].append(thread)
    for way in found.values():
        rows = ColourwayThread.objects.all()
        rows._result_cache, rows._prefetch_done = threads[way.pk], True
        way._prefetched_objects_cache = {"threads": rows}
    return list(found.values())


def _read(model: type[Any], row: Colourway) -> Any:
    """The row of another table that came along with a colourway, None where there is none."""
    values = [getattr(row, f"{model.__name__}_{name}") for name in _THREAD[model]]
    return None if values[0] is None else model.from_db(row._state.db, _THREAD[model], values)


def _keep(style: Style, model: type[Any], parts: list[Any]) -> None:
    """Puts the parts where the related manager of the style looks first."""
    name = model._meta.get_field("style").remote_field.get_accessor_name()
    rows = model._default_manager.all()
    rows._result_cache = parts
    rows._prefetch_done = True
    style._prefetched_objects_cache[name] = rows
