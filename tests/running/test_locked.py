"""The database is locked for longer than anybody waits for it: nothing ends for that, and no task is lost."""

import os
import shutil
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from planner.running import start
from planner.running.patience import FIRST_WAIT, LONGEST_WAIT, wait_after
from planner.running.serving import others_end
from tests.running.conftest import ROOT, _environment

#: A test database is only made, and copied, where some test asks for one.
pytestmark = [pytest.mark.django_db, pytest.mark.slow]

#: In a process of its own, for its database is a file: it is locked, what follows is begun, and then it is let go.
LOCKED = """
import sqlite3, sys, threading, time
import django; django.setup()
from django.conf import settings
from django.db import OperationalError, connection, transaction
from django_tasks_db.models import DBTaskResult
from planner.cutting.tasks import settle_batch
from planner.running import patience, start, worker

patience.FIRST_WAIT = worker.FIRST_DELAY = 0.1
start.LOOK_EVERY = 0.01

def locked(seconds, begin=lambda: None):
    other = sqlite3.connect(settings.DATABASES["default"]["NAME"], isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    def let_go():
        time.sleep(seconds)
        other.execute("ROLLBACK")
        other.close()
    threading.Thread(target=let_go).start()

def is_locked():
    try:
        with transaction.atomic():
            return False
    except OperationalError as fault:
        return "locked" in str(fault)

# The watch loop of `start`: a worker that ended is due again while nothing can be written.
class Server:
    def is_alive(self):
        return True

class Child(worker.WorkerProcess):
    def __init__(self):
        self._process, self._crashes, self._due_at = None, 0, time.monotonic()
        self.put_off_times = 0
    def put_off(self):
        self.put_off_times += 1
        return super().put_off()
    def start(self):
        print("started again after", min(self.put_off_times, 1), "refusal")
        self._due_at = None
        stop.set()

stop = threading.Event()
locked(0.8)
assert is_locked()
print("watch ends with", start._watch(Server(), Child(), stop))

# The worker: locked as it asks for a task, and locked again as the task is run and its failure told.
settle_batch.enqueue(7)
works = patience.PatientWorker("w", is_alone=True, interval=0.05)
ran = []
def settle(pk):
    ran.append(pk)
    if len(ran) == 1:
        locked(1.0)
        with transaction.atomic():
            raise AssertionError("nobody may write now")
    works.running = False
    return "settled"
import planner.cutting.actions.settling as settling
settling.settle = settle
locked(0.5)
works.run()
row = DBTaskResult.objects.get()
print("worker ended", row.status, "after", len(ran), "runs")
"""


@pytest.fixture
def folder(tmp_path: Path, used_before: Path) -> Path:
    return Path(shutil.copytree(used_before, tmp_path / "workroom"))


def test_neither_the_watch_nor_the_worker_end_and_the_task_is_done_in_the_end(folder: Path) -> None:
    """Both are locked out first; what they then do is what they would have done at once."""
    settings = {"DJANGO_SETTINGS_MODULE": "tests.running.short_wait", "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", LOCKED],
        env=_environment(folder) | settings,
        capture_output=True,
        text=True,
        check=False,
    )
    told = [line for line in done.stdout.splitlines() if line.startswith(("started", "watch", "worker"))]
    assert told == [
        "started again after 1 refusal",
        "watch ends with 0",
        "worker ended SUCCESSFUL after 2 runs",
    ], done.stdout + done.stderr
    assert "could not be started again yet" in done.stdout


def test_the_wait_grows_and_has_an_end() -> None:
    waits = [wait_after(tries) for tries in range(1, 12)]
    assert waits[:3] == [FIRST_WAIT, 2 * FIRST_WAIT, 4 * FIRST_WAIT]
    assert waits[-1] == LONGEST_WAIT


def test_the_process_ends_at_once_only_where_a_thread_still_works(monkeypatch: pytest.MonkeyPatch) -> None:
    """Clearing up under a thread at work in a compiled library may crash, so nothing is cleared up then."""
    left: list[int] = []
    monkeypatch.setattr(os, "_exit", left.append)
    monkeypatch.setattr(start, "THREADS_GRACE", 0.05)
    for thread in threading.enumerate():
        # Those of this test run are no business of `start`.
        monkeypatch.setattr(thread, "is_alive", lambda: False)
    start._end_threads(0)
    assert left == []
    done = threading.Event()
    at_work = threading.Thread(target=done.wait)
    at_work.start()
    assert not others_end(0.01)
    start._end_threads(3)
    done.set()
    at_work.join()
    assert left == [3]
