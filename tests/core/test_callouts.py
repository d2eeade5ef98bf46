"""Numbers beside narrow pieces: each in a place of its own, with a line that ends in its piece."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from planner.core.lays.callouts import Callout, callouts

CLOTH = (0.0, 0.0, 300.0, 120.0)


def rectangle(x: float, y: float, long: float, wide: float) -> list[tuple[float, float]]:
    return [(x, y), (x + long, y), (x + long, y + wide), (x, y + wide)]


def check(found: tuple[Callout, ...], outlines: list[list[tuple[float, float]]], taken: list) -> None:
    rooms = [box(*one.box) for one in found]
    for one, room in zip(found, rooms, strict=True):
        assert box(*CLOTH).buffer(1e-6).contains(room)
        assert Polygon(outlines[one.index]).contains(Point(one.tip))
        assert room.buffer(1e-6).contains(Point(one.start))
        assert not any(room.intersection(box(*held)).area > 1e-9 for held in taken)
    assert all(a.intersection(b).area < 1e-9 for a, b in combinations(rooms, 2))
    for a, b in combinations(found, 2):
        # No label hides the line of another that was there before it.
        later = max(a, b, key=found.index)
        first = a if later is b else b
        assert not box(*later.box).buffer(-1e-6).intersects(LineString([first.start, first.tip]))


def test_a_number_stands_in_free_cloth_near_its_piece() -> None:
    outlines = [rectangle(0, 0, 100, 120), rectangle(120, 10, 3, 60)]
    (one,) = callouts(outlines, {1: (9.0, 8.0)}, CLOTH)
    check((one,), outlines, [])
    room = box(*one.box)
    assert not room.intersects(Polygon(outlines[0]))
    assert room.distance(Polygon(outlines[1])) < 8
    assert not room.intersects(Polygon(outlines[1]))


def test_many_strips_side_by_side_each_get_one() -> None:
    outlines = [rectangle(0, 0, 100, 80), *(rectangle(102 + 4 * n, 0, 3, 60) for n in range(20))]
    taken = [(40.0, 30.0, 60.0, 50.0)]
    found = callouts(outlines, dict.fromkeys(range(1, 21), (9.0, 8.0)), CLOTH, taken)
    assert sorted(one.index for one in found) == list(range(1, 21))
    check(found, outlines, taken)


def test_where_all_is_taken_none_is_forced_in() -> None:
    outlines = [rectangle(10, 10, 3, 60)]
    assert callouts(outlines, {0: (9.0, 8.0)}, CLOTH, [CLOTH]) == ()
    assert callouts(outlines, {0: (400.0, 8.0)}, CLOTH) == ()
    assert callouts([[(0.0, 0.0), (1.0, 1.0)]], {0: (9.0, 8.0)}, CLOTH) == ()
    assert callouts(outlines, {}, CLOTH) == ()


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 280), st.integers(0, 60), st.booleans()), min_size=1, max_size=8),
)
def test_wherever_narrow_pieces_lie(places: list[tuple[int, int, bool]]) -> None:
    outlines = [
        rectangle(x, y, 3, 50) if upright else rectangle(x - 5, y, 20, 2.5) for x, y, upright in places
    ]
    found = callouts(outlines, dict.fromkeys(range(len(outlines)), (8.0, 7.0)), CLOTH)
    check(found, outlines, [])
    assert len(found) == len(outlines)


def test_numbers_of_tapes_side_by_side_stand_apart_and_no_line_crosses_another_tape() -> None:
    """Four tapes 3 wide and 25 long, a gap of 1 between them, with clear cloth round them."""
    tapes = [[(x, 20.0), (x + 3, 20.0), (x + 3, 45.0), (x, 45.0)] for x in (30.0, 34.0, 38.0, 42.0)]
    found = callouts(tapes, dict.fromkeys(range(4), (9.0, 7.0)), (0.0, 0.0, 80.0, 70.0))
    assert len(found) == 4
    rooms = [box(*one.box) for one in found]
    assert all(a.distance(b) > 1.0 for n, a in enumerate(rooms) for b in rooms[n + 1 :])
    for one in found:
        line = LineString([one.start, one.tip])
        others = [Polygon(tape) for n, tape in enumerate(tapes) if n != one.index]
        assert not any(line.intersects(other) for other in others)
        assert not any(box(*one.box).intersects(other) for other in others)


def test_no_label_and_no_line_touches_another_narrow_piece_where_there_are_places_clear_of_them() -> None:
    """Ten strips here and there: the place nearest to one lies beyond another, one clear of all farther off."""
    upright = [(155, 23), (276, 42), (13, 15), (214, 16), (35, 19)]
    along = [(162, 81), (205, 17), (31, 17), (100, 19), (107, 42)]
    outlines = [rectangle(x, y, 3, 50) for x, y in upright] + [rectangle(x, y, 30, 2.5) for x, y in along]
    found = callouts(outlines, dict.fromkeys(range(10), (8.0, 7.0)), CLOTH)
    check(found, outlines, [])
    assert len(found) == 10
    for one in found:
        others = [Polygon(outline) for n, outline in enumerate(outlines) if n != one.index]
        line, room = LineString([one.start, one.tip]), box(*one.box)
        assert not any(line.intersects(other) or room.intersects(other) for other in others)
