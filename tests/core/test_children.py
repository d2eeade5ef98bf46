"""Processes that search: kept from one lay to the next where somebody said so, and never left behind."""

from __future__ import annotations

import io
import json
import queue
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from planner.core.lays import children, searcher, solver
from planner.core.lays.children import Child, Kept, complaints_file
from planner.core.lays.solver import Shape, Strip, hunted, one_after_another

TRIANGLE = ((0.0, 0.0), (60.0, 0.0), (0.0, 50.0))
STRIP = Strip(50.0, 0.0, (Shape(TRIANGLE, 4, (0.0, 180.0)),))
OTHER = Strip(60.0, 0.0, (Shape(tuple((y, x) for x, y in reversed(TRIANGLE)), 3, (0.0, 180.0)),))


#: A program in place of the search: whatever strip it is asked, all shapes lie at its beginning.
QUICK = """
import json, sys
for line in sys.stdin:
    if shapes := json.loads(line).get("shapes"):
        spots = [[n, 0, 0, 0] for n, shape in enumerate(shapes) for _ in range(shape["demand"])]
        for said in ({"kind": "ready"}, {"kind": "layout", "length": 9.0, "spots": spots}, {"kind": "done"}):
            print(json.dumps(said), flush=True)
"""


@pytest.fixture
def quick(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program = tmp_path / "searcher.py"
    program.write_text(QUICK)
    monkeypatch.setattr(solver, "_SEARCHER", program)


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[subprocess.Popen[str]]:
    """The processes that were started."""
    processes, start = [], solver._start

    def note(*args: Any) -> subprocess.Popen[str]:
        processes.append(start(*args))
        return processes[-1]

    monkeypatch.setattr(solver, "_start", note)
    return processes


def hunt(strip: Strip, workers: int = 1) -> list[int]:
    """How many shapes lie in each arrangement that was found."""
    return [len(found) for found in hunted(strip, seconds=0.3, workers=workers)]


def ended(processes: list[subprocess.Popen[str]], within: float = 10.0) -> bool:
    latest = time.monotonic() + within
    while any(one.poll() is None for one in processes) and time.monotonic() < latest:
        time.sleep(0.02)
    return all(one.poll() is not None for one in processes)


@pytest.mark.usefixtures("compiled_search")
def test_one_strip_after_another_is_hunted_by_the_same_process(started: list[Any]) -> None:
    with one_after_another():
        assert set(hunt(STRIP)) == {4}
        assert len(started) == 1
        assert set(hunt(OTHER)) == {3}
        assert len(started) == 1
        assert all(one.poll() is None for one in started)
    assert ended(started)


@pytest.mark.usefixtures("quick")
def test_otherwise_none_is_left(started: list[Any]) -> None:
    assert hunt(STRIP)
    assert ended(started, 0.0)


@pytest.mark.usefixtures("quick")
def test_who_is_cut_off_in_a_hunt_is_not_asked_again(started: list[Any]) -> None:
    with one_after_another():
        found = hunted(STRIP, seconds=60, workers=1)
        assert next(found)
        found.close()
        assert ended(started, 0.0)
        assert hunt(STRIP)
        assert len(started) == 2


@pytest.mark.usefixtures("quick")
def test_one_that_ended_while_it_waited_is_not_asked(started: list[Any]) -> None:
    with one_after_another():
        hunt(STRIP, 2)
        started[0].kill()
        started[0].wait()
        assert set(hunt(OTHER, 2)) == {3}
        assert len(started) == 3, "one of the two is asked again, the other is begun anew"


@pytest.mark.usefixtures("quick")
def test_who_waits_in_vain_ends(started: list[Any]) -> None:
    with one_after_another(0.2):
        hunt(STRIP)
        assert ended(started)


@pytest.mark.usefixtures("quick")
def test_who_has_searched_for_long_is_begun_afresh(
    started: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(children, "_LONGEST_KEPT", 0.0)
    with one_after_another():
        hunt(STRIP)
        assert ended(started, 0.0)


def test_another_program_is_not_taken_for_it() -> None:
    kept = Kept()
    kept.keep(60)
    process = subprocess.Popen(
        [sys.executable, "-c", "input()"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    child = Child(Path("one.py"), process, complaints_file())
    child.is_done = True
    kept.leave(child)
    assert kept.take(Path("other.py")) is None
    assert kept.take(Path("one.py")) is child
    assert kept.take(Path("one.py")) is None
    child.end()
    assert process.poll() is not None


def test_what_was_told_of_one_strip_is_not_heard_in_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = [{"shapes": ["first"]}, {"spots": [1]}, {"shapes": ["second"]}, {"spots": [2]}]
    monkeypatch.setattr(searcher.sys, "stdin", io.StringIO("".join(json.dumps(one) + "\n" for one in lines)))
    monkeypatch.setattr(searcher.os, "_exit", lambda code: None)
    questions: queue.SimpleQueue[Any] = queue.SimpleQueue()
    searcher._listen(questions)
    heard = [questions.get(), questions.get()]
    assert [question["shapes"] for question, _ in heard] == [["first"], ["second"]]
    assert [(told.get(), told.empty()) for _, told in heard] == [([1], True), ([2], True)]


def test_what_earlier_strips_took_is_not_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """40 s of the processor went into strips before this one, 2 s into getting ready for it."""
    monkeypatch.setattr(searcher.time, "process_time", lambda: 42.0)
    monkeypatch.setattr(searcher.time, "monotonic", lambda: 100.0)
    assert [searcher._Clock(seconds, begun=40.0).spent for seconds in (20, 60)] == [0.0, 2.0]
