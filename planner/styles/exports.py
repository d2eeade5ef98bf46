"""Pieces of a style as the writers of pattern files take them: outlines with marks, sewing lines and how to cut."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain, pairwise

from planner.core.outline import Outline, OutlineError, Point
from planner.core.pattern_files.model import Marks, Path, marks_from_json
from planner.core.pattern_files.to_write import PieceToWrite, StyleToWrite
from planner.core.seam_lines import allowances_for, seam_lines
from planner.core.spec import PieceSpec
from planner.styles.family import merged, offered_by, option_key
from planner.styles.models import Piece, PieceOutline, Size, Style
from planner.styles.shapes import outline_of
from planner.styles.specs import style_specs

INTERPOLATED = "interpolated: made from the sizes beside it"
NO_SEWING_LINE = "no sewing line: narrower than its seam allowances"


def pieces_of(style: Style) -> list[Piece]:
    """The pieces a style has, those of its base among them, with role and option. Two queries."""
    rows = Piece.objects.filter(style__in=style.family).select_related("role", "option__detail", "band")
    return merged(style, rows.order_by("position", "pk"), offered_by(style))


def style_to_write(style: Style, pieces: Sequence[Piece], size: Size | None = None) -> StyleToWrite:
    """These pieces of a style in every size they have an outline in, or in one. Two queries.

    A band that is cut to measure is written as it is cut from the first of its cloths, which a note names; reading
    the style for that takes ten queries more.
    Pieces that share a name, as one for each of two options may, are told apart by their option.
    """
    sizes = [size] if size else list(style.size_range.sizes.all())
    drawn: dict[tuple[int, int], PieceOutline] = {
        (row.piece_id, row.size_id): row
        for row in PieceOutline.objects.filter(piece__in=[piece.pk for piece in pieces], size__in=sizes)
    }
    shared = {name for name, times in Counter(piece.name for piece in pieces).items() if times > 1}
    measured = _measured(style, pieces)
    written = tuple(
        _piece_to_write(piece, one.name, shape, named_by_option=piece.name in shared)
        for piece in pieces
        for one in sizes
        if (shape := _shape(piece, one, drawn, measured)) is not None
    )
    base_size = style.base_size.name
    sample = base_size if any(piece.size == base_size for piece in written) else ""
    return StyleToWrite(str(style), written, sample or (size.name if size else ""))


@dataclass(frozen=True)
class _Shape:
    """An outline with what is drawn in it and said of it."""

    outline: Outline
    marks: Marks
    notes: tuple[str, ...] = ()


def _measured(style: Style, pieces: Sequence[Piece]) -> dict[int, PieceSpec]:
    """The bands among the pieces that are cut to measure, by the key of their piece."""
    bands = [piece for piece in pieces if hasattr(piece, "band")]
    if not bands:
        return {}
    known = {(piece.name, piece.option): piece for piece in style_specs([style])[style.number].pieces}
    return {piece.pk: known[piece.name, option_key(piece.option)] for piece in bands}


def _shape(
    piece: Piece,
    size: Size,
    drawn: Mapping[tuple[int, int], PieceOutline],
    measured: Mapping[int, PieceSpec],
) -> _Shape | None:
    band = measured.get(piece.pk)
    if band is not None:
        outline = band.outlines.get(size.name)
        cloth = next((f" from {key.fabric}" for key in band.outlines_by_cloth), "")
        return outline and _Shape(outline, Marks(), (f"cut to measure{cloth}",))
    row = drawn.get((piece.pk, size.pk))
    if row is None:
        return None
    notes = (INTERPOLATED,) if row.is_interpolated else ()
    return _Shape(outline_of(row.shape), marks_from_json(row.marks), notes)


def _piece_to_write(piece: Piece, size: str, shape: _Shape, *, named_by_option: bool) -> PieceToWrite:
    outline, marks = shape.outline, shape.marks
    option = ": ".join(option_key(piece.option) or ())
    notes = [f"for {option}"] if option else []
    notes += shape.notes
    if not marks.sew_lines:
        marks, lacking = _with_sewing_line(marks, piece, outline)
        notes += lacking
    return PieceToWrite(
        name=f"{piece.name} ({option or 'always'})" if named_by_option else piece.name,
        size=size,
        outline=outline,
        marks=marks,
        count=piece.count,
        pair=piece.pair,
        role=piece.role.name,
        note=", ".join(notes),
    )


def _with_sewing_line(marks: Marks, piece: Piece, outline: Outline) -> tuple[Marks, list[str]]:
    """The marks with the sewing line that the piece's allowances give, and why there is none."""
    try:
        line = sewing_line(outline, piece)
    except OutlineError:
        return marks, [NO_SEWING_LINE]
    return replace(marks, sew_lines=(line,) if line else ()), []


def sewing_line(outline: Outline, piece: Piece) -> Path:
    """The closed line (mm, its first point repeated) on which a piece is sewn; empty where it has no allowance.

    Raises OutlineError where the piece is narrower than its allowances.
    """
    allowances = allowances_for(outline, float(piece.seam_allowance_mm), piece.edge_allowances)
    if not any(allowances.values()):
        return ()
    # Where two allowances meet in a step, or a corner is cut off, the next edge begins elsewhere: the joined line
    # leads there. An edge that the allowances swallow has no points.
    points: list[Point] = list(chain.from_iterable(seam_lines(outline, allowances)))
    ring = [points[0], *(b for a, b in pairwise(points) if a != b)]
    return tuple(ring if ring[0] == ring[-1] else [*ring, ring[0]])
