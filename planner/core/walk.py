"""Walking the seams: whether what is sewn together fits, in every size.

Side 1 of a seam gives its finished length (the armhole, the opening, the yoke's edge), side 2 is sewn to it. Both
are measured along their sewing lines. A seam with one side only (a hem, a topstitching) is walked alone: it has
a length and nothing to fit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from planner.core.notions.along import sewn_edge_mm
from planner.core.spec import EdgeRef, Option, Options, PieceSpec, SeamSpec, StyleSpec, make_options
from planner.core.too_wide import measure_in_words
from planner.core.units import Display

#: Two sides of a seam may always miss each other by this much (mm): what pins and a presser foot take up.
#: Common practice, as are the shares below.
LEAST_TOLERANCE_MM = 3.0
#: What side 2 may be longer or shorter than wanted, as a share of the wanted length, by its fullness.
TOLERANCES: Mapping[str, float] = {
    "": 0.01,
    "eased": 0.02,
    "gathered": 0.05,
    "pleated": 0.02,
    "stretched": 0.03,
}


@dataclass(frozen=True, slots=True)
class SizeWalk:
    """One seam in one size, where it occurs once. A side that the seam does not have is None.

    `ratio_found` is side 2 over side 1. `on_seam_lines` is False where a piece is narrower than its allowances, so
    that a cut line had to be measured instead.
    """

    size: str
    side1_mm: float | None
    side2_mm: float | None
    wanted_ratio: float
    tolerance_share: float
    on_seam_lines: bool = True

    @property
    def is_alone(self) -> bool:
        """Whether the seam has one side only."""
        return self.side1_mm is None or self.side2_mm is None

    @property
    def difference_mm(self) -> float:
        """How much longer side 2 is than side 1."""
        return 0.0 if self.side1_mm is None or self.side2_mm is None else self.side2_mm - self.side1_mm

    @property
    def ratio_found(self) -> float:
        """Side 2 over side 1; 1 for a seam that is walked alone."""
        return self.side2_mm / self.side1_mm if self.side1_mm and self.side2_mm is not None else 1.0

    @property
    def off_mm(self) -> float:
        """How much longer side 2 is than wanted."""
        if self.side1_mm is None or self.side2_mm is None:
            return 0.0
        return self.side2_mm - self.wanted_ratio * self.side1_mm

    @property
    def tolerance_mm(self) -> float:
        """By how much side 2 may miss the wanted length."""
        wanted = self.wanted_ratio * (self.side1_mm or 0.0)
        return max(LEAST_TOLERANCE_MM, self.tolerance_share * wanted)

    @property
    def ok(self) -> bool:
        """Whether the two sides fit."""
        return abs(self.off_mm) <= self.tolerance_mm


@dataclass(frozen=True, slots=True)
class SeamWalk:
    """One seam in all sizes. `options` are those that its edges belong to; `unmeasured` says what is missing.

    `cut_to_measure`: its second side is a band that is cut to the first, at whatever ratio its cloth allows.
    """

    seam: str
    options: Options
    side1: str
    side2: str
    ratio: float
    fullness: str
    sizes: tuple[SizeWalk, ...]
    unmeasured: tuple[str, ...] = ()
    cut_to_measure: bool = False

    @property
    def is_alone(self) -> bool:
        """Whether the seam has one side only."""
        return not self.side1 or not self.side2

    @property
    def misfits(self) -> tuple[SizeWalk, ...]:
        """Sizes in which the two sides do not fit."""
        return tuple(walk for walk in self.sizes if not walk.ok)

    @property
    def ok(self) -> bool:
        """Whether it fits in every size and could be measured in all of them."""
        return not self.misfits and not self.unmeasured

    def sentence(self, display: Display = "metric") -> str:
        """What does not fit, in plain words, "" where all does; the largest miss first."""
        worst = sorted(self.misfits, key=lambda walk: -abs(walk.off_mm))
        if not worst:
            return ""
        if self.ratio == 1.0:
            return f"{self.side2} is {_by_size(self._lengths(worst, display), len(self.sizes))}"
        found = [
            (f"{walk.ratio_found:.2f}", f" times as long as the {self.side1}", walk.size) for walk in worst
        ]
        how = f", {self.fullness}" if self.fullness else ""
        return f"{self.side2} is {_by_size(found, len(self.sizes))}; wanted is {self.ratio:g} times{how}"

    def _lengths(self, walks: Iterable[SizeWalk], display: Display) -> list[tuple[str, str, str]]:
        return [
            (
                measure_in_words(abs(walk.difference_mm), display),
                f" {'longer' if walk.difference_mm > 0 else 'shorter'} than the {self.side1}",
                walk.size,
            )
            for walk in walks
        ]


def walk_seams(style: StyleSpec) -> tuple[SeamWalk, ...]:
    """Every seam of a style in every size, once for each set of options that gives it other edges."""
    return tuple(walk for seam in style.seams for walk in _every_way(seam, style))


def walk_seam(seam: SeamSpec, style: StyleSpec, options: Options) -> SeamWalk:
    """One seam in every size, with the pieces that a garment with these options has."""
    pieces = {piece.name: piece for piece in style.pieces_for(options)}
    one, two = ([ref for ref in seam.side(number) if ref.piece in pieces] for number in (1, 2))
    label1, label2 = _labels(one, two)
    # A band that is cut to measure has the length that its cloth allows, which is the ratio then.
    to_measure = bool(two) and all(_is_cut_to(pieces[ref.piece], seam) for ref in two)
    walks, unmeasured = [], dict[str, None]()
    for size in style.sizes:
        lacking = [why for ref in (*one, *two) if (why := _lacking(pieces[ref.piece], ref, size))]
        if lacking:
            unmeasured |= dict.fromkeys(lacking)
            continue
        (length1, true1), (length2, true2) = (_side(side, pieces, size) for side in (one, two))
        ratio = length2 / length1 if to_measure and length1 and length2 else seam.ratio
        walks.append(SizeWalk(size, length1, length2, ratio, TOLERANCES[seam.fullness], true1 and true2))
    own = {pieces[ref.piece].option for ref in (*one, *two)} | {seam.option}
    return SeamWalk(
        seam.name,
        make_options(option for option in own if option is not None),
        label1,
        label2,
        seam.ratio,
        seam.fullness,
        tuple(walks),
        tuple(unmeasured),
        to_measure,
    )


def _every_way(seam: SeamSpec, style: StyleSpec) -> Iterator[SeamWalk]:
    """The seam once for each different set of its edges that some choice of options leaves it."""
    options = {piece.name: piece.option for piece in style.pieces}
    used = [options.get(ref.piece) for ref in seam.edges] + [seam.option]
    details = dict.fromkeys(option[0] for option in used if option is not None)
    seen: set[tuple[EdgeRef, ...]] = set()
    choices: list[list[Option]] = [
        [(detail, option) for option in style.details.get(detail, ())] for detail in details
    ]
    for chosen in product(*choices):
        if (seam.option is not None and seam.option not in chosen) or style.clashes_in(chosen):
            continue
        there = {piece.name for piece in style.pieces_for(chosen)}
        edges = tuple(ref for ref in seam.edges if ref.piece in there)
        if edges and edges not in seen:
            seen.add(edges)
            yield walk_seam(seam, style, chosen)


def _side(refs: Sequence[EdgeRef], pieces: Mapping[str, PieceSpec], size: str) -> tuple[float | None, bool]:
    """Length of one occurrence of a side: Σ takes × mean length of the edges of that name in the piece."""
    if not refs:
        return None, True
    found = [
        (ref.takes, sewn_edge_mm(pieces[ref.piece].outlines[size], ref.edge, pieces[ref.piece]))
        for ref in refs
    ]
    return sum(takes * length for takes, (length, _) in found), all(sewn for _, (_, sewn) in found)


def _is_cut_to(piece: PieceSpec, seam: SeamSpec) -> bool:
    return piece.band is not None and piece.band.seam == seam.name


def _lacking(piece: PieceSpec, ref: EdgeRef, size: str) -> str:
    outline = piece.outlines.get(size)
    if outline is None:
        return f"{piece.name} has no outline in {size}"
    return "" if outline.edge_count(ref.edge) else f"{piece.name} has no edge “{ref.edge}” in {size}"


def _labels(one: Sequence[EdgeRef], two: Sequence[EdgeRef]) -> tuple[str, str]:
    """Names of the two sides; with their pieces where the edges alone do not tell them apart."""
    first, second = (dict.fromkeys(ref.edge for ref in side) for side in (one, two))
    if set(first) & set(second):
        first, second = (dict.fromkeys(f"{ref.edge} of {ref.piece}" for ref in side) for side in (one, two))
    return " and ".join(first), " and ".join(second)


def _by_size(found: Sequence[tuple[str, str, str]], all_sizes: int) -> str:
    """ "31 mm longer than the armhole in L, 12 mm in S" from (figure, words, size); words stand where they change."""
    if len(found) == all_sizes > 1 and len({(figure, words) for figure, words, _ in found}) == 1:
        figure, words, _ = found[0]
        return f"{figure}{words} in every size"
    parts, before = [], ""
    for figure, words, size in found:
        parts.append(f"{figure}{words if words != before else ''} in {size}")
        before = words
    return ", ".join(parts)
