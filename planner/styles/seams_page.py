"""The walk of the seams: every seam in every size, its two sides measured, held against each other and drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from planner.core.outline import Outline, OutlineError, Point
from planner.core.seam_lines import allowances_for, seam_lines
from planner.core.spec import EdgeRef, PieceSpec, SeamSpec, StyleSpec
from planner.core.units import Display
from planner.core.walk import SeamWalk, SizeWalk, walk_seams
from planner.styles.models import Seam
from planner.styles.seam_ways import Alternatives, Ways, joined, same_figures

#: Longest side of the largest piece where the two sides of a seam are drawn.
PIECE_PX = 300
_MARGIN_MM = 12.0


@dataclass(frozen=True)
class DrawnSide:
    """A piece with the edges of one side of a seam: its cut line, and where it is sewn. One SVG unit is a mm."""

    piece: str
    edge: str
    side: int
    takes: int
    size: str
    interpolated: bool
    cut: str
    sewn: tuple[str, ...]
    view_box: str
    width_px: int
    height_px: int


@dataclass(frozen=True)
class WalkedSeam:
    """A seam as it is walked in one or several ways with the same figures, each with its own options.

    `interpolated` are sizes that no file or hand has drawn. `in_layers`: each edge of the second side fits the first
    by itself. `drawn_with` are the options of the way that is drawn, where there are several.
    """

    number: int
    seam: SeamSpec
    ways: Ways
    sizes: Sequence[str]
    interpolated: frozenset[str]
    is_open_band: bool
    in_layers: bool = False
    drawn: Sequence[DrawnSide] = ()
    display: Display = "metric"

    @property
    def walk(self) -> SeamWalk:
        """The walk that stands for all these ways."""
        return self.ways.walk

    @property
    def drawn_with(self) -> str:
        """The options of the way that is drawn, in words, "" where there is only one."""
        if self.ways.count == 1:
            return ""
        return ", ".join(f"{detail}: {option}" for detail, option in self.ways.first.options)

    @property
    def columns(self) -> list[tuple[str, SizeWalk | None, bool]]:
        """(size, what was measured in it or None, whether it is interpolated)."""
        by_size = {walked.size: walked for walked in self.walk.sizes}
        return [(size, by_size.get(size), size in self.interpolated) for size in self.sizes]

    @property
    def made(self) -> list[str]:
        """Interpolated sizes in order."""
        return [size for size in self.sizes if size in self.interpolated]

    @property
    def has_ratio(self) -> bool:
        """Whether the ratio of the sides says something: they are not meant to be alike, or it is not known."""
        return not self.walk.is_alone and (
            self.walk.ratio != 1.0
            or bool(self.walk.fullness)
            or self.is_open_band
            or self.walk.cut_to_measure
        )

    @property
    def is_narrow(self) -> bool:
        """Whether a cut line had to be measured somewhere."""
        return any(not walked.on_seam_lines for walked in self.walk.sizes)

    @property
    def worst_size(self) -> str:
        """The size in which its sides miss each other by most, "" where they fit in all."""
        worst = max(self.walk.misfits, key=lambda walked: abs(walked.off_mm), default=None)
        return worst.size if worst and not self.in_layers else ""

    @property
    def drawn_in(self) -> str:
        """The size in which it is drawn, "" where it is not."""
        return self.drawn[0].size if self.drawn else ""

    @property
    def fits(self) -> bool:
        """Whether nothing is to be said about it."""
        return not self.said

    @property
    def said(self) -> list[str]:
        """What does not fit or is not known, sentences without a full stop."""
        if self.is_open_band and self.walk.sentence():
            return ["a band is shorter than its opening on purpose: say by how much it is stretched"]
        misfit = "" if self.in_layers else self.walk.sentence(self.display)
        return [text for text in (misfit, *self.walk.unmeasured) if text]


@dataclass(frozen=True)
class SeamsPage:
    """All seams of a style."""

    seams: Sequence[WalkedSeam]
    sizes: Sequence[str]

    @property
    def joins(self) -> list[WalkedSeam]:
        """Seams with two sides, or that could not be measured."""
        return [one for one in self.seams if not one.walk.is_alone or one.said or one.drawn]

    @property
    def wrong(self) -> list[WalkedSeam]:
        """Of every seam that does not fit, the first way in which it does not."""
        joins = [one for one in self.seams if not one.walk.is_alone and one.said and not one.is_open_band]
        return list({one.seam.name: one for one in reversed(joins)}.values())[::-1]

    @property
    def alone(self) -> list[WalkedSeam]:
        """Seams with one side, which have a length and nothing to fit."""
        return [one for one in self.seams if one not in self.joins]

    @property
    def answer(self) -> str:
        """The first line of the page."""
        joins = [one for one in self.seams if not one.walk.is_alone]
        wrong = self.wrong
        if not self.seams:
            return "No seams yet."
        if wrong:
            count = "1 seam does" if len(wrong) == 1 else f"{len(wrong)} seams do"
            return f"{count} not fit."
        if not joins:
            return "No seam has two sides yet, so there is nothing to fit."
        return "The two sides fit in every seam and size."


def walked(spec: StyleSpec, display: Display = "metric", *, draw: int = 0, draw_size: str = "") -> SeamsPage:
    """Every seam of the style, numbered from 1; that with the number `draw` is drawn.

    It is drawn in `draw_size`, else in the size in which it fits worst, else in the base size.
    """
    found: list[WalkedSeam] = []
    for seam in spec.seams:
        for one in walks_of(seam, spec, display):
            number = len(found) + 1
            if number == draw:
                size = draw_size if draw_size in spec.sizes else one.worst_size or spec.base_size
                one = replace(one, drawn=_drawn(one, spec, size))
            found.append(replace(one, number=number))
    return SeamsPage(found, spec.sizes)


def walks_of(seam: SeamSpec, spec: StyleSpec, display: Display) -> list[WalkedSeam]:
    """One seam in all sizes, once for each set of figures that some choice of options gives it.

    By how much it does not fit is said in these units.
    """
    pieces = {piece.name: piece for piece in spec.pieces}
    refs = [ref for ref in seam.edges if ref.piece in pieces]
    made = frozenset[str]().union(*(pieces[ref.piece].interpolated for ref in refs))
    band = not seam.fullness and any(pieces[ref.piece].is_band for ref in refs)
    found = []
    for ways in same_figures(seam, walk_seams(replace(spec, seams=(seam,))), spec):
        walk = ways.first
        is_open = band and not walk.is_alone and bool(walk.misfits)
        found.append(WalkedSeam(0, seam, ways, spec.sizes, made, is_open, ways.in_layers, display=display))
    return found


@dataclass(frozen=True)
class SeamRow:
    """A seam in the table of a style's page. `sides` are the edges on each: all of some alternatives."""

    seam: Seam
    walks: Sequence[WalkedSeam]
    sides: Sequence[Sequence[Alternatives]]

    @property
    def shown(self) -> Sequence[WalkedSeam]:
        """The ways to be told: those that do not fit; where nothing is wrong, one for all."""
        wrong = [one for one in self.walks if not one.fits]
        return wrong or ([one for one in self.walks if not one.walk.is_alone] or self.walks)[:1]


