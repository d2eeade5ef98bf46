"""From rows of the database to what the checks and the page look at, without another query than named."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from operator import itemgetter
from typing import Any

from django.db.models import F, Prefetch, Q, prefetch_related_objects

from planner.core.outline import Outline
from planner.core.spec import (
    BandSpec,
    ClothKey,
    ColourwaySpec,
    EdgeRef,
    NotionKey,
    NotionUse,
    OperationSpec,
    PieceSpec,
    SeamSpec,
    StyleSpec,
)
from planner.core.spec import Option as OptionKey
from planner.materials.models import Notion, NotionColour
from planner.styles.family import merged, option_key
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
from planner.styles.shapes import outline_of
from planner.styles.specs import together

#: Stands for an outline that is there but was not read, where only its being there matters.
UNREAD = Outline((), ())
_NO_CLOTH = ClothKey("", "")
#: Stands for a band that is cut to measure, whose seam was not read.
_UNREAD_BAND = BandSpec("", 1.0)


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


def spec_of(style: Style, details: Iterable[DetailRow]) -> StyleSpec:
    """A style read by `with_everything`, and its details, as the core knows it. No query."""
    names = {size.pk: size.name for size in style.size_range.sizes.all()}
    details = list(details)
    return StyleSpec(
        number=style.number,
        name=style.name,
        sizes=tuple(names.values()),
        base_size=style.base_size.name,
        details={detail.name: detail.options for detail in details},
        pieces=tuple(_piece(piece, names) for piece in style.pieces.all()),
        seams=tuple(
            SeamSpec(
                seam.name,
                option_key(seam.option),
                tuple(
                    EdgeRef(edge.piece.name, edge.edge, edge.side, edge.takes) for edge in seam.edges.all()
                ),
                seam.times,
                seam.operation.name,
                float(seam.ratio),
                seam.fullness,
            )
            for seam in style.seams.all()
        ),
        operations=tuple(
            OperationSpec(
                step.name,
                option_key(step.option),
                step.position,
                step.machine,
                step.stitch_type,
                float(step.standard_minutes),
                step.setup_note,
                step.own_machine.name if step.own_machine else "",
                _number(step.stitch_length_mm),
                _number(step.stitch_width_mm),
                step.layers,
                _number(step.differential_feed),
                step.tension_note,
                step.needle_note,
                step.quality_note,
            )
            for step in style.operations.all()
        ),
        notions=tuple(
            NotionUse(
                NotionKey(use.notion_colour.notion.name, use.notion_colour.name),
                option_key(use.option),
                use.basis,
                float(use.quantity),
                use.seam.name if use.seam else "",
                float(use.ratio),
                float(use.tail_mm),
                use.piece.name if use.piece else "",
                use.size.name if use.size else "",
            )
            for use in style.notions.all()
        ),
        colourways={way.name: _colourway(way) for way in style.colourways.all()},
        exclusions=exclusions_of(details),
    )


def _piece(piece: Piece, sizes: dict[int, str]) -> PieceSpec:
    return PieceSpec(
        name=piece.name,
        role=piece.role.name,
        count=piece.count,
        pair=piece.pair,
        may_turn=piece.may_turn,
        option=option_key(piece.option),
        outlines={
            sizes[row.size_id]: outline_of(row.shape) for row in piece.outlines.all() if row.size_id in sizes
        },
        is_band=piece.is_band,
        allowance_mm=float(piece.seam_allowance_mm),
        edge_allowances=piece.edge_allowances,
        interpolated=frozenset(
            sizes[row.size_id] for row in piece.outlines.all() if row.is_interpolated and row.size_id in sizes
        ),
        band=_band(piece),
    )


def _band(piece: Piece) -> BandSpec | None:
    band = getattr(piece, "band", None)
    if band is None:
        return None
    return BandSpec(
        band.seam.name,
        float(band.finished_width_mm),
        band.folded,
        _number(band.ratio),
        band.turn_rad,
        band.over_head,
    )


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def _colourway(way: Colourway) -> ColourwaySpec:
    thread = way.thread
    return ColourwaySpec(
        way.name,
        {
            cloth.role.name: ClothKey(cloth.fabric_colour.fabric.name, cloth.fabric_colour.name)
            for cloth in way.cloths.all()
        },
        NotionKey(thread.notion.name, thread.name) if thread else None,
        {
            row.position: NotionKey(row.notion_colour.notion.name, row.notion_colour.name)
            for row in way.threads.all()
        },
    )


def specs_without_shapes(styles: Any) -> dict[int, StyleSpec]:
    """What decides whether styles can be planned, by primary key: sizes, options, pieces, colourways.

    Four queries for any number of styles. Outlines are :data:`UNREAD`; seams, operations and notions are left
    out. `styles` is a queryset.
    """
    columns = ("pk", "base", "number", "name", "base_size__name")
    heads = styles.order_by("number", "size_range__sizes__position").values_list(
        *columns, "size_range__sizes__name"
    )
    own = styles.order_by()
    family = Q(style__in=own.values("pk")) | Q(style__in=own.filter(base__isnull=False).values("base"))
    details, pieces = _details_without_names(family), _pieces_without_shapes(family)
    colourways = _colourways_without_cloths(own.values("pk"))
    found = {}
    for (pk, base, number, name, base_size), rows in groupby(heads, itemgetter(0, 1, 2, 3, 4)):
        offers = {**details.get(base, {}), **details.get(pk, {})}
        found[pk] = StyleSpec(
            number=number,
            name=name,
            sizes=tuple(size for *_, size in rows if size),
            base_size=base_size,
            details=offers,
            pieces=together(pieces.get(base, ()), pieces.get(pk, ()), offers),
            colourways=colourways.get(pk, {}),
        )
    return found


def _details_without_names(family: Q) -> dict[int, dict[str, tuple[str, ...]]]:
    rows = Detail.objects.filter(family).order_by("style", "position", "pk", "options__position")
    found: dict[int, dict[str, tuple[str, ...]]] = defaultdict(dict)
    values = rows.values_list("style", "pk", "name", "options__name")
    for (style, _, name), options in groupby(values, itemgetter(0, 1, 2)):
        found[style][name] = tuple(option for *_, option in options if option is not None)
    return found


def _pieces_without_shapes(family: Q) -> dict[int, list[PieceSpec]]:
    rows = Piece.objects.filter(family).order_by("style", "position", "pk")
    columns = ("style", "pk", "name", "role__name", "count", "pair", "may_turn", "band")
    option = ("option__detail__name", "option__name")
    found: dict[int, list[PieceSpec]] = defaultdict(list)
    values = rows.values_list(*columns, *option, "outlines__size__name")
    for head, outlines in groupby(values, itemgetter(*range(10))):
        style, _, name, role, count, pair, may_turn, measured, detail, chosen = head
        sizes = dict.fromkeys((size for *_, size in outlines if size is not None), UNREAD)
        key = None if chosen is None else (detail, chosen)
        band = None if measured is None else _UNREAD_BAND
        found[style].append(PieceSpec(name, role, count, pair, may_turn, key, sizes, band=band))
    return found


def _colourways_without_cloths(pks: Any) -> dict[int, dict[str, ColourwaySpec]]:
    rows = Colourway.objects.filter(style__in=pks).order_by("style", "position", "pk")
    found: dict[int, dict[str, ColourwaySpec]] = defaultdict(dict)
    for (style, _, name), roles in groupby(
        rows.values_list("style", "pk", "name", "cloths__role__name"), itemgetter(0, 1, 2)
    ):
        cloths = dict.fromkeys((role for *_, role in roles if role is not None), _NO_CLOTH)
        found[style][name] = ColourwaySpec(name, cloths, None)
    return found
