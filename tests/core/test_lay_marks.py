"""Marks go with their piece: mirrored, turned, enlarged for shrinkage, moved."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString
from shapely.geometry import Point as ShapelyPoint

from planner.core.lays.check import placed
from planner.core.lays.marks import NO_MARKS, notch_ends, placed_marks
from planner.core.lays.model import ItemToLay, Placement
from planner.core.outline import Outline, make_outline
from planner.core.pattern_files.model import Marks, Notch

#: A lopsided piece: no turn and no mirror image of it looks like another.
PIECE = make_outline([(0, 0), (300, 0), (340, 120), (180, 200), (20, 150)])
MARKS = Marks(
    notches=(
        Notch(150.0, 0.0, depth_mm=6.0),
        Notch(320.0, 60.0, "T", 5.0, 150.0),
        Notch(330.0, 90.0, depth_mm=7.0),
    ),
    holes=((90.0, 70.0),),
    lines=(((60.0, 40.0), (60.0, 110.0)),),
)


def laid(
    outline: Outline,
    *,
    mirrored: bool,
    turn: int,
    x: float,
    y: float,
    along: float = 1.0,
    across: float = 1.0,
) -> Placement:
    """The piece as a lay places it: cut larger, mirrored, turned and moved."""
    as_cut = outline.scaled(along, across)
    item = ItemToLay(
        "110", "front", "M", 1, mirrored, True, as_cut.mirrored() if mirrored else as_cut
    )  # fmt: skip
    return placed(item, turn, x, y)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("turn", [0, 180])
def test_marks_keep_their_place_within_the_piece(mirrored: bool, turn: int):
    """Distances from each corner of the cut line to hole and notches are what they were."""
    placement = laid(PIECE, mirrored=mirrored, turn=turn, x=812.5, y=41.0)
    found = placed_marks(PIECE, MARKS, placement)
    corners = placement.outline[::-1] if mirrored else placement.outline
    for own, there in zip(PIECE.points, corners, strict=True):
        assert math.dist(own, MARKS.holes[0]) == pytest.approx(math.dist(there, found.holes[0]), abs=1e-6)
        for before, after in zip(MARKS.notches, found.notches, strict=True):
            apart = math.dist(there, (after.x, after.y))
            assert math.dist(own, (before.x, before.y)) == pytest.approx(apart, abs=1e-6)
    bars = [notch_ends(notch, 4.0) for notch in found.notches]
    assert [math.dist(*bar) for bar in bars] == pytest.approx([6.0, 5.0, 7.0])
    # Without a direction of its own it stands at right angles to its edge, a slanting one too: its inner end is as far
    # away from that as it is deep.
    ring = LineString([*placement.outline, placement.outline[0]])
    for bar in bars[::2]:
        assert ring.distance(ShapelyPoint(bar[1])) == pytest.approx(math.dist(*bar), abs=1e-6)
        assert LineString(bar).within(make_outline(placement.outline).polygon.buffer(1e-6))


def test_a_direction_of_its_own_is_mirrored_and_turned():
    angles = {
        (mirrored, turn): placed_marks(PIECE, MARKS, laid(PIECE, mirrored=mirrored, turn=turn, x=0, y=0))
        .notches[1]
        .angle_deg
        for mirrored in (False, True)
        for turn in (0, 180)
    }
    assert angles == {
        (False, 0): pytest.approx(150),
        (False, 180): pytest.approx(330),
        (True, 0): pytest.approx(210),
        (True, 180): pytest.approx(30),
    }


@settings(max_examples=30, deadline=None)
@given(
    mirrored=st.booleans(),
    turn=st.sampled_from([0, 180]),
    x=st.floats(0, 4000),
    y=st.floats(0, 1500),
    along=st.floats(1.0, 1.12),
    across=st.floats(1.0, 1.12),
    corner=st.integers(0, 4),
)
def test_a_mark_at_a_corner_stays_at_that_corner(mirrored, turn, x, y, along, across, corner):
    marks = Marks(holes=(PIECE.points[corner],))
    placement = laid(PIECE, mirrored=mirrored, turn=turn, x=x, y=y, along=along, across=across)
    index = len(PIECE.points) - 1 - corner if mirrored else corner
    assert math.dist(placed_marks(PIECE, marks, placement).holes[0], placement.outline[index]) < 0.01


def test_none_where_another_outline_lies_there():
    placement = laid(PIECE, mirrored=False, turn=0, x=0, y=0)
    assert placed_marks(PIECE, MARKS, placement) != NO_MARKS
    moved = ((placement.outline[0][0] + 5, placement.outline[0][1] + 3), *placement.outline[1:])
    assert placed_marks(PIECE, MARKS, replace(placement, outline=moved)) == NO_MARKS
    assert placed_marks(PIECE, MARKS, replace(placement, mirrored=True)) == NO_MARKS
    assert placed_marks(PIECE, MARKS, replace(placement, outline=placement.outline[:4])) == NO_MARKS
