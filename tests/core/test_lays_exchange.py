"""Pieces of about the same size change places, and compaction frees them."""

import math

import numpy as np
import pytest

from planner.core.lays import hunt as hunting
from planner.core.lays.exchange import exchanged, exchanges
from planner.core.lays.hunt import Hunt
from planner.core.lays.overlaps import Overlaps
from planner.core.lays.poses import Poses
from planner.core.lays.sides import parts_of, sides
from planner.core.lays.solver import Shape, Strip

L_SHAPE = ((0.0, 0.0), (90.0, 0.0), (90.0, 30.0), (30.0, 30.0), (30.0, 80.0), (0.0, 80.0))
TRIANGLE = ((0.0, 0.0), (60.0, 0.0), (0.0, 50.0))
SQUARE = ((0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0))
pytestmark = pytest.mark.usefixtures("compiled_search")


def strip_of(*shapes, height=100.0, demand=1, turns=(0.0, 180.0)):
    return Strip(height, 0.0, tuple(Shape(s, demand, turns) for s in shapes))


def test_pieces_change_places_by_the_middle_of_their_bounds():
    """A bar of 90 × 30 and one of 100 × 30 that lies turned; the small one is alike to none, and a square to itself."""
    long, longer, small = (
        ((0.0, 0.0), (90.0, 0.0), (0.0, 30.0)),
        ((0.0, 0.0), (100.0, 0.0), (0.0, 30.0)),
        ((0.0, 0.0), (9.0, 0.0), (0.0, 9.0)),
    )
    poses = Poses(strip_of(long, longer, small, height=300.0))
    assert exchanges(poses) == [(0, 1), (0, 0), (1, 1)]
    points = np.array([[50.0, 50.0], [200.0, 100.0], [250.0, 250.0]])

    def middles(places, quarters):
        bounds = np.array([poses.bounds[s][q] for s, q in enumerate(quarters)])
        return places + (bounds[:, :2] + bounds[:, 2:]) / 2

    there, quarters = exchanged(poses, points, [0, 2, 0], 0, 1)
    assert quarters == [2, 0, 0]
    assert middles(there, quarters) == pytest.approx(middles(points, [0, 2, 0])[[1, 0, 2]])
    there, quarters = exchanged(poses, points, [0, 2, 0], 1, 1)
    assert quarters == [0, 0, 0]
    assert middles(there, quarters) == pytest.approx(middles(points, [0, 2, 0]))


def test_what_may_not_be_turned_changes_places_as_it_lies():
    poses = Poses(strip_of(TRIANGLE, SQUARE, height=100.0, turns=(0.0,)))
    assert (0, 0) not in exchanges(poses)
    _, quarters = exchanged(poses, np.zeros((2, 2)), [0, 0], 0, 1)
    assert quarters == [0, 0]


def test_parts_of_two_pieces_with_the_same_normal_keep_them_apart_once():
    """Two L of two boxes each, 90 wide and 95 from each other: both boxes of the second are 5 behind the first one."""
    poses = Poses(strip_of(L_SHAPE, height=100.0, demand=2))
    parts = parts_of(poses)
    rows = sides(parts, np.array([[50.0, 50.0], [145.0, 50.0]]), [0, 0], 20.0)
    normals = {(round(x, 9), round(y, 9)) for x, y in rows.normal.tolist()}
    assert len(normals) == len(rows.least) > 0
    along = [
        least for (x, y), least in zip(rows.normal.tolist(), rows.least.tolist(), strict=True) if x == 1.0
    ]
    assert along == [pytest.approx(-5.0)]


def test_those_who_hunt_together_share_out_the_exchanges():
    strip = strip_of(TRIANGLE, L_SHAPE, SQUARE, demand=2)
    shares = [Hunt(strip, 1, None, scattered=True, share=(number, 3))._exchanges for number in range(3)]
    assert sorted(one for share in shares for one in share) == sorted(exchanges(Poses(strip)))
    assert max(map(len, shares)) - min(map(len, shares)) <= 1


def test_the_closing_part_exchanges_pieces_until_none_is_left_to_try(monkeypatch):
    """Each exchange of the shortest strip is tried once; then the hunt explores again, patiently."""
    tried, patience = [], []
    monkeypatch.setattr(
        hunting,
        "exchanged",
        lambda _poses, places, quarters, *two: tried.append(two) or (places, list(quarters)),
    )
    separate = Overlaps.separate

    def noted(search, enough, patient, over):
        patience.append(patient)
        return separate(search, enough, patient, over)

    monkeypatch.setattr(Overlaps, "separate", noted)
    strip = strip_of(TRIANGLE, L_SHAPE, SQUARE, demand=2)
    hunt = Hunt(strip, 1, None, scattered=True)
    asked = iter(range(900))
    lengths = [
        n
        for n, _ in hunt.run(
            lambda: None, lambda: next(asked, None) is None, lambda: math.isfinite(hunt.best_length)
        )
    ]
    assert lengths
    left = exchanges(Poses(strip))
    assert len(tried) >= len(left)
    assert set(tried) == set(left)
    assert patience[-1] == hunting._PATIENCE
    assert hunting._LAST_PATIENCE in patience
