"""Our own search for shorter strips: its geometry against shapely, its results against known optima."""

import math
import time
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon

from planner.core.lays import hunt as hunting
from planner.core.lays import nest as nest_module
from planner.core.lays import runs, searcher, solver
from planner.core.lays.check import check_marker, marker_from_placements, placed
from planner.core.lays.compact import compacted
from planner.core.lays.depths import LEAST_CELLS, MOST_CELLS, Depths, cells_across
from planner.core.lays.grow import MOST_SIMPLIFIED_MM, grown_outline
from planner.core.lays.hunt import Hunt
from planner.core.lays.model import ItemToLay, MarkerJob
from planner.core.lays.nest import nest
from planner.core.lays.nofit import depth_table
from planner.core.lays.overlaps import Overlaps, _begin
from planner.core.lays.places import depth_in
from planner.core.lays.poses import NoPose, Poses, convex_parts, turned
from planner.core.lays.question import arrangement_of, grouped, placements_of, strip_for
from planner.core.lays.rows import first_marker
from planner.core.lays.runs import runs_for
from planner.core.lays.sides import parts_of, sides
from planner.core.lays.solver import Shape, SolverFailed, Spot, Strip, hunted
from planner.core.lays.trades import trade
from planner.core.outline import make_outline, rectangle

L_SHAPE = ((0.0, 0.0), (90.0, 0.0), (90.0, 30.0), (30.0, 30.0), (30.0, 80.0), (0.0, 80.0))
TRIANGLE = ((0.0, 0.0), (60.0, 0.0), (0.0, 50.0))
HALF_TURN = (0.0, 180.0)
few = settings(max_examples=25, deadline=None)
pytestmark = pytest.mark.usefixtures("compiled_search")


@st.composite
def stars(draw):
    """Simple polygons of 5 to 24 corners round a centre, bulging and hollow, up to some 600 mm wide."""
    count = draw(st.integers(5, 24))
    radii = draw(st.lists(st.floats(60, 300), min_size=count, max_size=count))
    turn = 2 * math.pi / count
    return tuple((r * math.cos(i * turn), r * math.sin(i * turn)) for i, r in enumerate(radii))


def strip_of(*shapes, height=100.0, demand=1, turns=HALF_TURN):
    return Strip(height, 0.0, tuple(Shape(s, demand, turns) for s in shapes))


def polygon_of(shape, spot):
    return affinity.translate(
        affinity.rotate(Polygon(shape.points), spot.rotation_deg, (0, 0)), spot.dx, spot.dy
    )


def job_of(outlines, width=500.0, gap=0.0):
    items = [ItemToLay("T1", "part", "M", n, False, True, o) for n, o in enumerate(outlines, 1)]
    return MarkerJob(width, False, gap, tuple(items))


@few
@given(stars(), st.floats(0.0, 6.0))
def test_no_simplified_outline_cuts_into_a_piece_or_leaves_its_bound(points, by_mm):
    original, grown = Polygon(points), Polygon(grown_outline(points, by_mm))
    assert grown.buffer(1e-6).covers(original.buffer(by_mm))
    assert original.buffer(by_mm + MOST_SIMPLIFIED_MM + 1e-6).covers(grown)


@few
@given(stars())
def test_convex_parts_cover_the_outline_and_nothing_else(points):
    parts = [Polygon(p) for p in convex_parts(np.array(points))]
    whole = Polygon(points)
    assert shapely.union_all(parts).symmetric_difference(whole).area <= whole.area * 1e-6
    assert sum(p.area for p in parts) == pytest.approx(whole.area, rel=1e-6)
    assert all(p.convex_hull.area - p.area <= whole.area * 1e-9 for p in parts)


SQUARE = ((0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0))


