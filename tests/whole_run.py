"""What concerns a run of the tests as a whole: what its processes share, and in which order they take the tests.

Loads nothing of the program by itself: `tests/conftest.py` asks for it before Django is set up.
"""

from __future__ import annotations

import compileall
import contextlib
import os
import shutil
import sys
import tempfile
import time
import zlib
from collections.abc import Iterable
from functools import partial
from importlib import import_module
from pathlib import Path
from threading import Thread
from typing import Protocol, TypeVar

import pytest

#: The environment variable that names the folder in which processes of one run share rows (`tests/kept_rows.py`).
SHARED_FOLDER = "NOTCHBOOK_TEST_ROWS"
#: What tests leave in the system's temporary folder until their run is over; the settings for tests make the other.
LEFT_BEHIND = ("notchbook-test-rows-*", "notchbook-test-[0-9]*")
#: No run takes longer than this (s): what was last touched earlier belongs to one that was killed.
LONGEST_RUN = 24 * 3600.0
#: In the shared folder for as long as the search for short lays is being compiled.
COMPILING = "search-is-being-compiled"
#: Compiling takes some 20 s of one processor; longer than this (s) nobody waits for it.
_PATIENCE = 300.0
#: What has the search compiled and letters looked up in this run, if anything.
_beside: list[Thread] = []


#: What pytest-django makes ready before every single test for those that send mail, are given other addresses, know
#: sites or are classes of the standard library. None here does, unless it is marked for it.
NOT_NEEDED = frozenset(
    {
        "_dj_autoclear_mailbox",
        "_django_clear_site_cache",
        "_django_isolate_apps",
        "_django_set_urlconf",
        "_django_setup_unittest",
        "_template_string_if_invalid_marker",
    }
)
#: With one of these marks a test has all of it.
_NEEDING = ("urls", "django_isolate_apps", "ignore_template_errors")


class Marked(Protocol):
    """As much of a test as its place in the run depends on."""

    def get_closest_marker(self, name: str) -> object | None: ...


Test = TypeVar("Test", bound=Marked)


def begin(*, several: bool) -> None:
    """Makes what all processes of a run share, in the one that starts them; they inherit the environment."""
    sweep(Path(tempfile.gettempdir()), now=time.time())
    folder = Path(tempfile.mkdtemp(prefix="notchbook-test-rows-"))
    os.environ[SHARED_FOLDER] = str(folder)
    if several:
        # What has changed is compiled here, before several processes all do it at once.
        compileall.compile_dir(Path(__file__).parent.parent / "planner", quiet=2)
        (folder / COMPILING).touch()
        for work in (partial(_compile_search, folder), _look_up_letters):
            _beside.append(Thread(target=work, daemon=True))
            _beside[-1].start()


def end() -> None:
    """Takes away what was shared, once nothing goes on that the run has begun: the process that compiles the search
    would outlive it.
    """
    while _beside:
        _beside.pop().join(_PATIENCE)
    shutil.rmtree(os.environ.pop(SHARED_FOLDER, ""), ignore_errors=True)


def sweep(folder: Path, *, now: float) -> None:
    """Takes away what runs that were killed left in `folder`; `now` in seconds as of `time.time()`."""
    for pattern in LEFT_BEHIND:
        for left in folder.glob(pattern):
            with contextlib.suppress(OSError):
                if now - left.stat().st_mtime > LONGEST_RUN:
                    shutil.rmtree(left, ignore_errors=True)


def _compile_search(folder: Path) -> None:
    from planner.core.lays.solver import prepare_search

    try:
        prepare_search()
    finally:
        (folder / COMPILING).unlink(missing_ok=True)


def _look_up_letters() -> None:
    """Has hypothesis find out which letters UTF-8 can write, and keep that on disk, as it does where a test first asks
    for any text: in a new clone that takes some 4 s of one processor, which every process would spend.

    It is a part of hypothesis that it may change; without this all is as it would be.
    """
    with contextlib.suppress(Exception):
        from hypothesis.internal.charmap import intervals_from_codec

        intervals_from_codec("utf-8")


def load_share(tests: Path, number: int, count: int) -> None:
    """Loads every `count`-th module of the tests, from the `number`-th on.

    The assertions in each are made talkative by pytest when it is loaded for the first time, which takes as long as all
    loading after that. Where each process begins with a share of its own it finds the others' kept on disk. So it is
    with the numbers and words in the program itself, which hypothesis looks for in every module to try them.
    """
    for path in sorted(tests.glob("*/test_*.py"))[number::count]:
        # What cannot be loaded is told when it is collected.
        with contextlib.suppress(Exception, pytest.skip.Exception):
            import_module(".".join([tests.name, path.parent.name, path.stem]))
    # A part of hypothesis that it may change; without this it looks for all of them itself in each process.
    with contextlib.suppress(ImportError):
        from hypothesis.internal.constants_ast import constants_from_module

        for name, module in sorted(sys.modules.items()):
            if name.startswith("planner.") and zlib.crc32(name.encode()) % count == number:
                constants_from_module(module)


def wait_for_search() -> None:
    """Returns when the search for short lays is compiled, so that not every process compiles all of it at once.

    A run in one process compiles it when the first test asks for it.
    """
    folder, latest = os.environ.get(SHARED_FOLDER), time.monotonic() + _PATIENCE
    while folder and (Path(folder) / COMPILING).exists() and time.monotonic() < latest:
        time.sleep(0.1)
    from planner.core.lays import kept_code
    from planner.core.lays.solver import prepare_search

    if kept_code.is_awaited():
        prepare_search()


def longest_first(tests: Iterable[Test]) -> list[Test]:
    """The tests marked as slow, then all others, each in the order they came.

    So no process is left with a long one when the others have nothing more to do.
    """
    return sorted(tests, key=lambda test: test.get_closest_marker("slow") is None)


def leave_out_what_is_not_needed(tests: Iterable[pytest.Item]) -> None:
    """Spares plain tests what none of them needs: half a millisecond each, some seconds in all."""
    for test in tests:
        if (
            isinstance(test, pytest.Function)
            and test.cls is None
            and not any(map(test.get_closest_marker, _NEEDING))
        ):
            test.fixturenames[:] = [name for name in test.fixturenames if name not in NOT_NEEDED]
