"""A run of the tests as a whole: what killed runs left goes, what others still use stays, long tests come first."""

import os
import threading
import time
from pathlib import Path

import pytest

from tests import whole_run


class Test:
    """A test of that name, as far as its place matters."""

    __test__ = False  # the word means something else to who collects tests

    def __init__(self, name: str, *markers: str) -> None:
        self.name, self._markers = name, markers

    def get_closest_marker(self, name: str) -> object | None:
        return name if name in self._markers else None


def test_what_killed_runs_left_is_swept_and_nothing_else(tmp_path: Path) -> None:
    now = time.time()
    names = {"notchbook-test-rows-old", "notchbook-test-1234", "notchbook-test-rows-new", "notchbook-plans"}
    for name in names:
        (tmp_path / name).mkdir()
        (tmp_path / name / "kept").write_text("rows")
        ago = 60.0 if name.endswith("new") else 2 * whole_run.LONGEST_RUN
        os.utime(tmp_path / name, (now - ago, now - ago))
    whole_run.sweep(tmp_path, now=now)
    assert {path.name for path in tmp_path.iterdir()} == {"notchbook-test-rows-new", "notchbook-plans"}


def test_long_tests_come_first_and_all_else_stays_in_order() -> None:
    tests = [Test("a"), Test("b", "slow"), Test("c"), Test("d", "slow", "browser"), Test("e", "browser")]
    assert [test.name for test in whole_run.longest_first(tests)] == ["b", "d", "a", "c", "e"]


def test_a_plain_test_is_spared_what_none_needs(request: pytest.FixtureRequest) -> None:
    assert not whole_run.NOT_NEEDED & set(request.node.fixturenames)


@pytest.mark.ignore_template_errors
def test_one_that_is_marked_for_some_of_it_has_all(request: pytest.FixtureRequest) -> None:
    assert set(request.node.fixturenames) >= whole_run.NOT_NEEDED


def test_a_run_ends_once_the_search_is_compiled_so_that_no_process_is_left(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    done = threading.Event()
    compiling = threading.Thread(target=done.wait, daemon=True)
    compiling.start()
    monkeypatch.delenv(whole_run.SHARED_FOLDER)
    monkeypatch.setattr(whole_run, "_beside", [compiling])
    ending = threading.Thread(target=whole_run.end)
    ending.start()
    ending.join(0.3)
    assert ending.is_alive()
    done.set()
    ending.join(10)
    assert not ending.is_alive()


def test_who_needs_the_search_waits_until_it_is_compiled(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(whole_run.SHARED_FOLDER, str(tmp_path))
    whole_run.wait_for_search()  # nothing is being compiled
    note = tmp_path / whole_run.COMPILING
    note.touch()
    waiting = threading.Thread(target=whole_run.wait_for_search)
    waiting.start()
    waiting.join(0.3)
    assert waiting.is_alive()
    note.unlink()
    waiting.join(30)
    assert not waiting.is_alive()