@few
@given(stars(), stars(), st.integers(0, 3), st.integers(0, 3), st.floats(-500, 500), st.floats(-500, 500))
def test_two_poses_are_apart_where_shapely_says_so(first, second, turn, other_turn, x, y):
    poses = Poses(strip_of(first, second, height=1000.0, turns=(0.0, 90.0, 180.0, 270.0)))
    found = sides(parts_of(poses), np.array([[0.0, 0.0], [x, y]]), [turn, 4 + other_turn], 2000.0)
    assert set(found.first.tolist()) == {0}
    assert set(found.second.tolist()) == {1}
    assert np.hypot(*found.normal.T) == pytest.approx(1.0)
    beyond = -float(found.least.max())
    a = Polygon(turned(poses.outlines[0], turn))
    b = affinity.translate(Polygon(turned(poses.outlines[1], other_turn)), x, y)
    if beyond > 1e-6:
        assert a.intersection(b).area <= 1e-6
        # Moved together by less than what keeps them apart, they still are.
        side = int(found.least.argmax())
        near = affinity.translate(b, *(-0.99 * beyond * found.normal[side]))
        assert a.intersection(near).area <= 1e-6
    elif beyond < -1e-6:
        assert a.buffer(1e-6).intersects(b)


def test_what_is_far_apart_is_left_out_and_what_is_near_has_a_side():
    """Two squares of 40 with 5 between them along, then 9; a step of 4 each brings them together or not."""
    poses = Poses(strip_of(SQUARE, height=100.0, demand=2))
    parts = parts_of(poses)
    near = sides(parts, np.array([[20.0, 20.0], [65.0, 20.0]]), [0, 0], 4.0)
    assert (near.normal.tolist(), near.least.tolist()) == ([[1.0, 0.0]], [-5.0])
    assert len(sides(parts, np.array([[20.0, 20.0], [69.0, 20.0]]), [0, 0], 4.0).least) == 0
    many = np.zeros((40, 2))
    assert len(sides(parts, many, [0] * 40, 4.0).least) == 40 * 39 / 2


def depth_at(tables, lies, moves, x, y):
    """The depth for a vector in cells, interpolated; None beyond the table."""
    start, wide, high, first_x, first_y = tables.frame[lies, moves].tolist()
    u, v = x / tables.step - first_x, y / tables.step - first_y
    if not (0 <= u < wide - 1 and 0 <= v < high - 1):
        return None
    return float(depth_in(tables.depth, start, high, u, v))


def test_depths_are_how_far_a_piece_must_be_moved_to_be_free():
    """Two squares of side 40 at the same place are 40 apart, so 40 cells of 1; a cell outside it is 1 below 0."""
    fine = Depths(Poses(strip_of(SQUARE, demand=2)), 100).fine
    assert depth_at(fine, 0, 0, 0, 0) == pytest.approx(40, abs=1e-3)
    assert depth_at(fine, 0, 0, 30, 0) == pytest.approx(10, abs=1e-3)
    assert depth_at(fine, 0, 0, 30.5, 7) == pytest.approx(9.5, abs=1e-3)
    assert depth_at(fine, 0, 0, 0, -39) == pytest.approx(1, abs=1e-3)
    assert depth_at(fine, 0, 0, 40, 0) == pytest.approx(0, abs=1e-3)
    assert depth_at(fine, 0, 0, 40.5, 0) == pytest.approx(-0.5, abs=1e-3)


def minkowski_parts(first, second):
    """The convex no-fit polygons of all pairs of convex parts, as shapely makes them."""
    sums = [(a[:, None, :] - b[None, :, :]).reshape(-1, 2) for a in first for b in second]
    return shapely.convex_hull(np.array([shapely.multipoints(s) for s in sums]))


