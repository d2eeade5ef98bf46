"""What the pages of this room show, worked out once so that templates only lay it out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass

from django.db.models import F

from planner.core.notions.band_pieces import with_bands
from planner.core.outline import outline_from_json
from planner.core.spec import PieceSpec, StyleSpec
from planner.core.units import Display
from planner.materials.models import Workroom
from planner.styles import checks
from planner.styles.actions.outlines import between
from planner.styles.coverage_page import CoverageTable, cloths_in, coverage_table
from planner.styles.drawings import Figure, Nest, centred, figures, nest
from planner.styles.loaded_spec import spec_of
from planner.styles.loading import DetailRow, details_of
from planner.styles.models import (
    ClothRole,
    Colourway,
    ColourwayCloth,
    Piece,
    PieceOutline,
    Size,
    Style,
)
from planner.styles.seams_page import SeamRow, seam_rows

#: Longest side of the largest piece on the page, and of the small drawing in the list.
PIECE_PX = 230
NEST_PX = 190
LIST_PX = 92
#: Main pieces drawn in the list.
LIST_PIECES = 2


@dataclass(frozen=True)
class PieceRow:
    """A piece with its drawing in the chosen size (None where it has none) and all sizes over each other."""

    piece: Piece
    count: str
    option: str
    figure: Figure | None
    nest: Nest | None
    measures_mm: tuple[float, float] | None
    interpolated: bool = False
    to_measure: bool = False
    #: (fabric, across, along in mm) of a band whose cloths ask for different lengths.
    cut_from: Sequence[tuple[str, float, float]] = ()


@dataclass(frozen=True)
class OutlineCell:
    """Area of a piece in a size, None where it has no outline.

    `between` are the sizes it could be made from, or was made from where it is `interpolated`.
    """

    size: Size
    area_cm2: float | None
    interpolated: bool = False
    to_measure: bool = False
    between: tuple[Size, Size] | None = None
    is_uneven: bool = False


@dataclass(frozen=True)
class SaidSlip:
    """What looks like a slip, in words, and the piece on whose page of edges it is looked at, if any."""

    problem: checks.Problem
    text: str
    piece: Piece | None = None


@dataclass(frozen=True)
class ColourwayRow:
    """A colourway with the cloth of each role of the style, None where none is chosen."""

    colourway: Colourway
    cloths: tuple[tuple[ClothRole, ColourwayCloth | None], ...]


@dataclass(frozen=True)
class StylePage:
    """Everything on a style's page."""

    style: Style
    chosen: Size
    sizes: Sequence[Size]
    details: Sequence[DetailRow]
    pieces: Sequence[PieceRow]
    outlines: Sequence[tuple[Piece, Sequence[OutlineCell]]]
    colourways: Sequence[ColourwayRow]
    minutes: float
    stopping: Sequence[tuple[checks.Problem, str]]
    slips: Sequence[SaidSlip]
    cords: Sequence[str]
    shared_by: Sequence[str]
    seams: Sequence[SeamRow]
    grading: Sequence[tuple[Piece, Sequence[str]]]
    coverage: CoverageTable

    @property
    def interpolated(self) -> list[str]:
        """Sizes in which a piece was made from the sizes beside it."""
        made = {cell.size.name for _, cells in self.outlines for cell in cells if cell.interpolated}
        return [size.name for size in self.sizes if size.name in made]

    @property
    def answer(self) -> str:
        """The first line of the page."""
        missing = len(self.stopping)
        if missing == 1:
            return f"Not ready to plan: {self.stopping[0][1]}."
        if missing:
            return f"Not ready to plan: {missing} things are missing."
        slips = len(self.slips)
        look = "" if not slips else f" {slips} {'thing looks' if slips == 1 else 'things look'} like a slip."
        if not self.coverage.is_complete:
            said = self.coverage.answer
            return f"Not wholly ready to plan: {said[0].lower()}{said[1:]}{look}"
        return "Ready to plan." + look


