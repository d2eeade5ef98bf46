"""Where compiled code of our own search is kept, and whether all of it is there. Loads no compiler."""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
import time
from collections.abc import Iterator
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import IO

#: The modules whose functions and constants are compiled into each other. The compiler looks at one file only, and at
#: its time, to tell whether what it kept still holds, so what is kept lies in a folder named after all of them.
_SOURCES = ("compiled", "nofit", "depths", "charts", "places", "overlaps", "sides")
_HERE = Path(__file__).resolve().parent
#: Who waits for another to be done asks so often (s).
_ASK_EVERY = 0.2


@cache
def folder() -> Path:
    """The folder for these sources, this Python and this compiler."""
    files = [_HERE / f"{source}.py" for source in _SOURCES]
    content = hashlib.sha256(b"".join(f.read_bytes() + b"%d" % f.stat().st_mtime_ns for f in files))
    try:
        compiler = version("numba")
    except PackageNotFoundError:
        compiler = "none"
    name = f"compiled-{content.hexdigest()[:16]}-{sys.implementation.cache_tag}-{compiler}"
    return _HERE / "__pycache__" / name


def is_complete() -> bool:
    """Was everything compiled and kept there?"""
    return (folder() / "complete").exists()


def is_awaited() -> bool:
    """Is some of it still to be compiled, to be kept there? Until then a search would spend its time compiling.

    False where nothing can be kept: then there is nothing to wait for.
    """
    if is_complete():
        return False
    with contextlib.suppress(OSError):
        folder().mkdir(parents=True, exist_ok=True)
        return os.access(folder(), os.W_OK)
    return False


@contextlib.contextmanager
def one_at_a_time() -> Iterator[None]:
    """Waits while another process is in here, so that what all need is compiled once. No matter if it cannot wait.

    The system holds the lock, so one that is killed in here keeps nobody out.
    """
    try:
        folder().mkdir(parents=True, exist_ok=True)
        file = (folder() / "being-compiled").open("a", encoding="utf-8")
    except OSError:
        yield
        return
    with file:
        while not _locked(file):
            time.sleep(_ASK_EVERY)
        yield


def _locked(file: IO[str]) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except PermissionError:
        return (
            sys.platform != "win32"
        )  # There it says that another has it; elsewhere that nothing can be locked.
    except OSError:
        return True  # a folder on which nothing can be locked
    return True


def note_complete() -> None:
    """Notes that it was; no matter where nothing can be kept there."""
    with contextlib.suppress(OSError):
        folder().mkdir(parents=True, exist_ok=True)
        (folder() / "complete").touch()
