"""How short rectangles can lie at best: never more than the shortest arrangement there is, and often just that."""

from __future__ import annotations

from functools import cache
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.lays import solver
from planner.core.lays.check import check_marker, least_length_mm
from planner.core.lays.lanes import least_in_lanes_mm
from planner.core.lays.model import ItemToLay, MarkerJob
from planner.core.lays.nest import nest
from planner.core.lays.rows import first_marker
from planner.core.outline import Outline, make_outline, rectangle


def job_of(outlines: list[Outline], *, width: float, gap: float = 0.0) -> MarkerJob:
    items = (ItemToLay("1", "band", "M", n, False, True, one) for n, one in enumerate(outlines))
    return MarkerJob(width, True, gap, tuple(items))


def test_two_bands_abreast_take_half_as_many_rows() -> None:
    """Twelve bands 50 along and some 400 across: of a metre two lie abreast, 6 × 50 and five gaps of 2 are 310."""
    job = job_of([rectangle(50, 388 + 4 * n) for n in range(12)], width=1020, gap=2)
    assert least_in_lanes_mm(job) == pytest.approx(310)
    assert least_length_mm(job) < 250, "by area alone"
    assert first_marker(job).length_mm == pytest.approx(310)


def test_of_rows_that_are_not_full_the_last_counts_whole() -> None:
    """Five abreast, twenty-four in all: the 21st needs a fifth row, 5 × 134 and four gaps of 2."""
    assert least_in_lanes_mm(job_of([rectangle(134, 180)] * 24, width=1020, gap=2)) == pytest.approx(678)
    assert least_in_lanes_mm(job_of([rectangle(134, 180)] * 20, width=1020, gap=2)) == pytest.approx(542)


@pytest.mark.parametrize(
    ("lengths", "least"),
    [((100, 60, 50), 110), ((100, 20, 20), 100), ((90, 90, 90, 30), 180), ((60, 60, 30, 30, 30), 105)],
    ids=["the two shorter in one lane", "the longest alone", "two of the three longest", "half of them all"],
)
def test_lanes_of_different_stretches(lengths: tuple[int, ...], least: float) -> None:
    """Two lanes, for three of 40 do not lie abreast on 100."""
    assert least_in_lanes_mm(job_of([rectangle(n, 40) for n in lengths], width=100)) == pytest.approx(least)


def test_only_rectangles_count() -> None:
    triangle = make_outline([(0, 0), (600, 0), (0, 500)])
    assert least_in_lanes_mm(job_of([triangle] * 4, width=500)) == 0
    assert least_in_lanes_mm(job_of([triangle, rectangle(70, 300), rectangle(70, 300)], width=500)) == 140


def test_what_may_just_lie_abreast_does() -> None:
    """The judge of a marker lets a tenth of a millimetre pass at each edge."""
    assert least_in_lanes_mm(job_of([rectangle(50, 500.05)] * 2, width=1000)) == 50
    assert least_in_lanes_mm(job_of([rectangle(50, 501)] * 2, width=1000)) == 100


SIZES = st.tuples(st.integers(1, 3), st.integers(1, 3))


@given(st.lists(SIZES, min_size=1, max_size=4), st.integers(3, 5))
def test_no_arrangement_is_shorter(sizes: list[tuple[int, int]], width: int) -> None:
    """Against all arrangements on a grid, which hold a shortest one where all measures are whole numbers."""
    job = job_of([rectangle(10 * along, 10 * across) for along, across in sizes], width=10 * width)
    assert least_in_lanes_mm(job) <= 10 * shortest(tuple(sorted(sizes)), width) + 1e-9


@cache
def shortest(sizes: tuple[tuple[int, int], ...], width: int) -> int:
    length = max(along for along, _ in sizes)
    while not fits(sizes, length, width, frozenset()):
        length += 1
    return length


def fits(
    sizes: tuple[tuple[int, int], ...], length: int, width: int, taken: frozenset[tuple[int, int]]
) -> bool:
    if not sizes:
        return True
    (along, across), rest = sizes[-1], sizes[:-1]
    for x, y in product(range(length - along + 1), range(width - across + 1)):
        cells = frozenset(product(range(x, x + along), range(y, y + across)))
        if not cells & taken and fits(rest, length, width, taken | cells):
            return True
    return False


def test_bands_in_rows_that_cannot_be_shorter_are_not_nested(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solver.subprocess, "Popen", lambda *_, **__: pytest.fail("a process was started"))
    job = job_of([rectangle(50, 388 + 4 * n) for n in range(12)], width=1020, gap=2)
    marker = nest(job, seconds=60)
    assert (marker.how, marker.length_mm) == ("nested", pytest.approx(310))
    assert check_marker(job, marker.placements) == []