def style_page(style: Style, *, size: str = "") -> StylePage:
    """The page of a style read by `with_everything`, drawn in a size (the base size where it has no such)."""
    sizes = list(style.size_range.sizes.all())
    chosen = next((s for s in sizes if s.name == size), None)
    chosen = chosen or next((s for s in sizes if s.pk == style.base_size_id), style.base_size)
    details = details_of(style)
    spec = with_bands(spec_of(style, details), cloths_in(style))
    display = Workroom.the().display
    slips = checks.slips(spec, display)
    every_garment = [step for step in style.operations.all() if step.option_id is None]
    uses = [str(use.notion_colour) for use in style.notions.all()]
    cords = checks.cords([piece.name for piece in spec.pieces] + uses) if style.for_children else []
    uneven = {(slip.piece, slip.size) for slip in slips if isinstance(slip, checks.OddGrade)}
    return StylePage(
        style=style,
        chosen=chosen,
        sizes=sizes,
        details=details,
        pieces=_piece_rows(style, spec, chosen.name),
        outlines=[
            (
                piece,
                _cells(piece, sizes, {size for name, size in uneven if name == known.name})
                if known.band is None
                else _measured_cells(known, sizes),
            )
            for piece, known in zip(style.pieces.all(), spec.pieces, strict=True)
        ],
        colourways=_colourway_rows(style),
        seams=seam_rows(list(style.seams.all()), spec, display),
        grading=_grading(slips, _by_name(style, spec)),
        minutes=float(sum(step.standard_minutes for step in every_garment)),
        stopping=checks.in_words(checks.stopping(spec), spec.sizes, display),
        slips=_said_slips(slips, spec, _by_name(style, spec), display),
        cords=cords,
        coverage=coverage_table(style, spec),
        shared_by=sorted(filter(None, (style.shared_by or "").split(","))),
    )


def _piece_rows(style: Style, spec: StyleSpec, size: str) -> list[PieceRow]:
    drawn = [piece for piece in spec.pieces if size in piece.outlines]
    by_name = dict(
        zip(
            (piece.name for piece in drawn),
            figures([piece.outlines[size] for piece in drawn], most_px=PIECE_PX),
            strict=True,
        )
    )
    rows = []
    for piece, known in zip(style.pieces.all(), spec.pieces, strict=True):
        shape = known.outlines.get(size)
        rows.append(
            PieceRow(
                piece=piece,
                count=count_in_words(known),
                option=": ".join(known.option) if known.option else "",
                figure=by_name.get(known.name),
                nest=nest(
                    known.outlines if known.band is None else centred(known.outlines),
                    base_size=spec.base_size,
                    most_px=NEST_PX,
                ),
                measures_mm=(shape.length_mm, shape.width_mm) if shape else None,
                interpolated=size in known.interpolated,
                to_measure=known.band is not None,
                cut_from=_cut_from(known, size),
            )
        )
    return rows


def _cut_from(band: PieceSpec, size: str) -> list[tuple[str, float, float]]:
    found = {
        key.fabric: (key.fabric, shapes[size].width_mm, shapes[size].length_mm)
        for key, shapes in band.outlines_by_cloth.items()
        if size in shapes
    }
    return list(found.values()) if len({across for _, across, _ in found.values()}) > 1 else []


def count_in_words(piece: PieceSpec | Piece) -> str:
    """How a pattern piece is marked: "cut 2, mirrored pair"."""
    if not piece.pair:
        return f"cut {piece.count}"
    pairs = piece.count // 2
    return f"cut {piece.count}, mirrored pair" if pairs <= 1 else f"cut {piece.count}, {pairs} mirrored pairs"


def _by_name(style: Style, spec: StyleSpec) -> dict[str, Piece]:
    """The rows of the pieces by the name they have in the spec."""
    return {known.name: piece for piece, known in zip(style.pieces.all(), spec.pieces, strict=True)}


def _said_slips(
    slips: Sequence[checks.Problem], spec: StyleSpec, pieces: Mapping[str, Piece], display: Display
) -> list[SaidSlip]:
    return [
        SaidSlip(problem, text, pieces[problem.piece] if isinstance(problem, checks.OddGrade) else None)
        for problem, text in checks.in_words(slips, spec.sizes, display)
    ]


