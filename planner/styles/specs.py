"""Styles as the core knows them, read from the database in a fixed number of queries.

One query a table, parent and children in one left join, so the number of queries depends neither on how many
styles are read nor on how many pieces, sizes or options they have.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal
from typing import Any, TypeVar

from django.db.models import Case, When

from planner.core.notions.band_pieces import with_bands
from planner.core.spec import (
    BandSpec,
    ClothKey,
    ColourwaySpec,
    EdgeRef,
    NotionKey,
    NotionUse,
    OperationSpec,
    Option,
    PieceSpec,
    SeamSpec,
    StyleSpec,
    Workshop,
)
from planner.materials.models import Workroom
from planner.materials.specs import cloths, machines, notions
from planner.styles.models import Colourway, Detail, Operation, Piece, Seam, Style, StyleNotion
from planner.styles.shapes import as_text, outline_of_text

Row = dict[str, Any]
RowsByStyle = dict[int, list[Row]]
#: Options by detail, as `StyleSpec.details` has them.
Offers = Mapping[str, tuple[str, ...]]
Part = TypeVar("Part", PieceSpec, SeamSpec, OperationSpec)

_OPTION = ("option__detail__name", "option__name")
_BAND = (
    "band__seam__name", "band__finished_width_mm", "band__folded", "band__ratio", "band__turn_rad", "band__over_head",
)  # fmt: skip


def workshop(style_numbers: Iterable[str] | None = None, *, sizes: Collection[str] | None = None) -> Workshop:
    """Everything a plan looks things up in: these styles (all where None), all cloths, notions and machines, the table.

    Pieces have their outlines in these sizes only (all where None): who asks what an order takes need not read
    those that nobody ordered. Eleven queries: the workroom's settings, seven for the styles, one each for cloths,
    notions and machines. A number that no style has is left out; whoever asks for it will not find it.
    """
    room = Workroom.the()
    wanted: Any = Style.objects.values_list("pk", flat=True)
    if style_numbers is not None:
        numbers = list(style_numbers)
        wanted = wanted.filter(number__in=numbers) if numbers else []
    known = cloths()
    return Workshop(
        styles={number: with_bands(style, known) for number, style in _specs_of(wanted, sizes).items()},
        cloths=known,
        notions=notions(),
        table_length_mm=float(room.table_length_mm),
        most_plies=room.most_plies,
        piece_gap_mm=float(room.piece_gap_mm),
        bundle_size=room.bundle_size,
        machines=machines(),
    )


def style_specs(styles: Iterable[Style]) -> dict[str, StyleSpec]:
    """The styles by their number, in the order of their numbers.

    Seven queries however many styles there are, one more where a queryset is given that was not read yet, and one
    for the cloths where any has a band that is cut to measure.
    """
    found = _specs_of([style.pk for style in styles])
    if not any(piece.band for style in found.values() for piece in style.pieces):
        return found
    known = cloths()
    return {number: with_bands(style, known) for number, style in found.items()}


def _specs_of(pks: Any, drawn_in: Collection[str] | None = None) -> dict[str, StyleSpec]:
    """`pks` is a list of primary keys or a query for them; outlines are read in the sizes of `drawn_in`."""
    if isinstance(pks, list) and not pks:
        return {}
    columns = ("pk", "base", "number", "name", "base_size__name", "size_range__sizes__name")
    sizes = Style.objects.filter(pk__in=pks).order_by("number", "size_range__sizes__position")
    heads = _by(sizes.values(*columns), "pk")
    bases = {rows[0]["base"] for rows in heads.values()} - {None}
    of_style = {"style__in": [*heads, *(bases - heads.keys())]}
    details, exclusions = _details(of_style)
    pieces = _pieces(of_style, drawn_in)
    seams = _seams(of_style)
    operations = _operations(of_style)
    uses = _notion_uses(of_style)
    colourways = _colourways(of_style)
    found = {}
    for pk, rows in heads.items():
        head, base = rows[0], rows[0]["base"]
        offers = {**details.get(base, {}), **details.get(pk, {})}
        steps = together(operations.get(base, ()), operations.get(pk, ()), offers)
        found[head["number"]] = StyleSpec(
            number=head["number"],
            name=head["name"],
            sizes=tuple(row["size_range__sizes__name"] for row in rows if row["size_range__sizes__name"]),
            base_size=head["base_size__name"],
            details=offers,
            pieces=together(pieces.get(base, ()), pieces.get(pk, ()), offers),
            seams=together(seams.get(base, ()), seams.get(pk, ()), offers),
            operations=tuple(sorted(steps, key=lambda step: step.position)),
            notions=tuple(
                use
                for use in (*uses.get(base, ()), *uses.get(pk, ()))
                if use.option is None or _offered(use.option, offers)
            ),
            colourways=colourways.get(pk, {}),
            exclusions=_exclusions_among(exclusions, {pk, base}, offers),
        )
    return found


def together(base: Iterable[Part], own: Iterable[Part], offers: Offers) -> tuple[Part, ...]:
    """Parts of a base and of a style built on it; one of the style's own takes the place of its namesake.

    Parts of options that the style does not offer (it has a detail of that name of its own) are left out.
    """
    mine = {(part.name, part.option): part for part in own}
    kept = [mine.pop((part.name, part.option), part) for part in base]
    found = (*kept, *mine.values())
    return tuple(part for part in found if part.option is None or _offered(part.option, offers))


def _offered(option: Option, offers: Offers) -> bool:
    detail, name = option
    return name in offers.get(detail, ())


def _by(rows: Iterable[Row], column: str) -> dict[int, list[Row]]:
    """Rows gathered by a column, in the order they came."""
    gathered: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        gathered[row[column]].append(row)
    return gathered


def _option(row: Row) -> Option | None:
    if row["option__name"] is None:
        return None
    return row["option__detail__name"], row["option__name"]


#: A pair of options that exclude each other, with the styles that the two belong to.
Exclusion = tuple[frozenset[int], tuple[Option, Option]]


def _details(of_style: Row) -> tuple[dict[int, dict[str, tuple[str, ...]]], list[Exclusion]]:
    """Options by style and detail, and the pairs of them that exclude each other."""
    other = ("detail__style", "detail__name", "name")
    columns = ("style", "name", "options__name", *(f"options__not_with__{column}" for column in other))
    rows = Detail.objects.filter(**of_style).order_by("position", "pk", "options__position", "options__pk")
    details: dict[int, dict[str, tuple[str, ...]]] = defaultdict(dict)
    exclusions = []
    for style, detail, option, theirs, other_detail, other_option in rows.values_list(*columns):
        known = details[style].get(detail, ())
        if option is None:
            details[style][detail] = known
            continue
        details[style][detail] = known if option in known else (*known, option)
        if theirs is not None:
            pair = _in_order((detail, option), (other_detail, other_option))
            exclusions.append((frozenset((style, theirs)), pair))
    return details, exclusions


def _in_order(one: Option, other: Option) -> tuple[Option, Option]:
    return (one, other) if one <= other else (other, one)


def _exclusions_among(
    pairs: Iterable[Exclusion], family: set[int], offers: Offers
) -> tuple[tuple[Option, Option], ...]:
    """Those of a style and its base, each pair once, both options offered."""
    return tuple(
        sorted(
            {pair for styles, pair in pairs if styles <= family and all(_offered(o, offers) for o in pair)}
        )
    )


def _pieces(of_style: Row, drawn_in: Collection[str] | None) -> dict[int, list[PieceSpec]]:
    columns = ("pk", "style", "name", "role__name", "count", "pair", "may_turn", "is_band", *_OPTION)
    columns += ("seam_allowance_mm", "edge_allowances", *_BAND)
    shape: Any = as_text("outlines__shape")
    if drawn_in is not None:
        shape = Case(When(outlines__size__name__in=drawn_in, then=shape))
    drawn = ("text", "outlines__size__name", "outlines__is_interpolated")
    rows = Piece.objects.filter(**of_style).annotate(text=shape)
    rows = rows.order_by("position", "pk", "outlines__size__position")
    specs: dict[int, list[PieceSpec]] = defaultdict(list)
    for of_piece in _by(rows.values(*columns, *drawn), "pk").values():
        piece = of_piece[0]
        specs[piece["style"]].append(
            PieceSpec(
                name=piece["name"],
                role=piece["role__name"],
                count=piece["count"],
                pair=piece["pair"],
                may_turn=piece["may_turn"],
                option=_option(piece),
                outlines={
                    row["outlines__size__name"]: outline_of_text(row["text"])
                    for row in of_piece
                    if row["text"] is not None
                },
                is_band=piece["is_band"],
                allowance_mm=float(piece["seam_allowance_mm"]),
                edge_allowances=piece["edge_allowances"],
                interpolated=frozenset(
                    row["outlines__size__name"] for row in of_piece if row["outlines__is_interpolated"]
                ),
                band=_band(piece),
            )
        )
    return specs


def _band(piece: Row) -> BandSpec | None:
    if piece["band__seam__name"] is None:
        return None
    return BandSpec(
        seam=piece["band__seam__name"],
        finished_width_mm=float(piece["band__finished_width_mm"]),
        folded=piece["band__folded"],
        ratio=_number(piece["band__ratio"]),
        turn_rad=piece["band__turn_rad"],
        over_head=piece["band__over_head"],
    )


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def _seams(of_style: Row) -> dict[int, list[SeamSpec]]:
    columns = (
        "pk",
        "style",
        "name",
        "times",
        "operation__name",
        *_OPTION,
        "ratio",
        "fullness",
        "edges__piece__name",
        "edges__edge",
        "edges__side",
        "edges__takes",
    )
    rows = Seam.objects.filter(**of_style).order_by("position", "pk", "edges__position", "edges__pk")
    specs: dict[int, list[SeamSpec]] = defaultdict(list)
    for of_seam in _by(rows.values(*columns), "pk").values():
        seam = of_seam[0]
        specs[seam["style"]].append(
            SeamSpec(
                name=seam["name"],
                option=_option(seam),
                edges=tuple(
                    EdgeRef(
                        row["edges__piece__name"], row["edges__edge"], row["edges__side"], row["edges__takes"]
                    )
                    for row in of_seam
                    if row["edges__edge"] is not None
                ),
                times=seam["times"],
                operation=seam["operation__name"],
                ratio=float(seam["ratio"]),
                fullness=seam["fullness"],
            )
        )
    return specs


def _operations(of_style: Row) -> dict[int, list[OperationSpec]]:
    columns = (
        "style",
        "name",
        "position",
        "machine",
        "stitch_type",
        "standard_minutes",
        "setup_note",
        "own_machine__name",
        "stitch_length_mm",
        "stitch_width_mm",
        "layers",
        "differential_feed",
        "tension_note",
        "needle_note",
        "quality_note",
        *_OPTION,
    )
    rows = Operation.objects.filter(**of_style).order_by("position", "pk").values(*columns)
    specs: dict[int, list[OperationSpec]] = defaultdict(list)
    for row in rows:
        specs[row["style"]].append(
            OperationSpec(
                name=row["name"],
                option=_option(row),
                position=row["position"],
                machine=row["machine"],
                stitch_type=row["stitch_type"],
                standard_minutes=float(row["standard_minutes"]),
                setup_note=row["setup_note"],
                own_machine=row["own_machine__name"] or "",
                stitch_length_mm=_number(row["stitch_length_mm"]),
                stitch_width_mm=_number(row["stitch_width_mm"]),
                layers=row["layers"],
                differential_feed=_number(row["differential_feed"]),
                tension_note=row["tension_note"],
                needle_note=row["needle_note"],
                quality_note=row["quality_note"],
            )
        )
    return specs


def _notion_uses(of_style: Row) -> dict[int, list[NotionUse]]:
    columns = (
        "style",
        "notion_colour__notion__name",
        "notion_colour__name",
        "basis",
        "quantity",
        "seam__name",
        "piece__name",
        "size__name",
    )
    rows = (
        StyleNotion.objects.filter(**of_style).order_by("pk").values(*columns, "ratio", "tail_mm", *_OPTION)
    )
    specs: dict[int, list[NotionUse]] = defaultdict(list)
    for row in rows:
        specs[row["style"]].append(
            NotionUse(
                notion=NotionKey(row["notion_colour__notion__name"], row["notion_colour__name"]),
                option=_option(row),
                basis=row["basis"],
                quantity=float(row["quantity"]),
                seam=row["seam__name"] or "",
                ratio=float(row["ratio"]),
                tail_mm=float(row["tail_mm"]),
                piece=row["piece__name"] or "",
                size=row["size__name"] or "",
            )
        )
    return specs


def _colourways(of_style: Row) -> dict[int, dict[str, ColourwaySpec]]:
    columns = (
        "pk",
        "style",
        "name",
        "thread__notion__name",
        "thread__name",
        "cloths__role__name",
        "cloths__fabric_colour__fabric__name",
        "cloths__fabric_colour__name",
        "threads__position",
        "threads__notion_colour__notion__name",
        "threads__notion_colour__name",
    )
    rows = Colourway.objects.filter(**of_style).order_by("position", "pk", "cloths__role__position")
    specs: dict[int, dict[str, ColourwaySpec]] = defaultdict(dict)
    for of_colourway in _by(rows.values(*columns), "pk").values():
        first = of_colourway[0]
        thread = first["thread__notion__name"]
        specs[first["style"]][first["name"]] = ColourwaySpec(
            name=first["name"],
            cloths={
                row["cloths__role__name"]: ClothKey(
                    row["cloths__fabric_colour__fabric__name"], row["cloths__fabric_colour__name"]
                )
                for row in of_colourway
                if row["cloths__role__name"] is not None
            },
            thread=None if thread is None else NotionKey(thread, first["thread__name"]),
            threads={
                row["threads__position"]: NotionKey(
                    row["threads__notion_colour__notion__name"], row["threads__notion_colour__name"]
                )
                for row in of_colourway
                if row["threads__position"] is not None
            },
        )
    return specs
