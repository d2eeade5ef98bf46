"""Where compiled code of our own search is kept, and whether all of it is there. Loads no compiler.

It is kept beside the source; where that may not be written to, in the data folder (`NOTCHBOOK_DATA`), else in a folder
of this user's own among the temporary files. Machine code that somebody else could have put there is never run. Where
it cannot be kept anywhere, or cannot be compiled, the search is given up, and the library nests alone.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import stat
import sys
import tempfile
import time
from collections.abc import Iterator
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import IO

#: The modules whose functions and constants are compiled into each other. The compiler looks at one file only, and at
#: its time, to tell whether what it kept still holds, so what is kept lies in a folder named after all of them.
_SOURCES = ("compiled", "nofit", "depths", "charts", "places", "trades", "overlaps", "sides")
_HERE = Path(__file__).resolve().parent
#: A process that waits for another to finish looks again after so long (s).
_ASK_EVERY = 0.2


#: In the name of the folder where there is no compiler.
_NO_COMPILER = "none"


@cache
def folder() -> Path:
    """The folder for these sources, this Python and this compiler: the first of those that may be written to."""
    found = [parent / _name() for parent in _parents()]
    return next((one for one in found if _may_keep_in(one)), found[0])


@cache
def _name() -> str:
    files = [_HERE / f"{source}.py" for source in _SOURCES]
    # The compiler finds what it kept by where the source lies: in a folder that was moved it finds nothing.
    content = hashlib.sha256(str(_HERE).encode())
    for file in files:
        content.update(file.read_bytes() + b"%d" % file.stat().st_mtime_ns)
    return f"compiled-{content.hexdigest()[:16]}-{sys.implementation.cache_tag}-{_compiler()}"


def _compiler() -> str:
    """Which compiler is installed."""
    try:
        return version("numba")
    except PackageNotFoundError:
        return _NO_COMPILER


def _parents() -> Iterator[Path]:
    """Where the folder may lie, the best place first."""
    yield _HERE / "__pycache__"
    if os.environ.get("NOTCHBOOK_DATA"):
        yield Path(os.environ["NOTCHBOOK_DATA"]).resolve() / "compiled"
    own = _own_temporary_folder()
    if own is not None:
        yield own


def _own_temporary_folder() -> Path | None:
    """A folder among the temporary files that nobody but this user can write to; None where there is none."""
    who = f"-{os.getuid()}" if sys.platform != "win32" else ""  # There temporary files are each user's own.
    path = Path(tempfile.gettempdir()) / f"notchbook{who}"
    try:
        path.mkdir(mode=0o700, exist_ok=True)
        found = path.lstat()
    except OSError:
        return None
    if not stat.S_ISDIR(found.st_mode):
        return None
    if sys.platform != "win32" and (found.st_uid != os.getuid() or found.st_mode & 0o022):
        return None
    return path


def _may_keep_in(path: Path) -> bool:
    """Can files be made there? Tried, for rights alone do not tell; the compiler reads no folder it cannot write to."""
    try:
        path.mkdir(parents=True, exist_ok=True)
        tempfile.TemporaryFile(dir=path).close()
    except OSError:
        return False
    return True


def is_complete() -> bool:
    """Was everything compiled and kept there?"""
    return (folder() / "complete").exists()


def is_awaited() -> bool:
    """Is some of it still to be compiled, to be kept there? Until then a search would spend its time compiling."""
    return not is_complete() and not is_given_up()


def is_given_up() -> bool:
    """Is there no search on this computer? For it could not be compiled, or could not be kept: each hunt would compile
    it anew, for longer than it may take."""
    if is_complete():
        return False
    return _compiler() == _NO_COMPILER or _given_up().exists() or not _may_keep_in(folder())


def is_missing() -> bool:
    """Has the library to nest alone, as things are now?"""
    return is_awaited() or is_given_up()


def give_up() -> None:
    """Notes that it could not be compiled, until somebody tries again; no matter where nothing can be kept."""
    with contextlib.suppress(OSError):
        _given_up().touch()


def try_again() -> None:
    """What could not be compiled is tried once more: it is awaited again."""
    with contextlib.suppress(OSError):
        _given_up().unlink(missing_ok=True)


def _given_up() -> Path:
    return folder() / "given-up"


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