def _grading(
    slips: Sequence[checks.Problem], pieces: Mapping[str, Piece]
) -> list[tuple[Piece, Sequence[str]]]:
    """Pieces that do not grow evenly from size to size, with what is out of line in each such size."""
    found: dict[str, list[str]] = defaultdict(list)
    for slip in slips:
        if isinstance(slip, checks.OddGrade):
            found[slip.piece].append(slip.what)
    return [(pieces[name], said) for name, said in found.items()]


def _cells(piece: Piece, sizes: Sequence[Size], uneven: Set[str]) -> list[OutlineCell]:
    rows = {row.size_id: row for row in piece.outlines.all()}
    given = {pk for pk, row in rows.items() if not row.is_interpolated}
    return [
        OutlineCell(
            size,
            rows[size.pk].area_mm2 / 100 if size.pk in rows else None,
            size.pk in rows and size.pk not in given,
            between=None if size.pk in given else between(size, given, sizes),
            is_uneven=size.name in uneven,
        )
        for size in sizes
    ]


def _measured_cells(band: PieceSpec, sizes: Sequence[Size]) -> list[OutlineCell]:
    """Areas of a band that is cut to measure, from the first of its cloths."""
    return [
        OutlineCell(
            size,
            band.outlines[size.name].area_mm2 / 100 if size.name in band.outlines else None,
            size.name in band.interpolated,
            to_measure=True,
        )
        for size in sizes
    ]


def _colourway_rows(style: Style) -> list[ColourwayRow]:
    roles = list(style.roles.all())
    rows = []
    for colourway in style.colourways.all():
        cloths = {cloth.role_id: cloth for cloth in colourway.cloths.all()}
        rows.append(ColourwayRow(colourway, tuple((role, cloths.get(role.pk)) for role in roles)))
    return rows


@dataclass(frozen=True)
class ListRow:
    """A style in the list, with the drawing of its main pieces and what is missing."""

    style: Style
    sizes: Sequence[str]
    figures: Sequence[tuple[str, Figure]]
    missing: Sequence[str]
    option_count: int


def list_rows(styles: Sequence[Style], specs: Mapping[int, StyleSpec]) -> list[ListRow]:
    """Rows of the list; `specs` by primary key. Two queries for the drawings however many styles."""
    drawings = _main_pieces(styles)
    rows = []
    for style in styles:
        spec = specs[style.pk]
        missing = checks.in_words(checks.stopping(spec), spec.sizes)
        shapes = drawings.get(style.pk, [])
        drawn = figures([shape for _, shape in shapes], most_px=LIST_PX)
        named = list(zip((name for name, _ in shapes), drawn, strict=True))
        options = sum(len(options) for options in spec.details.values())
        rows.append(ListRow(style, spec.sizes, named, [text for _, text in missing], options))
    return rows


def _main_pieces(styles: Sequence[Style]) -> dict[int, list]:
    """Name and outline in the base size of the first pieces, bands left out; those of every garment first.

    A piece of a style's own stands for its namesake in the base.
    """
    families = {pk for style in styles for pk in style.family}
    pieces = Piece.objects.filter(style__in=families, is_band=False)
    pieces = pieces.order_by(F("option").asc(nulls_first=True), "position", "pk")
    of_style: dict[int, dict[str, int]] = defaultdict(dict)
    for style, pk, name in pieces.values_list("style", "pk", "name"):
        of_style[style][name] = pk
    first = {
        style.pk: list(({**of_style[style.base_id], **of_style[style.pk]}).values())[:LIST_PIECES]
        for style in styles
    }
    chosen = {pk for pks in first.values() for pk in pks}
    sizes = {style.base_size_id for style in styles}
    rows = PieceOutline.objects.filter(piece__in=chosen, size__in=sizes)
    shapes = {
        (piece, size): (name, shape)
        for piece, size, name, shape in rows.values_list("piece", "size", "piece__name", "shape")
    }
    found: dict[int, list] = {}
    for style in styles:
        here = [shapes.get((pk, style.base_size_id)) for pk in first[style.pk]]
        found[style.pk] = [(name, outline_from_json(shape)) for name, shape in filter(None, here)]
    return found
