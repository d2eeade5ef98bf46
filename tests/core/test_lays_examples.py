"""Markers of the same pieces in other sizes as examples: which piece is laid where, and what comes of it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.core.lays import examples
from planner.core.lays import hunt as hunting
from planner.core.lays import nest as nesting
from planner.core.lays.check import check_marker, marker_from_placements, placed
from planner.core.lays.examples import example_of, is_example_for, laid_like
from planner.core.lays.hunt import Hunt
from planner.core.lays.model import ItemToLay, MarkerJob
from planner.core.lays.nest import nest
from planner.core.lays.poses import Poses
from planner.core.lays.question import arrangement_of, grouped, strip_for
from planner.core.lays.rows import first_marker
from planner.core.lays.solver import hunted
from planner.core.lays.stored import family_of
from planner.core.outline import make_outline, rectangle

#: Length and width of a body and a sleeve for each size: one of each of a garment lies across 1,000 mm of cloth.
BODIES = {"S": (500.0, 400.0), "M": (550.0, 450.0), "L": (600.0, 500.0), "XL": (650.0, 550.0)}
SLEEVES = {"S": (300.0, 380.0), "M": (320.0, 400.0), "L": (340.0, 420.0), "XL": (360.0, 440.0)}


def job_of(*sizes, width=1000.0, one_way=False, **changes):
    items = [
        replace(ItemToLay("T1", piece, size, number, False, True, rectangle(*table[size])), **changes)
        for number, size in enumerate(sizes, 1)
        for piece, table in (("body", BODIES), ("sleeve", SLEEVES))
    ]
    return MarkerJob(width, one_way, 0.0, tuple(items))


def marker_of(job, spots):
    """The items in their order laid at these corners: x, y and turn."""
    return marker_from_placements(
        job, [placed(item, turn, x, y) for item, (x, y, turn) in zip(job.items, spots, strict=True)]
    )


def question_of(job):
    groups = grouped(job)
    return groups, strip_for(job, groups, 0.0)


#: S, then L: the bodies one behind the other at the lower edge, the sleeves at the upper one, the second turned.
KNOWN_JOB = job_of("S", "L")
KNOWN = marker_of(KNOWN_JOB, [(0, 0, 0), (0, 620, 0), (500, 0, 0), (300, 580, 180)])


@pytest.fixture
def by_size(monkeypatch):
    """No size takes another's place by chance."""
    monkeypatch.setattr(examples, "_SIZES_OFF", 0.0)


@pytest.mark.usefixtures("by_size")
def test_the_smaller_lies_where_the_smaller_lay_whatever_the_order():
    job = job_of("XL", "M")
    groups, strip = question_of(job)
    example = example_of(job, groups, strip, KNOWN)
    known_area, area = (sum(i.outline.area_mm2 for i in one.items) for one in (KNOWN_JOB, job))
    growth = area / known_area
    assert example.length == pytest.approx(1100 * growth)
    poses = Poses(strip)
    points, quarters = laid_like(example, poses, np.random.default_rng(1))
    where = {
        (groups[shape].items[0].piece, groups[shape].items[0].size): (*point, quarter)
        for shape, point, quarter in zip(poses.shape_of, points.tolist(), quarters, strict=True)
    }
    # Middles of S and L in the known marker, drawn out along the cloth as the pieces have grown.
    edge = (strip.height - 1000) / 2
    assert where == {
        ("body", "M"): pytest.approx((250 * growth, 200 + edge, 0)),
        ("body", "XL"): pytest.approx((800 * growth, 250 + edge, 0)),
        ("sleeve", "M"): pytest.approx((150 * growth, 810 + edge, 0)),
        ("sleeve", "XL"): pytest.approx((470 * growth, 790 + edge, 2)),
    }


