"""The parts of styles as their tables hold them: one query a table, parent and children in one left join.

Each function takes the filter for the styles whose parts are wanted and gives the parts by the key of their style,
those of a base with the base.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from typing import Any

from django.db.models import Case, When

from planner.core.spec import (
    BandSpec,
    ColourwaySpec,
    EdgeRef,
    NotionKey,
    NotionUse,
    OperationSpec,
    Option,
    PieceSpec,
    SeamSpec,
)
from planner.styles import spec_parts as parts
from planner.styles.models import Colourway, Detail, Operation, Piece, Seam, StyleNotion
from planner.styles.shapes import as_text, marks_of_text, outline_of_text

Row = dict[str, Any]
#: A pair of options that exclude each other, with the styles that the two belong to.
Exclusion = tuple[frozenset[int], tuple[Option, Option]]

_OPTION = ("option__detail__name", "option__name")
_BAND = {column: f"band__{column}" for column in parts.BAND_COLUMNS}


def by(rows: Iterable[Row], column: str) -> dict[int, list[Row]]:
    """Rows gathered by a column, in the order they came."""
    gathered: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        gathered[row[column]].append(row)
    return gathered


def _option(row: Row) -> Option | None:
    if row["option__name"] is None:
        return None
    return row["option__detail__name"], row["option__name"]


def details(of_style: Row) -> tuple[dict[int, dict[str, tuple[str, ...]]], list[Exclusion]]:
    """Options by style and detail, and the pairs of them that exclude each other."""
    other = ("detail__style", "detail__name", "name")
    columns = ("style", "name", "options__name", *(f"options__not_with__{column}" for column in other))
    rows = Detail.objects.filter(**of_style).order_by("position", "pk", "options__position", "options__pk")
    found: dict[int, dict[str, tuple[str, ...]]] = defaultdict(dict)
    exclusions = []
    for style, detail, option, theirs, other_detail, other_option in rows.values_list(*columns):
        known = found[style].get(detail, ())
        if option is None:
            found[style][detail] = known
            continue
        found[style][detail] = known if option in known else (*known, option)
        if theirs is not None:
            pair = _in_order((detail, option), (other_detail, other_option))
            exclusions.append((frozenset((style, theirs)), pair))
    return found, exclusions


def _in_order(one: Option, other: Option) -> tuple[Option, Option]:
    return (one, other) if one <= other else (other, one)


def pieces(of_style: Row, drawn_in: Collection[str] | None, *, marks: bool) -> dict[int, list[PieceSpec]]:
    """Pieces with their outlines in the sizes of `drawn_in`, in all where it is None; with their `marks` or not."""
    shape: Any = as_text("outlines__shape")
    if drawn_in is not None:
        shape = Case(When(outlines__size__name__in=drawn_in, then=shape))
    columns = (
        "pk",
        "style",
        "role__name",
        "band__seam__name",
        *parts.PIECE_COLUMNS,
        *_BAND.values(),
        *_OPTION,
    )
    drawn: tuple[str, ...] = ("text", "outlines__size__name", "outlines__is_interpolated")
    rows = Piece.objects.filter(**of_style).annotate(text=shape)
    if marks:
        rows = rows.annotate(marks_text=as_text("outlines__marks"))
        drawn = (*drawn, "marks_text")
    rows = rows.order_by("position", "pk", "outlines__size__position")
    specs: dict[int, list[PieceSpec]] = defaultdict(list)
    for of_piece in by(rows.values(*columns, *drawn), "pk").values():
        piece = of_piece[0]
        spec = parts.piece_spec(
            piece,
            role=piece["role__name"],
            option=_option(piece),
            outlines={
                row["outlines__size__name"]: outline_of_text(row["text"])
                for row in of_piece
                if row["text"] is not None
            },
            interpolated=frozenset(
                row["outlines__size__name"] for row in of_piece if row["outlines__is_interpolated"]
            ),
            band=_band(piece),
            marks={
                row["outlines__size__name"]: marks_of_text(row["marks_text"])
                for row in of_piece
                if row.get("marks_text") and row["text"] is not None
            },
        )
        specs[piece["style"]].append(spec)
    return specs


def _band(piece: Row) -> BandSpec | None:
    seam = piece["band__seam__name"]
    if seam is None:
        return None
    return parts.band_spec({column: piece[path] for column, path in _BAND.items()}, seam=seam)


def seams(of_style: Row) -> dict[int, list[SeamSpec]]:
    """Seams with the edges they join."""
    edge = ("edges__piece__name", "edges__edge", "edges__side", "edges__takes")
    rows = Seam.objects.filter(**of_style).order_by("position", "pk", "edges__position", "edges__pk")
    columns = ("pk", "style", "operation__name", *parts.SEAM_COLUMNS, *_OPTION, *edge)
    specs: dict[int, list[SeamSpec]] = defaultdict(list)
    for of_seam in by(rows.values(*columns), "pk").values():
        seam = of_seam[0]
        joined = (
            EdgeRef(*(row[column] for column in edge)) for row in of_seam if row["edges__edge"] is not None
        )
        spec = parts.seam_spec(seam, option=_option(seam), edges=joined, operation=seam["operation__name"])
        specs[seam["style"]].append(spec)
    return specs


def operations(of_style: Row) -> dict[int, list[OperationSpec]]:
    """Operations in sewing order."""
    rows = Operation.objects.filter(**of_style).order_by("position", "pk")
    specs: dict[int, list[OperationSpec]] = defaultdict(list)
    for row in rows.values("style", "own_machine__name", *parts.OPERATION_COLUMNS, *_OPTION):
        spec = parts.operation_spec(row, option=_option(row), own_machine=row["own_machine__name"] or "")
        specs[row["style"]].append(spec)
    return specs


def notion_uses(of_style: Row) -> dict[int, list[NotionUse]]:
    """What is taken of notions."""
    notion = ("notion_colour__notion__name", "notion_colour__name")
    where = ("seam__name", "piece__name", "size__name")
    rows = StyleNotion.objects.filter(**of_style).order_by("pk")
    specs: dict[int, list[NotionUse]] = defaultdict(list)
    for row in rows.values("style", *notion, *where, *parts.NOTION_COLUMNS, *_OPTION):
        spec = parts.notion_use(
            row,
            notion=NotionKey(*(row[column] for column in notion)),
            option=_option(row),
            seam=row["seam__name"] or "",
            piece=row["piece__name"] or "",
            size=row["size__name"] or "",
        )
        specs[row["style"]].append(spec)
    return specs


def colourways(of_style: Row) -> dict[int, dict[str, ColourwaySpec]]:
    """Colourways by name, with their cloths and threads."""
    cloth = ("cloths__role__name", "cloths__fabric_colour__fabric__name", "cloths__fabric_colour__name")
    thread = (
        "threads__position", "threads__notion_colour__notion__name", "threads__notion_colour__name",
    )  # fmt: skip
    main = ("thread__notion__name", "thread__name")
    rows = Colourway.objects.filter(**of_style).order_by("position", "pk", "cloths__role__position")
    specs: dict[int, dict[str, ColourwaySpec]] = defaultdict(dict)
    for of_colourway in by(rows.values("pk", "style", "name", *main, *cloth, *thread), "pk").values():
        first = of_colourway[0]
        specs[first["style"]][first["name"]] = parts.colourway_spec(
            first["name"],
            cloths=_each(of_colourway, cloth),
            thread=next(_each([first], main), None),
            threads=_each(of_colourway, thread),
        )
    return specs


def _each(rows: Iterable[Row], columns: tuple[str, ...]) -> Iterator[tuple[Any, ...]]:
    """These columns of the rows that have the first of them."""
    return (tuple(row[column] for column in columns) for row in rows if row[columns[0]] is not None)
