"""What garments of a style lack before they can be planned, looked for part by part.

What is missing depends on single options or a few of them, not on whole combinations. So each lack says which options
must be chosen for it to matter, where `core.missing` would look garment by garment.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import ClassVar

from planner.core.cloth import bought_width_mm, cut_factors, lay_width_mm
from planner.core.missing import WIDTH_TOLERANCE_MM
from planner.core.notions.band_pieces import openings_of
from planner.core.notions.thread import STITCH_TYPES
from planner.core.spec import Cloth, ClothKey, Option, PieceSpec, SeamSpec, StyleSpec
from planner.core.too_wide import told_apart
from planner.core.units import Display
from planner.styles import checks
from planner.styles.counting import Ruled, count_choices
from planner.styles.side_by_side import too_wide_beside, widths_by_size


@dataclass(frozen=True, slots=True)
class NoSeamOperation(checks.Problem):
    """A seam of garments that have no operation of the name that sews it."""

    section: ClassVar[str] = "seams"
    seam: str
    operation: str
    only_with: tuple[Option, ...]

    def __str__(self) -> str:
        text = f"the seam {self.seam} is sewn by “{self.operation}”"
        if not self.only_with:
            return f"{text}, which the style does not have"
        return f"{text}, which only garments with {_either(self.only_with)} have"


@dataclass(frozen=True, slots=True)
class NotionWithoutSeam(checks.Problem):
    """A notion along a seam that the style does not have."""

    section: ClassVar[str] = "notions"
    notion: str
    seam: str

    def __str__(self) -> str:
        return f"{self.notion} runs along the seam {self.seam}, which the style does not have"


@dataclass(frozen=True, slots=True)
class NoPiecesChosen(checks.Problem):
    """Garments for which nothing is cut, because every piece belongs to an option."""

    only_with: tuple[Option, ...]

    def __str__(self) -> str:
        return f"only garments with {_either(self.only_with)} have pieces"


@dataclass(frozen=True, slots=True)
class UnfitCloth(checks.Problem):
    """A cloth on which nothing can be laid out."""

    section: ClassVar[str] = "colourways"
    colourway: str
    cloth: str
    why: str

    def __str__(self) -> str:
        return f"{self.cloth} of the colourway {self.colourway} {self.why}"


@dataclass(frozen=True, slots=True)
class TooWide(checks.Problem):
    """A piece wider than its cloth lies."""

    section: ClassVar[str] = "colourways"
    piece: str
    size: str
    colourway: str
    cloth: str
    across_mm: float
    lies_mm: float

    def __str__(self) -> str:
        return self.told_in("metric")

    def told_in(self, display: Display) -> str:
        """Widths in centimetres to the millimetre, or in inches to the sixteenth."""
        (across,), lies = told_apart([self.across_mm], self.lies_mm, display)
        return (
            f"{self.piece} in {self.size} is {across} wide, but {self.cloth} of the colourway {self.colourway} lies "
            f"only {lies} wide"
        )

    @property
    def told_with(self) -> object:
        """All sizes of a piece on a cloth."""
        return TooWide, self.piece, self.colourway, self.cloth

    def told_of(self, alike: Sequence[checks.Problem], display: Display) -> str:
        """How wide it is in each size, where it is too wide in several."""
        if len(alike) == 1:
            return self.told_in(display)
        sizes, lies = widths_by_size(alike, self.lies_mm, display)
        where = f"{self.cloth} of the colourway {self.colourway}"
        return f"{self.piece} is {sizes} wide, but {where} lies only {lies} wide"


@dataclass(frozen=True, slots=True)
class UnknownStitch(checks.Problem):
    """An operation with a stitch type whose use of thread is not known."""

    section: ClassVar[str] = "operations"
    operation: str
    stitch_type: str

    def __str__(self) -> str:
        return f"{self.operation} names stitch type {self.stitch_type}, which is not in the table"


@dataclass(frozen=True, slots=True)
class Lack:
    """Something missing from garments that have all options of `needs` and none of `without`.

    It is missing in these sizes and colourways.
    """

    problem: checks.Problem
    needs: frozenset[Option]
    sizes: frozenset[str]
    colourways: frozenset[str]
    without: frozenset[Option] = frozenset()

    @property
    def rule(self) -> Ruled:
        """The combinations it is missing from."""
        return Ruled(self.needs, self.without)


def lacks(spec: StyleSpec, cloths: Mapping[ClothKey, Cloth], gap_mm: float = 2.0) -> list[Lack]:
    """Everything missing from any combination that may be had, in any size and colourway.

    `gap_mm` is kept between pieces.
    """
    found = chain(
        _no_pieces(spec), _pieces(spec), _roles(spec, cloths), _beside(spec, cloths, gap_mm), _stitches(spec),
        _seams(spec), _notions(spec),
    )  # fmt: skip
    # Before there is a colourway what is missing from all of them is told all the same.
    every = [one for one in dict.fromkeys(found) if one.sizes and (one.colourways or not spec.colourways)]
    met = {rule: _is_met(spec, rule) for rule in {lack.rule for lack in every}}
    return [lack for lack in every if met[lack.rule]]


def _is_met(spec: StyleSpec, rule: Ruled) -> bool:
    """Whether any combination that may be had is of this kind; taken to be where too many hang together."""
    if not rule.details:
        return True
    if rule.needs & rule.without:
        return False
    never = excluded(spec)
    without, all_of_them = (
        count_choices(spec.details, [*never, rule]),
        count_choices(spec.details, never),
    )
    return without is None or all_of_them is None or without < all_of_them


def _no_pieces(spec: StyleSpec) -> Iterator[Lack]:
    having = _options_of(piece.option for piece in spec.pieces)
    if not spec.pieces:
        yield _everywhere(spec, checks.NoPieces())
    elif having is not None:
        problem = NoPiecesChosen(tuple(sorted(having)))
        yield _everywhere(spec, problem, without=having)


def _pieces(spec: StyleSpec) -> Iterator[Lack]:
    for piece in spec.pieces:
        if piece.pair and piece.count % 2:
            yield _everywhere(spec, checks.OddPair(piece.name, piece.count), piece.option)
        openings = openings_of(piece, spec) if piece.band else {}
        for size in spec.sizes:
            if size in piece.outlines:
                continue
            problem: checks.Problem = checks.NoOutline(piece.name, size)
            if size in openings:
                problem = checks.NoBand(piece.name, openings[size])
            yield _everywhere(spec, problem, piece.option, sizes=[size])


def _roles(spec: StyleSpec, cloths: Mapping[ClothKey, Cloth]) -> Iterator[Lack]:
    for piece in spec.pieces:
        for colourway in spec.colourways.values():
            key = colourway.cloths.get(piece.role)
            if key is None:
                problem: checks.Problem = checks.RoleWithoutCloth(colourway.name, piece.role)
                yield _everywhere(spec, problem, piece.option, colourways=[colourway.name])
            elif key not in cloths:
                problem = UnfitCloth(colourway.name, _name(key), "is not among the cloths")
                yield _everywhere(spec, problem, piece.option, colourways=[colourway.name])
            else:
                yield from _on_cloth(spec, piece, colourway.name, cloths[key])


def _on_cloth(spec: StyleSpec, piece: PieceSpec, colourway: str, cloth: Cloth) -> Iterator[Lack]:
    name, width = _name(cloth.key), lay_width_mm(cloth)
    if not width > 0:
        problem: checks.Problem = UnfitCloth(colourway, name, "has no usable width")
        yield _everywhere(spec, problem, piece.option, colourways=[colourway])
        return
    if cloth.sold_by == "kg" and not (cloth.weight_gsm > 0 and bought_width_mm(cloth) > 0):
        problem = UnfitCloth(colourway, name, "is sold by weight, but its own weight is not known")
        yield _everywhere(spec, problem, piece.option, colourways=[colourway])
    factor = cut_factors(cloth)[1]
    for size in spec.sizes:
        outline = piece.outline(size, cloth.key)
        if outline is not None and outline.width_mm * factor > width + WIDTH_TOLERANCE_MM:
            problem = TooWide(piece.name, size, colourway, name, outline.width_mm * factor, width)
            yield _everywhere(spec, problem, piece.option, sizes=[size], colourways=[colourway])


def _beside(spec: StyleSpec, cloths: Mapping[ClothKey, Cloth], gap_mm: float) -> Iterator[Lack]:
    for colourway in spec.colourways.values():
        for key in dict.fromkeys(colourway.cloths.values()):
            if key in cloths and lay_width_mm(cloths[key]) > 0:
                for problem, options in too_wide_beside(spec, colourway.name, cloths[key], gap_mm):
                    yield _everywhere(
                        spec, problem, *options, sizes=[problem.size], colourways=[colourway.name]
                    )


def _stitches(spec: StyleSpec) -> Iterator[Lack]:
    for step in spec.operations:
        if step.stitch_type and step.stitch_type not in STITCH_TYPES:
            yield _everywhere(spec, UnknownStitch(step.name, step.stitch_type), step.option)


def _seams(spec: StyleSpec) -> Iterator[Lack]:
    """Seams that cannot be sewn or measured, where any of their pieces is in the garment."""
    named: dict[str, list[PieceSpec]] = {}
    for piece in spec.pieces:
        named.setdefault(piece.name, []).append(piece)
    for seam in spec.seams:
        if not seam.edges:
            yield _everywhere(spec, checks.SeamWithoutEdges(seam.name), seam.option)
        joined = [piece for ref in seam.edges for piece in named.get(ref.piece, ())]
        yield from _sewing(spec, seam, joined)
        yield from _measuring(spec, seam, named)


def _sewing(spec: StyleSpec, seam: SeamSpec, joined: Collection[PieceSpec]) -> Iterator[Lack]:
    steps = _options_of(step.option for step in spec.operations if step.name == seam.operation)
    if steps is None:
        return
    problem = NoSeamOperation(seam.name, seam.operation, tuple(sorted(steps)))
    # With or without any one of its pieces' options: the seam is sewn where at least one of them is there.
    for option in dict.fromkeys(piece.option for piece in joined) if seam.edges else [None]:
        yield _everywhere(spec, problem, seam.option, option, without=steps)


def _measuring(spec: StyleSpec, seam: SeamSpec, named: Mapping[str, list[PieceSpec]]) -> Iterator[Lack]:
    """Edges that give the seam its length: those of its first side, of its second where no piece of that is there."""
    first = _options_of(p.option for ref in seam.side(1) for p in named.get(ref.piece, ()))
    for side, without in ((1, frozenset()), (2, first)):
        if without is None:
            continue
        for ref in seam.side(side):
            for piece in named.get(ref.piece, ()):
                lacking = tuple(
                    size
                    for size in spec.sizes
                    if size in piece.outlines and not piece.outlines[size].edge_count(ref.edge)
                )
                problem = checks.NoSuchEdge(seam.name, piece.name, ref.edge, lacking)
                yield _everywhere(spec, problem, seam.option, piece.option, sizes=lacking, without=without)


def _notions(spec: StyleSpec) -> Iterator[Lack]:
    seams = {seam.name for seam in spec.seams}
    for use in spec.notions:
        if use.basis == "seam" and use.seam not in seams:
            yield _everywhere(spec, NotionWithoutSeam(use.notion.notion, use.seam), use.option)


def _everywhere(
    spec: StyleSpec,
    problem: checks.Problem,
    *options: Option | None,
    sizes: Iterable[str] | None = None,
    colourways: Iterable[str] | None = None,
    without: frozenset[Option] = frozenset(),
) -> Lack:
    """Missing whenever these options are chosen, in every size and colourway unless some are given."""
    return Lack(
        problem,
        frozenset(option for option in options if option is not None),
        frozenset(spec.sizes if sizes is None else sizes),
        frozenset(spec.colourways if colourways is None else colourways),
        without,
    )


def _options_of(options: Iterable[Option | None]) -> frozenset[Option] | None:
    """The options of parts any one of which will do; None where one is in every garment."""
    found = set(options)
    return None if None in found else frozenset(option for option in found if option is not None)


def excluded(spec: StyleSpec) -> list[Ruled]:
    """The combinations that cannot be had."""
    return [Ruled(frozenset(pair)) for pair in spec.exclusions]


def _name(key: ClothKey) -> str:
    return f"{key.fabric}, {key.colour}"


def _either(options: Iterable[Option]) -> str:
    return " or ".join(f"{detail} {option}" for detail, option in options)