@few
@given(stars(), stars())
def test_a_table_of_depths_is_what_shapely_measures(first, second):
    """Inside and outside to the letter; depths to half a cell, for corners of the boundary are cut by as much."""
    lies, moves = (np.array(Polygon(r).exterior.normalize().coords)[:-1][::-1] for r in (first, second))
    depth, first_x, first_y = depth_table(lies, moves, 20.0)
    region = shapely.union_all(minkowski_parts(convex_parts(lies), convex_parts(moves)))
    xs, ys = np.indices(depth.shape, dtype=float)
    points = shapely.points((xs + first_x) * 20.0, (ys + first_y) * 20.0)
    distance = shapely.distance(points, shapely.boundary(region)) / 20.0
    inside = shapely.contains(region, points)
    plain = distance > 1e-6
    assert np.array_equal(depth[plain] > 0, inside[plain])
    assert np.abs(depth - distance)[inside].max() <= 0.5
    beside = ~inside & (distance < 1)
    assert np.abs(depth + distance)[beside].max() <= 0.5


def test_many_different_shapes_get_a_coarser_raster_and_too_many_none():
    def poses(count):
        shapes = [((0.0, 0.0), (30.0 + n / 100, 0.0), (0.0, 40.0)) for n in range(count)]
        return Poses(strip_of(*shapes))

    assert cells_across(poses(10)) == MOST_CELLS
    assert cells_across(poses(19)) > cells_across(poses(20)) == 84
    assert LEAST_CELLS <= cells_across(poses(100)) < MOST_CELLS
    with pytest.raises(NoPose, match="too many"):
        cells_across(poses(501))


def test_a_table_of_turned_poses_is_the_table_turned():
    turns = (0.0, 90.0, 180.0, 270.0)
    fine = Depths(Poses(strip_of(L_SHAPE, TRIANGLE, turns=turns)), 64).fine
    for x, y in ((3, 5), (-20, 11), (25, -17)):
        straight = depth_at(fine, 0, 4, x, y)
        assert straight is not None
        assert depth_at(fine, 1, 5, -y, x) == pytest.approx(straight, abs=1e-4)
        assert depth_at(fine, 2, 6, -x, -y) == pytest.approx(straight, abs=1e-4)
        assert depth_at(fine, 4, 0, -x, -y) == pytest.approx(straight, abs=1e-4)  # seen from the other


def test_the_coarse_raster_holds_the_same_depths():
    depths = Depths(Poses(strip_of(L_SHAPE, TRIANGLE)), 128)
    assert depths.coarse.step == 2
    unit = float(depths.coarse.unit)
    for x, y in ((4, 6), (-20, 10), (0, 0)):
        fine = depth_at(depths.fine, 0, 4, x, y)
        assert unit * depth_at(depths.coarse, 0, 4, x, y) == pytest.approx(fine, abs=unit)
    assert unit * depths.coarse.depth.max() == pytest.approx(depths.fine.depth.max(), rel=0.05)
    assert unit < 0.01  # cells
    assert depths.coarse.depth.min() == 0


def test_a_piece_goes_where_there_is_room_for_it():
    """Two squares of 40 upon each other in a strip of 40 × 100: one moves, and none overlaps any more."""
    poses = Poses(strip_of(SQUARE, height=40.0, demand=2))
    search = Overlaps(poses, Depths(poses, 64), 1)
    search.set_length(100.0)
    search.lay(np.array([[25.0, 20.0], [30.0, 20.0]]), [0, 0])
    assert search.separate(0.0, 50, lambda: False) == 0
    (a, _), (b, _) = search.points().tolist()
    assert abs(a - b) >= 40.0 - 0.7  # a cell
    search.set_length(79.0)
    assert search.separate(0.0, 20, lambda: False) > 0
    assert search.points()[:, 0].min() >= 20 - 1e-4
    assert search.points()[:, 0].max() <= 59 + 1e-4


def test_compaction_pushes_pieces_together_and_overlaps_apart():
    """Three squares of 40 in a strip of 50: one behind the other, 120; begun 20 apart, and begun overlapping by 1."""
    poses = Poses(strip_of(SQUARE, height=50.0, demand=3))
    for xs in ((20.0, 61.0, 103.0), (20.0, 59.0, 98.0)):
        found = compacted(poses, parts_of(poses), np.array([[x, 25.0] for x in xs]), [0, 0, 0], rounds=40)
        assert found is not None
        assert found.length == pytest.approx(120.0, abs=1e-3)