@settings(max_examples=40, deadline=None)
@given(st.lists(st.sampled_from(sorted(BODIES)), min_size=2, max_size=2), st.integers(0, 9))
def test_every_place_is_taken_once_by_a_piece_of_its_kind(sizes, seed):
    job = job_of(*sizes)
    groups, strip = question_of(job)
    example = example_of(job, groups, strip, KNOWN)
    points, quarters = laid_like(example, Poses(strip), np.random.default_rng(seed))
    laid = sorted(
        (groups[shape].items[0].piece, *point, 90.0 * quarter)
        for shape, point, quarter in zip(Poses(strip).shape_of, points.tolist(), quarters, strict=True)
    )
    kinds = dict(zip(("body", "sleeve"), example.kinds, strict=True))
    assert laid == sorted((piece, *spot) for piece, kind in kinds.items() for spot in kind.spots)


def test_sizes_next_to_each_other_change_places_by_chance():
    job = job_of("M", "L")
    groups, strip = question_of(job)
    example, poses = example_of(job, groups, strip, KNOWN), Poses(strip)
    random = np.random.default_rng(1)
    assert len({tuple(laid_like(example, poses, random)[0][:, 0]) for _ in range(30)}) > 1


@pytest.mark.parametrize(
    ("job", "marker"),
    [
        (job_of("M", "L", "L"), KNOWN),
        (job_of("M", "L", piece="yoke"), KNOWN),
        (job_of("M", "L", mirrored=True), KNOWN),
        (job_of("M", "L", width=1040.0), KNOWN),
        (job_of("M", "L"), replace(KNOWN, how="rows")),
        (job_of("M", "L"), replace(KNOWN, how="library")),
    ],
    ids=["more garments", "another piece", "mirrored", "wider cloth", "rows", "the library alone"],
)
def test_what_lies_otherwise_is_no_example(job, marker):
    assert example_of(job, *question_of(job), marker) is None


def test_cloth_a_little_wider_or_narrower_lies_alike():
    assert is_example_for(KNOWN, 1029.0)
    assert is_example_for(KNOWN, 972.0)
    assert not is_example_for(KNOWN, 969.0)


@pytest.mark.usefixtures("by_size")
def test_a_piece_that_may_not_be_turned_lies_as_it_may():
    job = job_of("M", "L", may_turn=False)
    groups, strip = question_of(job)
    example = example_of(job, groups, strip, KNOWN)
    assert laid_like(example, Poses(strip), np.random.default_rng(1))[1] == [0, 0, 0, 0]


def test_an_example_for_other_pieces_is_refused():
    job, other = job_of("M", "L"), job_of("M", "L", "L")
    groups, strip = question_of(job)
    example = example_of(job, groups, strip, KNOWN)
    with pytest.raises(ValueError, match="lacks pieces"):
        laid_like(example, Poses(question_of(other)[1]), np.random.default_rng(1))
    one_size = Poses(question_of(job_of("M", "M"))[1])
    with pytest.raises((ValueError, IndexError)):
        laid_like(example, one_size, np.random.default_rng(1))


def test_a_family_is_the_same_pieces_in_any_sizes():
    family = family_of(job_of("S", "L"))
    assert family == family_of(job_of("XL", "M", width=1500.0)) != ""
    others = [
        job_of("S"),
        job_of("S", "L", one_way=True),
        job_of("S", "L", style="T2"),
        job_of("S", "L", may_turn=False),
        job_of("S", "L", mirrored=True),
    ]
    assert family not in {family_of(job) for job in others}
    assert family_of(job_of("S", "L", beside="all")) == ""


def triangles(*lengths):
    """Right triangles 500 mm high: two of a length turned against each other fill a rectangle."""
    items = [
        ItemToLay("T1", "gore", f"{length:.0f}", number, False, True,
                  make_outline([(0, 0), (length, 0), (0, 500)]))
        for number, length in enumerate(lengths, 1)
    ]  # fmt: skip
    return MarkerJob(500.0, False, 0.0, tuple(items))


@pytest.mark.usefixtures("compiled_search")
@pytest.mark.parametrize("in_time", [True, False])
def test_a_hunt_begins_as_the_example_lies_while_it_may(monkeypatch, in_time):
    """Four triangles in two rectangles: those a little larger lie so too. What comes without an example is as good."""
    laid = []
    monkeypatch.setattr(hunting, "laid_like", lambda *asked: laid.append(asked) or laid_like(*asked))
    known = marker_of(triangles(300, 300, 400, 400), [(0, 0, 0), (0, 0, 180), (300, 0, 0), (300, 0, 180)])
    groups, strip = question_of(job := triangles(320, 320, 430, 430))
    calls = iter(range(400))
    hunt = Hunt(strip, 1, None, scattered=True, examples=[example_of(job, groups, strip, known)])
    found = hunt.run(lambda: None, lambda: next(calls, None) is None, beginning=lambda: in_time)
    lengths = [length for length, _ in found]
    assert min(lengths) == pytest.approx(750, abs=1.0)
    assert lengths == sorted(lengths, reverse=True)
    assert bool(laid) == in_time


