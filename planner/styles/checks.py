"""What keeps a style from being planned, and what looks like a slip: rules over a StyleSpec, no database.

Each rule returns typed problems. What :func:`stopping` finds must be put right before anything is planned; what
:func:`slips` finds are warnings. `section` is where on the style's page it is put right.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain
from typing import Any, ClassVar

from planner.core.notions.band_pieces import Opening, openings_of
from planner.core.notions.stitches import STITCHES
from planner.core.spec import StyleSpec
from planner.core.units import Display
from planner.styles.option_checks import EmptyOption, LikeAlternatives, empty_options, like_alternatives
from planner.styles.problem import Problem
from planner.styles.seam_checks import (
    MissedTimes,
    NoSewingLine,
    NoSuchEdge,
    OddGrade,
    SeamWithoutEdges,
    UnevenSeam,
    grades,
    seam_edges,
    seam_lengths,
    seam_times,
    sewing_lines,
)

__all__ = [
    "STITCHES", "EmptyOption", "LikeAlternatives", "MissedTimes", "NoSewingLine", "NoSuchEdge", "OddGrade", "Problem",
    "SeamWithoutEdges", "UnevenSeam", "answer", "cords", "in_words", "slips", "stopping",
]  # fmt: skip

_CORD = re.compile(
    r"\b(?:neck|draw)?(?:ties?|cords?|strings?|laces?|ribbons?|bows?)\b|\bdrawcords?\b", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class NoPieces(Problem):
    """A style without pieces."""

    def __str__(self) -> str:
        return "it has no pieces yet"


@dataclass(frozen=True, slots=True)
class NoSizes(Problem):
    """A size range without sizes, or without the base size."""

    section: ClassVar[str] = "sizes"
    base_size: str

    def __str__(self) -> str:
        return f"the base size {self.base_size} is not among its sizes"


@dataclass(frozen=True, slots=True)
class NoOutline(Problem):
    """A piece that has no outline in a size."""

    section: ClassVar[str] = "outlines"
    piece: str
    size: str

    def __str__(self) -> str:
        return f"no outline for {self.piece} in {self.size}"


@dataclass(frozen=True, slots=True)
class NoBand(Problem):
    """A band whose opening cannot be measured, so that nobody knows how long it is cut."""

    section: ClassVar[str] = "pieces"
    piece: str
    opening: Opening

    def __str__(self) -> str:
        return self.told_in("metric")

    def told_in(self, display: Display) -> str:
        """Why, with lengths in these units."""
        return f"{self.piece} cannot be cut to measure: {self.opening.why_not_in(display)}"

    @property
    def told_with(self) -> object:
        """Several sizes may have the same reason."""
        return NoBand, self.piece, self.opening.why_not


@dataclass(frozen=True, slots=True)
class OddPair(Problem):
    """A mirrored pair of which an odd number is cut."""

    piece: str
    count: int

    def __str__(self) -> str:
        return f"{self.piece} is cut as a mirrored pair, but {self.count} times, which is odd"


@dataclass(frozen=True, slots=True)
class NoColourway(Problem):
    """A style that can be cut from no cloth."""

    section: ClassVar[str] = "colourways"

    def __str__(self) -> str:
        return "it has no colourway yet"


@dataclass(frozen=True, slots=True)
class RoleWithoutCloth(Problem):
    """A colourway that names no cloth for a role that pieces are cut from."""

    section: ClassVar[str] = "colourways"
    colourway: str
    role: str

    def __str__(self) -> str:
        return f"the colourway {self.colourway} has no cloth for {self.role}"


@dataclass(frozen=True, slots=True)
class TooFewOptions(Problem):
    """A detail without a choice; `count` is how many options it has."""

    section: ClassVar[str] = "details"
    detail: str
    count: int

    def __str__(self) -> str:
        has = "only one option" if self.count else "no options"
        return f"the detail {self.detail} has {has}: give it two or take it away"


@dataclass(frozen=True, slots=True)
class NamelessOption(Problem):
    """A detail, or an option of it, without a name."""

    section: ClassVar[str] = "details"
    detail: str

    def __str__(self) -> str:
        return f"an option of {self.detail} has no name" if self.detail else "a detail has no name"


@dataclass(frozen=True, slots=True)
class WrongMachine(Problem):
    """An operation whose stitch type its machine cannot make."""

    section: ClassVar[str] = "operations"
    operation: str
    machine: str
    stitch_type: str

    def __str__(self) -> str:
        where = "by hand" if self.machine == "hand" else f"on the {self.machine}"
        return f"{self.operation}: stitch type {self.stitch_type} is not sewn {where}"


@dataclass(frozen=True, slots=True)
class NoStitchType(Problem):
    """A sewn operation of which nobody knows how much thread it takes."""

    section: ClassVar[str] = "operations"
    operation: str

    def __str__(self) -> str:
        return f"{self.operation} names no stitch type, so its thread cannot be worked out"


# --- all rules --------------------------------------------------------------------------------------------


def stopping(spec: StyleSpec) -> list[Problem]:
    """What keeps the style from being planned. Looks at no shapes, so outlines may be unread."""
    return list(
        chain(
            base_size(spec), choices(spec), pieces_at_all(spec), pairs(spec), outlines(spec), bands(spec), cloths(spec)
        )
    )  # fmt: skip


def slips(spec: StyleSpec, display: Display = "metric") -> list[Problem]:
    """What looks wrong but does not stop a plan; by how much is said in these units."""
    return list(
        chain(
            like_alternatives(spec), empty_options(spec), grades(spec, display), sewing_lines(spec),
            seam_edges(spec), seam_times(spec), seam_lengths(spec, display), machines(spec),
        )
    )  # fmt: skip


# --- one rule each ----------------------------------------------------------------------------------------


def base_size(spec: StyleSpec) -> Iterator[Problem]:
    """The base size stands in the range."""
    if spec.base_size not in spec.sizes:
        yield NoSizes(spec.base_size)


def choices(spec: StyleSpec) -> Iterator[Problem]:
    """A detail offers at least two options, and each has a name."""
    for detail, options in spec.details.items():
        if not detail.strip() or any(not option.strip() for option in options):
            yield NamelessOption(detail.strip())
        if len(options) < 2:
            yield TooFewOptions(detail, len(options))


def pieces_at_all(spec: StyleSpec) -> Iterator[Problem]:
    """There is something to cut."""
    if not spec.pieces:
        yield NoPieces()


def pairs(spec: StyleSpec) -> Iterator[Problem]:
    """Of a mirrored pair an even number is cut."""
    for piece in spec.pieces:
        if piece.pair and piece.count % 2:
            yield OddPair(piece.name, piece.count)


def outlines(spec: StyleSpec) -> Iterator[Problem]:
    """Every piece has an outline in every size, but for bands that are cut to measure."""
    for piece in spec.pieces:
        for size in spec.sizes:
            if piece.band is None and size not in piece.outlines:
                yield NoOutline(piece.name, size)


def bands(spec: StyleSpec) -> Iterator[Problem]:
    """The opening of a band can be measured; a piece of it without outline is told by :func:`outlines`."""
    if not spec.seams:
        return  # not read
    for piece in spec.pieces:
        if piece.band is not None:
            openings = openings_of(piece, spec).values()
            found = {o.why_not: o for o in openings if o.length_mm is None and not o.waits_for}
            yield from (NoBand(piece.name, opening) for opening in found.values())


def cloths(spec: StyleSpec) -> Iterator[Problem]:
    """Every colourway names a cloth for every role that something is cut from."""
    if not spec.colourways:
        yield NoColourway()
    roles = list(dict.fromkeys(piece.role for piece in spec.pieces))
    for colourway in spec.colourways.values():
        for role in roles:
            if role not in colourway.cloths:
                yield RoleWithoutCloth(colourway.name, role)


def machines(spec: StyleSpec) -> Iterator[Problem]:
    """A machine makes the stitch that its operation names, and a sewn operation names one."""
    for step in spec.operations:
        can = STITCHES.get(step.machine, frozenset())
        if step.stitch_type and step.stitch_type not in can:
            yield WrongMachine(step.name, step.machine, step.stitch_type)
        elif can and not step.stitch_type:
            yield NoStitchType(step.name)


# --- in words ---------------------------------------------------------------------------------------------


def in_words(
    found: Iterable[Problem], sizes: Iterable[str], display: Display = "metric"
) -> list[tuple[Problem, str]]:
    """Each problem with its sentence, lengths in these units.

    Missing outlines of one piece, its uneven steps and the sizes in which it is too wide are said together.
    """
    every = list(sizes)
    said: dict[object, tuple[Problem, list[Any]]] = {}
    for problem in found:
        match problem:
            case NoOutline(piece, size):
                said.setdefault(("outline", piece), (problem, []))[1].append(size)
            case OddGrade(piece, what):
                said.setdefault(("grade", piece), (problem, []))[1].append(what)
            case _:
                said.setdefault(problem.told_with, (problem, []))[1].append(problem)
    return [(problem, _together(problem, where, every, display)) for problem, where in said.values()]


def _together(problem: Problem, where: list[Any], every: list[str], display: Display) -> str:
    if isinstance(problem, NoOutline) and len(where) > 1:
        return f"no outline for {problem.piece} in {'any size' if where == every else ', '.join(where)}"
    if isinstance(problem, OddGrade) and len(where) > 1:
        more = len(where) - 1
        return f"{problem}, and {more} more {'step' if more == 1 else 'steps'} out of line"
    if isinstance(problem, NoOutline | OddGrade):
        return str(problem)
    return problem.told_of(list(dict.fromkeys(where)), display)


def answer(all_problems: Iterable[list[Problem]]) -> str:
    """The first line of the list: how many styles there are and whether they lack anything.

    That they lack nothing does not say that their cloths are wide enough, for no shape is looked at.
    """
    styles = list(all_problems)
    lacking = [found for found in styles if found]
    if not styles:
        return "No styles yet."
    count = "1 style" if len(styles) == 1 else f"{len(styles)} styles"
    if not lacking:
        return f"{count}, nothing missing."
    of_them = "1 style" if len(lacking) == 1 else f"{len(lacking)} styles"
    one = len(lacking) == 1
    if all(isinstance(problem, NoOutline) for found in lacking for problem in found):
        sizes = dict.fromkeys(p.size for found in lacking for p in found if isinstance(p, NoOutline))
        where = ", ".join(sizes) if len(sizes) <= 8 else "many sizes"
        return f"{of_them} {'lacks' if one else 'lack'} outlines in {where}."
    return f"{len(lacking)} of {count} {'is' if one else 'are'} not ready to plan."


def cords(names: Iterable[str]) -> list[str]:
    """Names of pieces or notions that sound like a tie or cord."""
    return [name for name in names if _CORD.search(name)]