def test_compaction_gives_up_what_cannot_be_freed_by_small_moves():
    poses = Poses(strip_of(SQUARE, height=50.0, demand=3))
    assert (
        compacted(poses, parts_of(poses), np.array([[20.0, 25.0]] * 3), [0, 0, 0], shorter_than=60.0) is None
    )


def test_the_hunt_finds_the_known_optimum_and_only_gets_shorter():
    """Four right triangles 60 × 50 fill 120 × 50, two and two; and hook-like pieces fit into each other."""
    strip = strip_of(TRIANGLE, height=50.0, demand=4)
    left = [0]

    def over():
        left[0] += 1
        return left[0] > 400

    found = list(Hunt(strip, 1, None, scattered=True).run(lambda: None, over))
    lengths = [length for length, _ in found]
    assert lengths == sorted(lengths, reverse=True)
    assert lengths[-1] == pytest.approx(120.0, abs=0.01)
    for length, arrangement in found:
        laid = [polygon_of(strip.shapes[0], s).buffer(-1e-4) for s in arrangement]
        assert all(not a.intersects(b) for n, a in enumerate(laid) for b in laid[:n])
        assert max(p.bounds[2] for p in laid) <= length
        assert min(p.bounds[1] for p in laid) >= 0
        assert max(p.bounds[3] for p in laid) <= 50


def test_pieces_that_jam_are_not_sought_apart_from_where_they_jammed(monkeypatch):
    """What lies free of overlap on the raster cannot always be freed exactly; the hunt then begins elsewhere."""
    tried = []

    def jammed(poses, parts, points, quarters, **_):
        tried.append(points.round(6).tolist())

    monkeypatch.setattr(hunting, "compacted", jammed)
    asked = iter(range(60))
    strip = strip_of(TRIANGLE, height=50.0, demand=3)
    assert not list(Hunt(strip, 1, None, scattered=True).run(lambda: None, lambda: next(asked, None) is None))
    assert len(tried) > 3
    assert all(one != other for one, other in pairwise(tried))


def test_two_alike_change_places_and_turns():
    """A long piece upright and a little longer one lying; the small third is like neither."""
    long, longer, small = (
        tuple((x * k, y * k) for x, y in ((0.0, 0.0), (90.0, 0.0), (90.0, 30.0))) for k in (1.0, 1.1, 0.3)
    )
    poses = Poses(strip_of(long, longer, small, height=300.0, turns=(0.0, 90.0)))
    search = Overlaps(poses, Depths(poses, 64), 1)
    search.set_length(600.0)
    before = np.array([[100.0, 100.0], [300.0, 100.0], [500.0, 100.0]])
    alike = 0
    for _ in range(30):
        search.lay(before, [0, 1, 0])
        search.swap_two()
        if search.quarters() == [1, 0, 0]:
            alike += 1
            assert search.points() == pytest.approx(before[[1, 0, 2]], abs=1e-3)
    assert 5 < alike < 30


def test_two_pieces_trade_places_where_that_leaves_less_overlap():
    """Rows of 44 + 60 and 40 + 56 on a strip of 100: one is too tight, the other has room, and no place is free.

    As 40 + 60 and 44 + 56 all fit; then nothing is gained by another trade, and nothing is moved.
    """
    bars = [((0, 0), (300, 0), (300, high), (0, high)) for high in (44, 60, 40, 56)]
    poses = Poses(strip_of(*bars, height=100.0))
    depths = Depths(poses, 100)
    search = Overlaps(poses, depths, 1)
    search.set_length(600.0)
    laid, room, scratch = search._laid, search._room, search._scratch
    first, last = room.within[laid.pose, 2], room.within[laid.pose, 3]  # lowest and highest place of each
    laid.x[:] = [150.0, 150.0, 450.0, 450.0]
    laid.y[:] = [first[0], last[1], first[2], last[3]]
    trading = (search._partners[0], search._middle, laid, room, depths.fine, scratch, np.float32(1.0))
    assert overlapping(laid, depths) == pytest.approx(4.0, abs=0.1)
    assert trade(0, *trading)
    assert overlapping(laid, depths) < 0.1
    assert [x < 300 for x in laid.x.tolist()] == [False, True, True, False]
    before = search.points().tolist()
    assert not trade(0, *trading)
    assert search.points().tolist() == before


