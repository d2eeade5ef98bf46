"""Where compiled code of our own search is kept, and whether all of it is there. Loads no compiler."""

from __future__ import annotations

import contextlib
import hashlib
import sys
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

#: The modules whose functions and constants are compiled into each other. The compiler looks at one file only to tell
#: whether what it kept still holds, so what is kept lies in a folder named after all of them.
_SOURCES = ("compiled", "nofit", "depths", "charts", "places", "overlaps", "sides")
_HERE = Path(__file__).resolve().parent


@cache
def folder() -> Path:
    """The folder for these sources, this Python and this compiler."""
    content = hashlib.sha256(b"".join((_HERE / f"{s}.py").read_bytes() for s in _SOURCES))
    try:
        compiler = version("numba")
    except PackageNotFoundError:
        compiler = "none"
    name = f"compiled-{content.hexdigest()[:16]}-{sys.implementation.cache_tag}-{compiler}"
    return _HERE / "__pycache__" / name


def is_complete() -> bool:
    """Was everything compiled and kept there?"""
    return (folder() / "complete").exists()


def note_complete() -> None:
    """Notes that it was; no matter where nothing can be kept there."""
    with contextlib.suppress(OSError):
        folder().mkdir(parents=True, exist_ok=True)
        (folder() / "complete").touch()
