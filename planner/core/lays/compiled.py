"""Functions compiled to machine code when first called; the result is kept on disk for the next process.

Only the process that hunts (`searcher.py`) and tests import this: to load the compiler takes a third of a second.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeAlias, TypeVar, cast

import numpy as np
from numba import config, njit

from planner.core.lays import kept_code

#: A number of 32 or 64 bits, as the compiler takes it.
Number: TypeAlias = Any
#: For places in arrays in the innermost loops: of a number that may be below 0 the compiler asks each time whether it
#: is, to count from the array's end then, and does nothing for several at once.
unsigned = np.uint64

#: A setting of the compiler that its manual does not tell of; without it all is as right, and slower.
_UNCOUNTED: dict[str, Any] = {"_nrt": False}
_Function = TypeVar("_Function", bound=Callable[..., Any])

# Where this cannot be written to, the compiler keeps things beside the source or in the user's own cache folder.
_settings: Any = config
if not _settings.CACHE_DIR:
    _settings.CACHE_DIR = str(kept_code.folder())


def compiled(function: _Function) -> _Function:
    """The function compiled by numba: plain loops over numpy arrays, no Python objects."""
    return cast(_Function, njit(cache=True, fastmath=True)(function))


def uncounted(function: _Function) -> _Function:
    """The same without counting who holds its arrays, which takes a tenth of the search's time: for what makes none.

    Those it is given are held by whoever calls it.
    """
    return cast(_Function, njit(cache=True, fastmath=True, **_UNCOUNTED)(function))


def inlined(function: _Function) -> _Function:
    """The same for what is so small that a call would cost more than it does."""
    return cast(_Function, njit(cache=True, fastmath=True, inline="always")(function))
