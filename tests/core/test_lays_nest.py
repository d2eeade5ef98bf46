"""Nesting one marker: known optima, and every guard round the solver."""

import math
import subprocess
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest
from shapely.geometry import Polygon

from planner.core.lays import nest as nest_module
from planner.core.lays import solver
from planner.core.lays.check import check_marker, marker_from_placements, placed
from planner.core.lays.grow import MOST_POINTS, MOST_SIMPLIFIED_MM, grown_outline
from planner.core.lays.model import ItemToLay, MarkerJob
from planner.core.lays.nest import (
    NestingFailed,
    PieceTooWide,
    check_job,
    mend,
    nest,
    seconds_for,
)
from planner.core.lays.question import grouped, strip_for
from planner.core.lays.rows import first_marker
from planner.core.lays.solver import Shape, SolverFailed, Strip, arrangements
from planner.core.outline import Outline, make_outline, rectangle
from planner.core.units import format_length

pytestmark = pytest.mark.usefixtures("compiled_search")


def job_of(outlines, width=1000.0, gap=0.0, *, one_way=False, may_turn=True):
    items = [ItemToLay("T1", "part", "M", n, False, may_turn, o) for n, o in enumerate(outlines, 1)]
    return MarkerJob(width, one_way, gap, tuple(items))


def blob(count=400, size=1.0):
    """A smooth outline some 700 mm long, of many points."""
    turn = 2 * math.pi / count
    return make_outline(
        [
            (
                size * 300 * math.cos(i * turn) * (1 + 0.2 * math.cos(3 * i * turn)),
                size * 280 * math.sin(i * turn),
            )
            for i in range(count)
        ]
    )


TRIANGLE = make_outline([(0, 0), (600, 0), (0, 500)])


def nested_until(job, enough, seconds=4.0, **options):
    """The marker nested by one worker, no longer than until one is found that is `enough`."""
    seen = []
    return nest(
        job,
        seconds=seconds,
        workers=1,
        on_progress=seen.append,
        should_stop=lambda: bool(seen) and enough(seen[-1]),
        **options,
    )


def found_by_search(marker):
    return marker.how != "rows"


def test_two_triangles_make_a_rectangle_where_one_may_turn():
    """Two right triangles 600 × 500 fill 600 × 500 when one is turned; rows of boxes would take more."""
    job = job_of([TRIANGLE, TRIANGLE], width=500)
    seen = []
    marker = nest(job, seconds=1, on_progress=seen.append)
    assert 600 <= marker.length_mm <= 600.5
    assert marker.how == "nested"
    assert {p.rotation_deg for p in marker.placements} == {0, 180}
    assert check_marker(job, marker.placements) == []
    assert seen[0].how == "rows"
    assert seen[0].length_mm == 1200
    assert seen[-1] == marker
    lengths = [m.length_mm for m in seen]
    assert lengths == sorted(lengths, reverse=True)
    assert all(check_marker(job, m.placements) == [] for m in seen)


@pytest.mark.parametrize(("one_way", "may_turn"), [(True, True), (False, False)])
def test_no_piece_is_turned_where_the_cloth_or_the_piece_forbids_it(one_way, may_turn):
    job = job_of([TRIANGLE] * 3, width=600, one_way=one_way, may_turn=may_turn)
    assert {s.turns for s in strip_for(job, grouped(job), 0.0).shapes} == {(0.0,)}
    marker = nested_until(job, found_by_search, seconds=1)
    assert {p.rotation_deg for p in marker.placements} == {0}
    assert check_marker(job, marker.placements) == []
    assert marker.length_mm > 600  # so the 500 × 600 rectangle of the turned pair cannot have been had


def test_rectangles_that_fill_the_cloth_are_done_at_once():
    """4 × (500 × 250) on 1000 is 500 long, the area bound: nothing is left to search for."""
    started = time.monotonic()
    marker = nest(job_of([rectangle(500, 250)] * 4), seconds=60)
    assert (marker.length_mm, marker.how) == (500, "nested")
    assert time.monotonic() - started < 1


def test_the_gap_is_kept_between_pieces_but_not_from_the_selvedge():
    """Two strips of 495 mm and a gap of 10 fill 1000 exactly; the third must go behind."""
    job = job_of([rectangle(400, 495)] * 3 + [TRIANGLE], gap=10)
    marker = nested_until(job, found_by_search, seconds=1)
    assert check_marker(job, marker.placements) == []
    shapes = [Polygon(p.outline) for p in marker.placements]
    nearest = min(a.distance(b) for i, a in enumerate(shapes) for b in shapes[:i])
    assert nearest >= 10 - 0.1
    ys = [y for p in marker.placements[:3] for _, y in p.outline]
    assert min(ys) >= 0
    assert max(ys) <= 1000


