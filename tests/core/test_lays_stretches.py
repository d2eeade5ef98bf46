"""A stretch of the strip is turned round or put elsewhere; inside it nothing changes."""

import numpy as np
import pytest

from planner.core.lays import overlaps
from planner.core.lays.depths import Depths
from planner.core.lays.overlaps import Overlaps
from planner.core.lays.poses import Poses
from planner.core.lays.solver import Shape, Strip
from planner.core.lays.stretches import Stretch, any_stretch

#: Bars one behind the other fill a strip of 300 × 100; each lies a little higher than the one before.
LENGTHS = (40.0, 60.0, 80.0, 50.0, 70.0)
BEGINNINGS = (0.0, 40.0, 100.0, 180.0, 230.0)
pytestmark = pytest.mark.usefixtures("compiled_search")


def strip_of(turns):
    return Strip(100.0, 0.0, tuple(Shape(((0, 0), (w, 0), (w, 30), (0, 30)), 1, turns) for w in LENGTHS))


def boxes(search):
    """Bounds of all pieces as they lie (mm)."""
    bounds = np.array(
        [search._poses.bounds[s][q] for s, q in zip(range(len(LENGTHS)), search.quarters(), strict=True)]
    )
    return bounds + np.tile(search.points(), 2)


@pytest.fixture
def moved(monkeypatch):
    """The search with the stretch between two cuts moved once, and how all pieces lay before."""

    def move(first, last, *, turned, turns=(0.0, 180.0)):
        poses = Poses(strip_of(turns))
        search = Overlaps(poses, Depths(poses, 100), 1)
        search.set_length(300.0)
        bounds = np.array([b[0] for b in poses.bounds])
        there = np.column_stack([BEGINNINGS, np.arange(5) * 10.0])
        search.lay(there - bounds[:, :2], [0] * 5)
        before = boxes(search)
        monkeypatch.setattr(
            overlaps,
            "any_stretch",
            lambda middle, _length, _random: Stretch((middle >= first) & (middle < last), first, last),
        )
        monkeypatch.setattr(overlaps, "_TURNED_ROUND", 1.0 if turned else 0.0)
        search.move_stretch()
        return search, before

    return move


def test_a_stretch_is_turned_round_where_it_lies(moved):
    """The second to fourth bar, from 40 to 230 and from 10 to 60 across, end for end and upside down."""
    search, before = moved(40.0, 230.0, turned=True)
    assert search.quarters() == [0, 2, 2, 2, 0]
    after, expected = boxes(search), before.copy()
    expected[1:4] = np.array([270.0, 70.0, 270.0, 70.0]) - before[1:4][:, [2, 3, 0, 1]]
    assert after == pytest.approx(expected, abs=1e-3)


def test_a_stretch_changes_places_with_all_behind_it(moved):
    search, before = moved(40.0, 180.0, turned=False)
    along = np.array([0.0, 120.0, 120.0, -140.0, -140.0])
    assert search.quarters() == [0] * 5
    assert boxes(search) == pytest.approx(before + np.column_stack([along, [0] * 5] * 2), abs=1e-3)


def test_the_end_of_the_strip_changes_places_with_all_before_it(moved):
    search, before = moved(180.0, 300.0, turned=False)
    along = np.array([120.0, 120.0, 120.0, -180.0, -180.0])
    assert boxes(search) == pytest.approx(before + np.column_stack([along, [0] * 5] * 2), abs=1e-3)


def test_what_may_not_be_turned_is_put_elsewhere(moved):
    search, before = moved(40.0, 180.0, turned=True, turns=(0.0,))
    assert search.quarters() == [0] * 5
    assert boxes(search)[1, 0] == pytest.approx(before[1, 0] + 120.0, abs=1e-3)


def test_a_stretch_of_one_piece_is_none_and_two_pieces_change_places(moved):
    search, before = moved(40.0, 90.0, turned=True)
    assert (np.abs(boxes(search) - before).max(axis=1) > 1).sum() == 2


def test_stretches_lie_anywhere_and_reach_to_the_ends():
    middle, random = np.arange(5.0, 100.0, 10.0), np.random.default_rng(1)
    found = [any_stretch(middle, 100.0, random) for _ in range(200)]
    assert all(
        (s.pieces == [(s.first <= m < s.last) for m in middle]).all() and 0 <= s.first <= s.last <= 100
        for s in found
    )
    to_begin, to_end = sum(s.first == 0 for s in found), sum(s.last == 100 for s in found)
    assert 25 < to_begin < 75
    assert 25 < to_end < 75
    assert {int(s.pieces.argmax()) for s in found if s.pieces.any()} == set(range(10))