def overlapping(laid, depths):
    return _begin(laid, depths.fine)


def test_the_same_seed_hunts_alike_where_no_time_is_set():
    strip = strip_of(L_SHAPE, TRIANGLE, demand=3)

    def hunt(seed):
        passes = iter(range(150))
        return list(
            Hunt(strip, seed, None, scattered=True).run(lambda: None, lambda: next(passes, None) is None)
        )

    assert hunt(3) == hunt(3)


def test_a_hunt_takes_over_what_it_hears_where_that_is_shorter():
    strip = strip_of(TRIANGLE, height=50.0, demand=2)
    good = (Spot(0, 0.0, 0.0, 0.0), Spot(0, 180.0, 60.0, 50.0))
    bad = (Spot(0, 0.0, 0.0, 0.0), Spot(0, 0.0, 60.0, 0.0))
    hunt = Hunt(strip, 1, bad, scattered=False)
    assert hunt.best_length == pytest.approx(120)
    hunt.hear(good)
    hunt.hear(bad)
    assert hunt.best_length == pytest.approx(60)


def test_only_quarter_turns_are_searched():
    with pytest.raises(NoPose):
        Poses(strip_of(TRIANGLE, turns=(0.0, 45.0)))
    with pytest.raises(SolverFailed, match="quarter turns"):
        list(hunted(strip_of(TRIANGLE, turns=(0.0, 45.0)), seconds=5, workers=1))


def test_no_piece_is_turned_so_that_it_stands_out_of_the_strip():
    """A bar of 90 × 20 in a strip of 50 lies along it; two of them side by side, 90 long."""
    bar = ((0.0, 0.0), (90.0, 0.0), (90.0, 20.0), (0.0, 20.0))
    strip = strip_of(bar, height=50.0, demand=2, turns=(0.0, 90.0))
    assert Poses(strip).turns == [(0,)]
    asked = iter(range(40))
    *_, (length, _) = Hunt(strip, 1, None, scattered=True).run(
        lambda: None, lambda: next(asked, None) is None
    )
    assert length == pytest.approx(90.0, abs=1e-3)
    with pytest.raises(NoPose, match="higher than the strip"):
        Poses(strip_of(bar, height=50.0, turns=(90.0,)))


@pytest.mark.parametrize(("count", "shortest"), [(1, 90.0), (2, 120.0)])
def test_one_piece_or_two_are_hunted_like_many(count, shortest):
    """Two of the L in a strip of 100: the second is turned, its post behind the first one's foot, 30 farther on."""
    strip = strip_of(L_SHAPE, demand=count)
    asked = iter(range(300))
    *_, (length, _) = Hunt(strip, 1, None, scattered=True).run(
        lambda: None, lambda: next(asked, None) is None
    )
    assert length == pytest.approx(shortest, abs=1e-3)


def test_a_marker_as_an_arrangement_and_back_is_the_same_marker():
    outlines = [make_outline(L_SHAPE), make_outline(TRIANGLE), make_outline(L_SHAPE), rectangle(30, 90)]
    job = job_of(outlines, width=100.0, gap=2.0)
    groups = grouped(job)
    strip = strip_for(job, groups, 0.0)
    marker = first_marker(job)
    arrangement = arrangement_of(job, groups, strip, marker)
    assert arrangement is not None
    back = placements_of(job, groups, strip, arrangement)
    assert back is not None
    assert check_marker(job, back) == []
    assert arrangement_of(job, groups, strip, first_marker(job_of(outlines[:3], width=100.0))) is None