def test_a_piece_across_the_whole_cloth_is_laid():
    """Behind it the two triangles, one turned: 2 mm square to the slant are 2 × √(600² + 500²)/500 along."""
    job = job_of([rectangle(300, 500), TRIANGLE, TRIANGLE], width=500, gap=2)
    least = 300 + 2 + 600 + 2 * math.hypot(600, 500) / 500
    marker = nested_until(job, lambda found: found.length_mm <= least + 10)
    assert marker.how != "rows"
    assert check_marker(job, marker.placements) == []
    assert least - 0.5 <= marker.length_mm <= least + 10  # a hair is lost to the mending


def test_a_piece_wider_than_the_cloth_is_named_before_anything_starts(monkeypatch):
    monkeypatch.setattr(solver.subprocess, "Popen", lambda *a, **k: pytest.fail("a process was started"))
    with pytest.raises(PieceTooWide, match=r"part in size M is 100.1\scm wide.*only 100\scm") as caught:
        nest(job_of([rectangle(10, 10), rectangle(500, 1001)]), seconds=1)
    assert (caught.value.piece, caught.value.size) == ("part", "M")
    assert (caught.value.width_mm, caught.value.lay_width_mm) == (1001, 1000)
    in_inches = [format_length(mm, "imperial", "small") for mm in (1001, 1000)]
    assert caught.value.told_in(
        "imperial"
    ) == "part in size M is {} wide, but the cloth lies only {} wide".format(*in_inches)


@pytest.mark.parametrize(
    "points",
    [
        [(0, 0), (100, 100), (100, 0), (0, 100)],  # crosses itself
        [(0, 0), (100, 0), (200, 0), (100, 0), (100, 100), (0, 100)],  # a spike
        [(0, 0), (50, 50), (0, 100), (100, 100), (50, 50), (100, 0)],  # touches itself
        [(0, 0), (100, 0), (float("nan"), 100)],
        [(0, 0), (100, 0), (float("inf"), 100)],
        [(0, 0), (100, 0)],
        [(0, 0), (100, 0), (50, 0)],
    ],
)
def test_an_outline_that_cannot_be_laid_is_refused(points):
    bad = Outline(tuple(points), ())
    with pytest.raises(NestingFailed):
        check_job(job_of([bad]))


@pytest.mark.parametrize(
    "job",
    [
        job_of([]),
        job_of([TRIANGLE], width=0.0),
        job_of([TRIANGLE], gap=-1.0),
        job_of([TRIANGLE], gap=math.nan),
    ],
)
def test_a_job_without_sense_is_refused(job):
    with pytest.raises(NestingFailed):
        nest(job, seconds=1)


@pytest.mark.parametrize("by_mm", [0.01, 1.0, 5.0])
def test_an_outline_is_grown_by_half_the_gap_and_simplified_only_outwards(by_mm):
    for outline in (blob(), blob(1000), blob(150), blob(81), TRIANGLE, rectangle(3, 400)):
        original = outline.polygon
        grown = Polygon(grown_outline(outline.points, by_mm))
        assert grown.buffer(1e-6).covers(original.buffer(by_mm))
        assert original.buffer(by_mm + MOST_SIMPLIFIED_MM).covers(grown)
        assert len(grown.exterior.coords) - 1 <= MOST_POINTS + 4  # "about": the last step is taken as it is


def test_a_slim_tip_is_cut_off_square_not_drawn_out():
    """A corner of 11.4° drawn out to a point would reach 10 / sin 5.7° = 100 mm beyond; square, 10."""
    slim = make_outline([(0, 0), (500, 50), (0, 100)])
    assert Polygon(grown_outline(slim.points, 10.0)).bounds[2] <= 512


def test_a_simplified_piece_as_wide_as_the_cloth_still_fits():
    outline = blob()
    job = job_of([outline, TRIANGLE], width=outline.width_mm, gap=1)
    marker = nested_until(job, found_by_search, seconds=1)
    assert check_marker(job, marker.placements) == []
    assert len(marker.placements[0].outline) == 400  # what is cut is the real outline


def test_stop_keeps_the_best_so_far_and_ends_soon():
    job = job_of([blob(60, 0.7 + 0.02 * n) for n in range(6)], gap=2)
    seen, wanted = [], []

    def stop_after_three():
        if len(seen) >= 3:
            wanted.append(time.monotonic())
        return len(seen) >= 3

    marker = nest(job, seconds=120, on_progress=seen.append, should_stop=stop_after_three, workers=1)
    assert time.monotonic() - wanted[0] < 10
    assert marker == seen[-1]
    assert marker.how == "nested"
    assert marker.length_mm < first_marker(job).length_mm


