"""From rows of the database to what the checks and the page look at, without another query than named."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from typing import Any

from planner.core.outline import Outline, outline_from_json
from planner.core.spec import (
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
from planner.styles.models import Colourway, Detail, Option, Piece, Style

#: Stands for an outline that is there but was not read, where only its being there matters.
UNREAD = Outline((), ())
_NO_CLOTH = ClothKey("", "")


@dataclass(frozen=True)
class DetailRow:
    """A detail with the names of its options in order."""

    pk: int
    name: str
    options: tuple[str, ...]


def details_of(style: Style) -> list[DetailRow]:
    """The details of a style with their options, in one query."""
    rows = Detail.objects.filter(style=style).order_by("position", "pk", "options__position", "options__pk")
    found: list[DetailRow] = []
    for (pk, name), options in groupby(rows.values_list("pk", "name", "options__name"), itemgetter(0, 1)):
        found.append(DetailRow(pk, name, tuple(option for *_, option in options if option is not None)))
    return found


def spec_of(style: Style, details: Iterable[DetailRow]) -> StyleSpec:
    """A style read by `with_everything`, and its details, as the core knows it. No query."""
    names = {size.pk: size.name for size in style.size_range.sizes.all()}
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
            )
            for use in style.notions.all()
        ),
        colourways={way.name: _colourway(way) for way in style.colourways.all()},
    )


def option_key(option: Option | None) -> OptionKey | None:
    """(detail, option) of an option whose detail is read already."""
    return None if option is None else (option.detail.name, option.name)


def _piece(piece: Piece, sizes: dict[int, str]) -> PieceSpec:
    return PieceSpec(
        name=piece.name,
        role=piece.role.name,
        count=piece.count,
        pair=piece.pair,
        may_turn=piece.may_turn,
        option=option_key(piece.option),
        outlines={
            sizes[row.size_id]: outline_from_json(row.shape)
            for row in piece.outlines.all()
            if row.size_id in sizes
        },
        is_band=piece.is_band,
        allowance_mm=float(piece.seam_allowance_mm),
        edge_allowances=piece.edge_allowances,
        interpolated=frozenset(
            sizes[row.size_id] for row in piece.outlines.all() if row.is_interpolated and row.size_id in sizes
        ),
    )


def _colourway(way: Colourway) -> ColourwaySpec:
    thread = way.thread
    return ColourwaySpec(
        way.name,
        {
            cloth.role.name: ClothKey(cloth.fabric_colour.fabric.name, cloth.fabric_colour.name)
            for cloth in way.cloths.all()
        },
        NotionKey(thread.notion.name, thread.name) if thread else None,
    )


def specs_without_shapes(styles: Any) -> dict[int, StyleSpec]:
    """What decides whether styles can be planned, by primary key: sizes, options, pieces, colourways.

    Four queries for any number of styles. Outlines are :data:`UNREAD`; seams, operations and notions are left
    out. `styles` is a queryset.
    """
    pks = styles.order_by().values("pk")
    heads = styles.order_by("number", "size_range__sizes__position").values_list(
        "pk", "number", "name", "base_size__name", "size_range__sizes__name"
    )
    details = _details_without_names(pks)
    pieces = _pieces_without_shapes(pks)
    colourways = _colourways_without_cloths(pks)
    return {
        pk: StyleSpec(
            number=number,
            name=name,
            sizes=tuple(size for *_, size in rows if size),
            base_size=base,
            details=details.get(pk, {}),
            pieces=tuple(pieces.get(pk, ())),
            colourways=colourways.get(pk, {}),
        )
        for (pk, number, name, base), rows in groupby(heads, itemgetter(0, 1, 2, 3))
    }


def _details_without_names(pks: Any) -> dict[int, dict[str, tuple[str, ...]]]:
    rows = Detail.objects.filter(style__in=pks).order_by("style", "position", "pk", "options__position")
    found: dict[int, dict[str, tuple[str, ...]]] = defaultdict(dict)
    values = rows.values_list("style", "pk", "name", "options__name")
    for (style, _, name), options in groupby(values, itemgetter(0, 1, 2)):
        found[style][name] = tuple(option for *_, option in options if option is not None)
    return found


def _pieces_without_shapes(pks: Any) -> dict[int, list[PieceSpec]]:
    rows = Piece.objects.filter(style__in=pks).order_by("style", "position", "pk")
    columns = ("style", "pk", "name", "role__name", "count", "pair", "may_turn", "outlines__size__name")
    found: dict[int, list[PieceSpec]] = defaultdict(list)
    for head, outlines in groupby(rows.values_list(*columns), itemgetter(0, 1, 2, 3, 4, 5, 6)):
        style, _, name, role, count, pair, may_turn = head
        sizes = dict.fromkeys((size for *_, size in outlines if size is not None), UNREAD)
        found[style].append(PieceSpec(name, role, count, pair, may_turn, None, sizes))
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
