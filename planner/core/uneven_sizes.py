"""Which size of a piece is out of line, and why: what the steps of a grade say, said once for each size."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from planner.core.grading import (
    AREA,
    GradingProblem,
    OtherEdges,
    OutOfLine,
    WrongWay,
    figure,
    grading_problems,
    lengths_mm,
)
from planner.core.outline import Outline, path_length_mm
from planner.core.units import Display

#: Edges of one size that are told one by one; of how many more it is out of line, is said.
MOST_TOLD = 3


@dataclass(frozen=True, slots=True)
class UnevenSize:
    """A size of a piece that does not grow like those beside it; `str` says by how much."""

    size: str
    what: str

    def __str__(self) -> str:
        return self.what


@dataclass(frozen=True, slots=True)
class _Odd:
    """One measure that is out of line in a size: over both steps beside it (`off` in mm or mm²), or over one."""

    measure: str
    steps: tuple[int, ...]
    at: int
    off: float
    problem: GradingProblem

    @property
    def on_both_sides(self) -> bool:
        """Whether the size differs from the one before it and the one after it."""
        return len(self.steps) == 2


def uneven_sizes(outlines: Sequence[tuple[str, Outline]], display: Display = "metric") -> list[UnevenSize]:
    """The sizes of a piece, given as (size, outline) from small to large, that are out of line, each once.

    `display` says in which units lengths are told.

    A size that is too large shows as a step up that is too long and another that is too short, in the area as in every
    edge: the size is named, with the edges that make it so. The area is told only where no edge tells it.
    """
    sizes = [size for size, _ in outlines]
    found = grading_problems(outlines)
    odd = _named_by_size(found, outlines)
    told = {step for one in odd if one.measure != AREA for step in one.steps}
    odd = [one for one in odd if one.measure != AREA or not told.intersection(one.steps)]
    result = []
    for at, size in enumerate(sizes):
        here = sorted(
            (one for one in odd if one.at == at), key=lambda one: (-one.on_both_sides, -abs(one.off))
        )
        said = [str(problem) for problem in found if isinstance(problem, OtherEdges) and problem.size == size]
        said += _said(here, sizes, [outline for _, outline in outlines], display)
        if said:
            result.append(UnevenSize(size, "; ".join(said)))
    return result


def _named_by_size(found: Iterable[GradingProblem], outlines: Sequence[tuple[str, Outline]]) -> list[_Odd]:
    """Each measure that is out of line, with the size to which that is put down."""
    sizes = [size for size, _ in outlines]
    by_measure: dict[str, dict[int, OutOfLine | WrongWay]] = {}
    for problem in found:
        if isinstance(problem, (OutOfLine, WrongWay)):
            by_measure.setdefault(problem.measure, {})[sizes.index(problem.smaller)] = problem
    both: list[_Odd] = []
    single: list[tuple[int, OutOfLine | WrongWay]] = []
    for measure, steps in by_measure.items():
        values = _values(measure, [outline for _, outline in outlines])
        left = sorted(steps)
        while left:
            i = left.pop(0)
            if left and left[0] == i + 1:
                left.pop(0)
                off = values[i + 1] - (values[i] + values[i + 2]) / 2
                both.append(_Odd(measure, (i, i + 1), i + 1, off, steps[i]))
            else:
                single.append((i, steps[i]))
    return both + _single_steps(single, {one.at for one in both}, len(sizes))


def _single_steps(steps: Iterable[tuple[int, OutOfLine | WrongWay]], odd: set[int], count: int) -> list[_Odd]:
    """Steps that stand alone. They are put down to a size that is out of line anyway, else to the one at the end."""
    found = []
    for i, problem in steps:
        at = next((size for size in (i + 1, i) if size in odd), i if i == 0 and count > 3 else i + 1)
        off = problem.step - (problem.neighbours if isinstance(problem, OutOfLine) else 0.0)
        found.append(_Odd(problem.measure, (i,), at, off, problem))
    return found


def _values(measure: str, outlines: Sequence[Outline]) -> list[float]:
    return [outline.area_mm2 for outline in outlines] if measure == AREA else lengths_mm(measure, outlines)


def _said(
    odd: Sequence[_Odd], sizes: Sequence[str], outlines: Sequence[Outline], display: Display
) -> list[str]:
    """What is out of line in one size, the worst first."""
    both = [one for one in odd if one.on_both_sides][:MOST_TOLD]
    single = [one for one in odd if not one.on_both_sides][: MOST_TOLD - len(both)]
    said = []
    if both:
        by_how: dict[str, list[str]] = {}
        for one in both:
            words = ("larger", "smaller") if one.measure == AREA else ("longer", "shorter")
            how = f"{figure(one.measure, one.off, display)} {words[one.off < 0]}"
            by_how.setdefault(how, []).append(_called(one.measure, outlines))
        parts = [
            f"{' and '.join(names)} {'are each' if len(names) > 1 else 'is'} {how}"
            for how, names in by_how.items()
        ]
        at = both[0].at
        beside = f"{sizes[at - 1]} and {sizes[at + 1]}"
        said.append(f"{', '.join(parts)} in {sizes[at]} than {beside} beside it suggest")
    alike: dict[str, list[str]] = {}
    for one in single:
        told = one.problem.told_in(display).removeprefix(one.measure)
        alike.setdefault(told, []).append(one.measure)
    for step, (first, *others) in alike.items():
        too = f", {' and '.join(others)} too" if others else ""
        said.append(f"{first}{step}{too}")
    more = len(odd) - len(both) - len(single)
    if more:
        said.append(f"{more} more {'edge is' if more == 1 else 'edges are'} out of line")
    return said


def _called(measure: str, outlines: Sequence[Outline]) -> str:
    """An edge by name; where a piece has two alike, its figures are those of one of them."""
    lengths = [path_length_mm(path) for path in outlines[0].edge_paths(measure)]
    if len(lengths) < 2 or lengths_mm(measure, outlines)[0] > 0.9 * sum(lengths):
        return measure
    return f"{measure} (each of {len(lengths)})"