def seam_rows(seams: Sequence[Seam], spec: StyleSpec, display: Display) -> list[SeamRow]:
    """The seams of a style's page with their walks; `seams` are in the order of `spec.seams`."""
    pieces = {piece.name: piece for piece in spec.pieces}
    rows = []
    for seam, known in zip(seams, spec.seams, strict=True):
        sides = [side for number in (1, 2) if (side := joined(known, number, pieces))]
        rows.append(SeamRow(seam, walks_of(known, spec, display), sides))
    return rows


def _drawn(one: WalkedSeam, spec: StyleSpec, size: str) -> list[DrawnSide]:
    there = {piece.name: piece for piece in spec.pieces_for(one.ways.first.options)}
    shown = [(there[ref.piece], ref) for ref in one.seam.edges if ref.piece in there]
    shown = [(piece, ref) for piece, ref in shown if size in piece.outlines]
    if not shown:
        return []
    outlines = [piece.outlines[size] for piece, _ in shown]
    scale = PIECE_PX / (max(max(o.length_mm, o.width_mm) for o in outlines) + 2 * _MARGIN_MM)
    return [_side(piece, ref, size, scale) for piece, ref in shown]


def _side(piece: PieceSpec, ref: EdgeRef, size: str, scale: float) -> DrawnSide:
    outline = piece.outlines[size]
    _, _, x1, y1 = outline.bounds_mm
    width, height = outline.width_mm + 2 * _MARGIN_MM, outline.length_mm + 2 * _MARGIN_MM

    def line(points: Sequence[Point]) -> str:
        return "M" + "L".join(f"{y1 - y:.1f} {x1 - x:.1f}" for x, y in points)

    return DrawnSide(
        piece.name, ref.edge, ref.side, ref.takes, size, size in piece.interpolated, line(outline.points) + "Z",
        tuple(line(path) for path in _sewn_paths(outline, piece, ref.edge)),
        f"{-_MARGIN_MM} {-_MARGIN_MM} {width:.1f} {height:.1f}", round(width * scale), round(height * scale),
    )  # fmt: skip


def _sewn_paths(outline: Outline, piece: PieceSpec, edge: str) -> list[Sequence[Point]]:
    """Sewing lines of the edges of a name; cut lines where there are none."""
    indexes = [i for i, one in enumerate(outline.edges) if one.name == edge]
    try:
        lines = seam_lines(outline, allowances_for(outline, piece.allowance_mm, piece.edge_allowances))
    except OutlineError:
        return [outline.edge_path(i) for i in indexes]
    return [lines[i] or outline.edge_path(i) for i in indexes]