def test_keeping_on_from_a_good_marker_never_makes_it_longer_and_stops_soon():
    """As a night of improving: begun from the best, stopped, the best kept."""
    job = job_of([make_outline([(x * 4, y * 4) for x, y in L_SHAPE])] * 6, gap=2.0)
    # Two and two hooked into each other, 500 wide; how they lie between that could still be better.
    pairs = [
        placed(item, 180 * (n % 2), 370.0 * (n // 2), 180.0 * (n % 2)) for n, item in enumerate(job.items)
    ]
    first, found, wanted = marker_from_placements(job, pairs), [], []

    def stop():
        if len(found) > 1 or time.monotonic() - began > 3.0:
            wanted.append(time.monotonic())
        return bool(wanted)

    began = time.monotonic()
    kept = nest(job, seconds=8 * 3600, seed=2, start=first, should_stop=stop, on_progress=found.append)
    assert time.monotonic() - wanted[0] < 0.5  # 0.2 s on a machine with nothing else to do
    assert (found[0].length_mm, kept) == (first.length_mm, found[-1])
    assert kept.length_mm <= first.length_mm
    assert check_marker(job, kept.placements) == []


def test_a_night_is_cut_into_runs_of_ten_minutes_at_most():
    night = runs_for(20, 8 * 3600, fresh=False)
    assert all(r.hunting and r.seconds <= 600 for r in night)
    assert sum(r.seconds for r in night) == pytest.approx(8 * 3600)
    assert [(r.library_seconds, r.seconds) for r in runs_for(20, 15, fresh=True)] == [(1, 15)]
    assert [r.hunting for r in runs_for(20, 1, fresh=True)] == [False]


def test_runs_follow_each_other_each_from_the_best_with_a_seed_of_its_own(monkeypatch):
    """A night in small: four triangles end to end are 2,400 long; two of them turned into a block, 1,800.

    The first run finds that, the second only the way there was before, the third nothing, the fourth fails.
    """
    job = job_of([make_outline([(0, 0), (600, 0), (0, 500)])] * 4, width=500.0)
    groups = grouped(job)
    found = [placed(job.items[0], 0, 0, 0), placed(job.items[1], 180, 0, 0)]
    found += [placed(item, 0, 600.0 * n, 0) for n, item in enumerate(job.items[2:], 1)]
    shorter, longer = marker_from_placements(job, found), first_marker(job)
    asked, told = [], []

    def hunt(strip, *, seconds, seed, start, **_):
        begun_from = marker_from_placements(job, placements_of(job, groups, strip, start))
        asked.append((round(begun_from.length_mm), round(seconds, 3), seed))
        number = len(asked)
        if number < 3:
            yield arrangement_of(job, groups, strip, shorter if number == 1 else longer)
        elif number == 4:
            raise SolverFailed("the memory is full")

    monkeypatch.setattr(nest_module, "hunted", hunt)
    monkeypatch.setattr(nest_module, "arrangements", lambda *a, **k: iter(()))
    monkeypatch.setattr(runs, "_LONGEST_RUN", 2.0)
    marker = nest(job, seconds=9, seed=40, on_progress=told.append)
    assert asked == [(2400, 1.8, 40), *((1800, 1.8, 40 + n) for n in range(1, 5))]
    assert [round(one.length_mm) for one in told] == [2400, 1800]
    assert marker == told[-1]
    asked.clear()
    assert nest(job, seconds=9, should_stop=lambda: len(asked) >= 2).length_mm == pytest.approx(1800)
    assert len(asked) == 2, "who stops stops the runs to come as well"


def test_without_our_search_the_library_has_its_time(monkeypatch, tmp_path):
    """As where highspy is not installed: the program ends at once."""
    broken = tmp_path / "searcher.py"
    broken.write_text("import no_such_library")
    monkeypatch.setattr(solver, "_SEARCHER", broken)
    asked = []

    def library(strip, *, seconds, seed, **_):
        asked.append((seconds, seed))
        yield from ()

    monkeypatch.setattr(nest_module, "arrangements", library)
    triangle = make_outline([(x * 10, y * 10) for x, y in TRIANGLE])
    assert nest(job_of([triangle] * 4), seconds=12).how == "rows"
    assert sum(seconds for seconds, _ in asked) == pytest.approx(12)
    assert len({seed for _, seed in asked[1:]}) == len(asked) - 1  # each run with a seed of its own


def test_without_any_search_plain_rows_stay_and_the_log_says_why(monkeypatch, tmp_path, caplog):
    broken = tmp_path / "child.py"
    broken.write_text("import no_such_library")
    monkeypatch.setattr(solver, "_SEARCHER", broken)
    monkeypatch.setattr(solver, "_CHILD", broken)
    triangle = make_outline([(x * 10, y * 10) for x, y in TRIANGLE])
    job = job_of([triangle] * 4)
    marker = nest(job, seconds=2)
    assert marker.how == "rows"
    assert check_marker(job, marker.placements) == []
    assert "ended early" in caplog.text


def test_one_process_that_fails_does_not_end_the_others(monkeypatch):
    start, started = solver._start, []

    def start_and_kill_first(*args):
        child = start(*args)
        started.append(child)
        if len(started) == 1:
            child.kill()
        return child

    monkeypatch.setattr(solver, "_start", start_and_kill_first)
    strip = strip_of(TRIANGLE, height=50.0, demand=4)
    found = hunted(strip, seconds=60, workers=2)
    assert next(found)
    found.close()
    assert all(child.poll() is not None for child in started)


#: A program in place of the search: it gets ready, then finds something, after so many seconds each.
SLOW = """
import json, sys, time
sys.stdin.readline()
for seconds, message in {messages}:
    time.sleep(seconds)
    print(json.dumps(message), flush=True)
"""


READY, DONE = {"kind": "ready"}, {"kind": "done"}
LAYOUT = {"kind": "layout", "length": 9.0, "spots": [[0, 0, 9.0, 0]]}


@pytest.mark.parametrize(
    ("messages", "found"),
    [([(1.2, READY), (0.0, LAYOUT), (0.0, DONE)], [9.0]), ([(0.0, READY), (60.0, DONE)], [])],
    ids=["slow to get ready", "hangs later"],
)
def test_time_runs_from_when_a_search_is_ready(monkeypatch, tmp_path, messages, found):
    """On a machine with eight other things to do that took 19 s, nearly all the time of a hunt of 20 s."""
    program = tmp_path / "searcher.py"
    program.write_text(SLOW.replace("{messages}", repr(messages)))
    monkeypatch.setattr(solver, "_SEARCHER", program)
    monkeypatch.setattr(solver, "_SLACK", 0.2)
    began = time.monotonic()
    # 2 × 0.1 + 3 × 0.2 = 0.8 s at most, once it is ready.
    assert [a[0].dx for a in hunted(strip_of(TRIANGLE), seconds=0.1, workers=1)] == found
    assert time.monotonic() - began < 30


def test_a_hunts_clock_begins_when_it_is_ready(monkeypatch):
    """Getting ready took 3 s of the processor and 30 by the clock; then other work takes half the processor away."""
    now = {"monotonic": 30.0, "process_time": 3.0}
    monkeypatch.setattr(searcher.time, "monotonic", lambda: now["monotonic"])
    monkeypatch.setattr(searcher.time, "process_time", lambda: now["process_time"])
    short, long = searcher._Clock(20), searcher._Clock(60)
    assert (short.spent, long.spent) == (0, 3)
    now.update(monotonic=40.0, process_time=6.0)
    assert (short.spent, long.spent) == (5, 6)
    now.update(monotonic=50.0, process_time=22.0)
    assert (short.spent, long.spent) == (19, 22)
