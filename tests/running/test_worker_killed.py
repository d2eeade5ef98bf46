"""A real worker, killed outright while it nests: the next one takes the lay up again, with the best kept."""

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import pytest
from django.db import connections
from pytest_django import Settings

from planner.core.lays.model import ItemToLay, MarkerJob
from planner.core.outline import make_outline
from planner.cutting.marker_store import make_marker
from planner.cutting.models import Batch, Lay
from planner.cutting.tasks import nest_marker
from planner.settings import base
from tests.running.conftest import ROOT, _belongs, _environment, _processes, until

#: A test database is only made, and copied, where some test asks for one.
pytestmark = [pytest.mark.django_db, pytest.mark.slow]


@contextmanager
def in_workroom(folder: Path) -> Iterator[None]:
    """What is asked of the database in here is asked of that workroom's, as a process of its own would ask it."""
    of_tests = connections["default"]
    theirs = of_tests.copy()
    theirs.settings_dict["NAME"] = folder / "notchbook.sqlite3"
    connections["default"] = theirs
    try:
        yield
    finally:
        theirs.close()
        connections["default"] = of_tests


def make_lay_to_nest() -> None:
    """A batch with one lay of twelve pieces to be nested; the worker is asked for it."""
    shapes = [
        ((0.0, 0.0), (300.0 + 40 * n, 0.0), (300.0 + 40 * n, 90.0), (120.0, 200.0 + 10 * n), (0.0, 160.0))
        for n in range(12)
    ]
    items = tuple(
        ItemToLay("110", f"piece {n}", "M", 1, False, False, make_outline(shape))
        for n, shape in enumerate(shapes)
    )
    marker = make_marker(MarkerJob(1000.0, True, 2.0, items), 50.0)
    batch = Batch.objects.create(number="B-0001", made_on=date(2026, 3, 2))
    Lay.objects.create(
        batch=batch, number=1, lay_width_mm=1000, one_way=True, end_allowance_mm=20,
        estimated_length_mm=1000, marker=marker,
    )  # fmt: skip
    nest_marker.enqueue(marker.pk)


@pytest.fixture
def folder(tmp_path: Path, used_before: Path, settings: Settings) -> Path:
    copy = tmp_path / "workroom"
    shutil.copytree(used_before, copy)
    settings.TASKS = base.TASKS  # in the database, where the worker looks for them
    with in_workroom(copy):
        make_lay_to_nest()
    return copy


@pytest.fixture
def worker(folder: Path) -> Iterator[Callable[[], subprocess.Popen]]:
    started: list[subprocess.Popen] = []

    def start() -> subprocess.Popen:
        out = (folder.parent / f"worker-{len(started)}.out").open("wb")
        process = subprocess.Popen(
            [sys.executable, str(ROOT / "manage.py"), "worker"],
            stdin=subprocess.DEVNULL, stdout=out, stderr=out, env=_environment(folder), start_new_session=True,
        )  # fmt: skip
        started.append(process)
        return process

    yield start
    for process in started:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def ask(folder: Path, sql: str) -> tuple:
    with sqlite3.connect(folder / "notchbook.sqlite3", timeout=20) as database:
        row = database.execute(sql).fetchone()
    database.close()
    return row or ()


def marker(folder: Path) -> tuple[str, float]:
    return ask(folder, "SELECT state, length_mm FROM cutting_marker")


def running_on(folder: Path) -> list[int]:
    return [pid for pid in _processes() if _belongs(pid, folder)]


def test_a_worker_that_is_killed_in_mid_nest_is_followed_by_another(
    folder: Path, worker: Callable[[], subprocess.Popen]
) -> None:
    rows_mm = marker(folder)[1]
    first = worker()
    until(lambda: marker(folder)[0] == "nesting" and marker(folder)[1] < rows_mm)
    assert len(running_on(folder)) > 1, "it searches in processes of their own"
    first.send_signal(signal.SIGKILL)
    first.wait()
    until(lambda: not running_on(folder))
    state, best_mm = marker(folder)
    assert (state, best_mm < rows_mm) == ("nesting", True)
    # As long ago as a worker that nobody watches takes to be believed dead; and little time to go.
    ask(folder, "UPDATE cutting_marker SET heartbeat_at = '2026-01-01 00:00:00', seconds = 1.5 RETURNING id")
    worker()
    until(lambda: marker(folder)[0] == "ready")
    assert marker(folder)[1] <= best_mm