def test_stopped_before_the_first_layout_leaves_plain_rows():
    marker = nest(job_of([blob(60)] * 5), seconds=30, should_stop=lambda: True)
    assert marker.how == "rows"


def test_running_longer_never_makes_it_worse():
    job = job_of([TRIANGLE, TRIANGLE], width=500)
    good = marker_from_placements(job, [placed(job.items[0], 0, 0, 0), placed(job.items[1], 180, 0, 0)])
    job_with_gap = replace(job, gap_mm=0.0)
    assert nest(job_with_gap, seconds=1, start=good, workers=1).length_mm == 600


def test_plain_rows_are_no_start_whatever_they_are_called(monkeypatch):
    """A lay that waits shows its pieces in rows; with those for a start the library was never asked."""
    job, asked = job_of([blob(60)] * 5), []

    def hunted(search, best):
        asked.append((search.run.library_seconds, best.how))
        yield from ()

    monkeypatch.setattr(nest_module, "_hunted", hunted)
    marker = nest(job, seconds=4, start=replace(first_marker(job), how="nested"))
    assert marker.how == "rows"
    assert asked == [(1.0, "rows")]


def script(tmp_path, body):
    path = tmp_path / "child.py"
    path.write_text("import sys, time, json\nsys.stdin.readline()\n" + body)
    return path


@pytest.mark.parametrize(
    "body",
    [
        "sys.exit(7)",
        "print('not json', flush=True); time.sleep(60)",
        "print(json.dumps({'kind': 'failed', 'text': 'panicked'}), flush=True)",
    ],
)
def test_a_solver_that_dies_leaves_plain_rows_not_an_error(monkeypatch, tmp_path, body):
    monkeypatch.setattr(solver, "_CHILD", script(tmp_path, body))
    job = job_of([TRIANGLE] * 3)
    marker = nest(job, seconds=1)
    assert marker.how == "rows"
    assert check_marker(job, marker.placements) == []


def test_a_solver_that_cannot_be_started_is_said_so(monkeypatch):
    monkeypatch.setattr(solver.sys, "executable", str(Path("no") / "such" / "python"))
    with pytest.raises(SolverFailed, match="could not start"):
        list(arrangements(Strip(10, 0, (Shape(((0, 0), (1, 0), (0, 1)), 1, (0.0,)),)), seconds=1))


@pytest.mark.parametrize("readying", [120.0, 0.2], ids=["once it is ready", "before it is ready"])
def test_a_solver_that_hangs_is_killed(monkeypatch, tmp_path, readying):
    says = "print(json.dumps({'kind': 'ready'}), flush=True)\n" if readying > 1 else ""
    monkeypatch.setattr(solver, "_CHILD", script(tmp_path, says + "time.sleep(600)"))
    monkeypatch.setattr(solver, "_LONGEST_READYING", readying)
    monkeypatch.setattr(solver, "_SLACK", -1.0)  # 1 × 1.25 - 1 s at most
    children = spy_on_children(monkeypatch)
    started = time.monotonic()
    assert nest(job_of([TRIANGLE] * 3), seconds=1).how == "rows"
    assert time.monotonic() - started < 10
    assert all(child.poll() is not None for child in children)


def test_the_librarys_time_runs_from_when_it_is_ready(monkeypatch, tmp_path):
    """On a very busy machine starting a process takes longer than the library may have over its second."""
    layout = {"kind": "layout", "spots": [[0, 0, 0.0, 0.0]]}
    body = "".join(
        f"time.sleep({wait}); print(json.dumps({message!r}), flush=True)\n"
        for wait, message in ((1.0, {"kind": "ready"}), (0.1, layout), (0.0, {"kind": "done"}))
    )
    monkeypatch.setattr(solver, "_CHILD", script(tmp_path, body))
    monkeypatch.setattr(solver, "_SLACK", -0.5)  # 1 × 1.25 - 0.5 s at most, once it is ready
    shape = Shape(((0, 0), (1, 0), (0, 1)), 1, (0.0,))
    assert len(list(arrangements(Strip(10, 0, (shape,)), seconds=1))) == 1


def test_a_panic_of_the_solver_is_told_with_its_words():
    """A shape as high as the strip makes the library panic; below `nest` nothing guards against it."""
    square = Shape(((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)), 1, (0.0,))
    with pytest.raises(SolverFailed) as caught:
        list(arrangements(Strip(10.0, 0.0, (square,)), seconds=1))
    assert "anic" in str(caught.value)