@pytest.mark.usefixtures("compiled_search")
@pytest.mark.parametrize("scattered", [True, False])
def test_who_is_to_explore_begins_anew_after_the_examples(monkeypatch, scattered):
    """Others go on from what came of them; who has no others does so itself."""
    monkeypatch.setattr(hunting, "_MOST_LAID", 10)
    known = marker_of(triangles(300, 300), [(0, 0, 0), (0, 0, 180)])
    groups, strip = question_of(job := triangles(320, 320))
    hunt = Hunt(strip, 1, None, scattered=scattered, examples=[example_of(job, groups, strip, known)])
    found = list(hunt._by_examples(lambda: False))
    assert found[-1].length == pytest.approx(320, abs=0.5)
    assert (hunt._own is None) == scattered


@pytest.mark.usefixtures("compiled_search")
def test_a_hunt_does_not_lay_by_examples_for_ever(monkeypatch):
    monkeypatch.setattr(hunting, "_MOST_LAID", 3)
    laid = []
    monkeypatch.setattr(hunting, "laid_like", lambda *asked: laid.append(asked) or laid_like(*asked))
    known = marker_of(triangles(300, 400), [(0, 0, 0), (400, 0, 180)])
    groups, strip = question_of(job := triangles(310, 420))
    calls = iter(range(200))
    hunt = Hunt(strip, 1, None, scattered=True, examples=[example_of(job, groups, strip, known)] * 2)
    list(hunt.run(lambda: None, lambda: next(calls, None) is None))
    assert len(laid) == 3


@pytest.mark.usefixtures("compiled_search")
def test_a_hunt_that_has_a_better_start_goes_on_from_that():
    """The example lies one behind the other, twice as long as two triangles in one rectangle, which is the start."""
    known = marker_of(triangles(300, 310), [(0, 0, 0), (310, 0, 0)])
    groups, strip = question_of(job := triangles(300, 320))
    start = arrangement_of(job, groups, strip, marker_of(job, [(0, 0, 0), (0, 0, 180)]))
    calls = iter(range(2))
    hunt = Hunt(strip, 1, start, scattered=False, examples=[example_of(job, groups, strip, known)])
    list(hunt.run(lambda: None, lambda: next(calls, None) is None))
    assert hunt.best_length == pytest.approx(320, abs=0.5)
    assert hunt._own.length == pytest.approx(320, abs=0.5)


@pytest.mark.usefixtures("compiled_search")
def test_a_marker_nested_with_examples_is_valid_and_examples_of_others_do_no_harm(monkeypatch):
    """Begun with one pair of triangles turned against each other; in the example both are."""
    job = triangles(320, 340, 360, 380)
    pairs = [(0, 0, 0), (0, 0, 180), (320, 0, 0), (320, 0, 180)]
    known = marker_of(triangles(300, 320, 340, 360), [(x, y, turn) for x, y, turn in pairs])
    start = marker_of(job, [(0, 0, 0), (0, 0, 180), (340, 0, 0), (700, 0, 0)])
    foreign, heard, seen = first_marker(job_of("S", "L")), [], []

    def note(*args, **options):
        heard.append(len(options["examples"]))
        return hunted(*args, **options)

    monkeypatch.setattr(nesting, "hunted", note)
    found = nest(
        job, seconds=4, seed=1, workers=1, start=start, on_progress=seen.append,
        should_stop=lambda: len(seen) > 1, examples=[known, replace(foreign, how="nested")],
    )  # fmt: skip
    assert heard == [1], "what is no example of this marker is not passed on"
    assert check_marker(job, found.placements) == []
    assert found.length_mm < start.length_mm < first_marker(job).length_mm
