"""Starts the real thing as a process of its own, in its own data folder, and looks what is left behind."""

import os
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from django.db import connection
from pytest_django import DjangoDbBlocker

ROOT = Path(__file__).resolve().parent.parent.parent
#: Seconds; long, because a busy machine is no failure.
PATIENCE = 90.0


class Running:
    """One `manage.py start`, with what it printed."""

    def __init__(self, folder: Path, *arguments: str) -> None:
        self.folder = folder
        self._printed = folder.with_suffix(f".{time.monotonic_ns()}.out")
        with self._printed.open("wb") as out:
            self.process = subprocess.Popen(
                [sys.executable, str(ROOT / "manage.py"), "start", *arguments],
                stdout=out,
                stderr=subprocess.STDOUT,
                env=_environment(folder),
                cwd=folder.parent,
            )

    @property
    def printed(self) -> str:
        return self._printed.read_text(encoding="utf-8")

    @property
    def address(self) -> str:
        found = re.search(r"is running:\s+(http://\S+)/\n", self.printed)
        assert found, self.printed
        return found[1]

    def wait_until_up(self) -> "Running":
        """Returns when the sign-in page can be read."""
        until(lambda: "Stop it with" in self.printed or self.process.poll() is not None)
        assert self.fetch("/sign-in/")[0] == 200
        return self

    def fetch(self, path: str, *, host: str | None = None) -> tuple[int, str]:
        """Status and text of a page."""
        request = urllib.request.Request(self.address + path, headers={"Host": host} if host else {})
        try:
            with urllib.request.urlopen(request, timeout=10) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as error:
            return error.code, error.read().decode()

    def workers(self) -> list[int]:
        """Process numbers of background workers on this data folder."""
        return [pid for pid in _processes() if _belongs(pid, self.folder) and pid != self.process.pid]

    def stop(self, number: int = signal.SIGINT) -> int:
        """Sends the signal; returns the exit status."""
        self.process.send_signal(number)
        return self.process.wait(PATIENCE)


def _environment(folder: Path) -> dict[str, str]:
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("NOTCHBOOK_", "DJANGO_")) and name not in ("DISPLAY", "WAYLAND_DISPLAY")
    }
    return kept | {"NOTCHBOOK_DATA": str(folder), "NOTCHBOOK_NO_VENV": "1"}


def until(true: Callable[[], object], *, seconds: float = PATIENCE) -> None:
    """Waits until something is true; fails when it takes too long."""
    deadline = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < deadline, "waited too long"
        time.sleep(0.05)


def _processes() -> list[int]:
    return [int(entry.name) for entry in Path("/proc").iterdir() if entry.name.isdecimal()]


def _belongs(pid: int, folder: Path) -> bool:
    try:
        environment = (Path("/proc") / str(pid) / "environ").read_bytes()
        state = (Path("/proc") / str(pid) / "stat").read_text().rsplit(")", 1)[1].split()[0]
    except OSError:
        return False
    return f"NOTCHBOOK_DATA={folder}".encode() in environment.split(b"\0") and state != "Z"


@pytest.fixture(scope="session")
def used_before(
    tmp_path_factory: pytest.TempPathFactory,
    compiled_search: None,
    django_db_setup: None,
    django_db_blocker: DjangoDbBlocker,
) -> Path:
    """A data folder in which everything is made ready, as after a first start that nobody entered.

    Its tables are copied from the test database, which was migrated already and is empty between tests.
    """
    folder = tmp_path_factory.mktemp("used") / "workroom"
    folder.mkdir(mode=0o700)
    with django_db_blocker.unblock(), sqlite3.connect(folder / "notchbook.sqlite3") as copy:
        connection.ensure_connection()
        connection.connection.backup(copy)
    copy.close()
    return folder


@pytest.fixture
def run(tmp_path: Path, used_before: Path) -> Iterator[Callable[..., Running]]:
    """`run("--port", "0")` starts; whatever still runs at the end is ended.

    The tables are there already, which saves seconds each time; with `new=True` there is no data folder yet.
    """
    if not Path("/proc").is_dir():
        pytest.skip("Counts processes through /proc, which this system does not have.")
    started: list[Running] = []

    def start(*arguments: str, new: bool = False) -> Running:
        folder = tmp_path / "workroom"
        if not new and not folder.exists():
            shutil.copytree(used_before, folder)
        running = Running(folder, *arguments)
        started.append(running)
        return running

    yield start
    for running in started:
        for pid in [*running.workers(), running.process.pid]:
            if running.process.poll() is None or pid != running.process.pid:
                try:
                    os.kill(pid, signal.SIGKILL)
                except ProcessLookupError:
                    continue
        running.process.wait(PATIENCE)