def test_an_arrangement_that_overlaps_is_never_shown(monkeypatch):
    """The solver is made to claim that everything lies on one spot: refused, plain rows stay."""

    def liar(strip, **_):
        yield tuple(
            solver.Spot(n, 0.0, 0.0, 0.0) for n, s in enumerate(strip.shapes) for _ in range(s.demand)
        )

    monkeypatch.setattr(nest_module, "arrangements", liar)
    job = job_of([TRIANGLE] * 3)
    seen = []
    assert nest(job, seconds=1, on_progress=seen.append).how == "rows"
    assert len(seen) == 1


@pytest.mark.parametrize("spots", [[(0, 90.0)] * 3, [(0, 0.0)] * 2])
def test_a_forbidden_turn_or_a_lost_piece_is_refused(monkeypatch, spots):
    def wrong(strip, **_):
        yield tuple(solver.Spot(s, r, 650.0 * n, 0.0) for n, (s, r) in enumerate(spots))

    monkeypatch.setattr(nest_module, "arrangements", wrong)
    assert nest(job_of([TRIANGLE] * 3), seconds=1).how == "rows"


def test_a_hair_of_overlap_is_mended_and_more_is_refused():
    job = job_of([rectangle(500, 600), rectangle(500, 600)], gap=2)
    near = [placed(job.items[0], 0, 0, 0), placed(job.items[1], 0, 501.5, 0)]
    mended = mend(job, near)
    assert mended is not None
    assert check_marker(job, mended.placements) == []
    assert 1002 - 0.1 <= mended.length_mm <= 1002.5
    assert mend(job, [placed(job.items[0], 0, 0, 0), placed(job.items[1], 0, 400, 0)]) is None


def spy_on_children(monkeypatch):
    children = []
    popen = subprocess.Popen

    def spy(*args, **kwargs):
        children.append(popen(*args, **kwargs))
        return children[-1]

    monkeypatch.setattr(solver.subprocess, "Popen", spy)
    return children


def test_no_process_is_left_when_the_asker_fails_midway(monkeypatch):
    children = spy_on_children(monkeypatch)

    def fail(marker):
        if marker.how != "rows":
            raise RuntimeError("the page is gone")

    with pytest.raises(RuntimeError, match="the page is gone"):
        nest(job_of([blob(60)] * 6), seconds=60, on_progress=fail)
    assert children
    assert all(child.poll() is not None for child in children)


def test_the_solver_ends_when_its_asker_is_gone():
    """The child watches its stdin: closing it is what happens when the parent is killed outright."""
    child = subprocess.Popen(
        [sys.executable, "-P", str(Path(solver.__file__).with_name("child.py"))],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    ring = [[0, 0], [60, 0], [90, 40], [0, 50]]
    question = solver.json.dumps(
        {
            "height": 100,
            "separation": 0,
            "seconds": 300,
            "seed": 1,
            "workers": 1,
            "shapes": [{"points": ring, "demand": 30, "turns": [0.0]}],
        }
    )
    child.stdin.write(question + "\n")
    child.stdin.flush()
    assert '"ready"' in child.stdout.readline()
    assert '"layout"' in child.stdout.readline()
    child.stdin.close()
    assert child.wait(timeout=10) == 3
    child.stdout.close()


def test_nesting_works_from_a_thread_far_from_the_origin_and_takes_no_start_for_another_job():
    """From a thread as in a background worker."""
    markers = []
    job = job_of([TRIANGLE.moved(15_000, -12_000), TRIANGLE.moved(-9_000, 18_000)], width=500)
    wrong = first_marker(job_of([rectangle(100, 100), rectangle(100, 100)], width=500))
    thread = threading.Thread(
        target=lambda: markers.append(
            nested_until(job, lambda found: found.length_mm <= 600.5, seconds=1, start=wrong)
        )
    )
    thread.start()
    thread.join(30)
    assert markers
    assert markers[0].length_mm <= 600.5
    assert check_marker(job, markers[0].placements) == []


def test_equal_pieces_are_asked_for_once():
    job = job_of([TRIANGLE, TRIANGLE.moved(5, 5), TRIANGLE.mirrored(), rectangle(10, 10)])
    groups = grouped(job)
    assert sorted(len(g.items) for g in groups) == [1, 1, 2]


@pytest.mark.parametrize(("pieces", "seconds"), [(1, 3), (10, 3), (12, 4), (30, 10), (90, 30), (500, 30)])
def test_time_grows_with_the_pieces_up_to_half_a_minute(pieces, seconds):
    assert seconds_for(pieces) == seconds
