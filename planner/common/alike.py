"""Names compared whatever the case of their letters: SQLite by itself does so for A and a, but not for É and é, nor for
other scripts.

Somebody called Åsa could not sign in as åsa, and a customer could be entered twice. With this SQLite compares names as
PostgreSQL does.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache
from typing import Any

#: Patterns kept ready: one search asks the same one of every row.
_PATTERNS_KEPT = 200


def teach(connection: Any, **_: Any) -> None:
    """Has a new connection to SQLite compare names by :func:`like`; a receiver of `connection_created`."""
    if connection.vendor == "sqlite":
        for arguments in (2, 3):
            connection.connection.create_function("like", arguments, like, deterministic=True)


def like(pattern: Any, text: Any, escape: str | None = None) -> bool | None:
    """SQL's LIKE, whatever the case of the letters; % stands for any text and _ for one letter, unless escaped."""
    if pattern is None or text is None:
        return None
    return _matcher(str(pattern).casefold(), escape)(str(text).casefold()) is not None


@lru_cache(maxsize=_PATTERNS_KEPT)
def _matcher(pattern: str, escape: str | None) -> Callable[[str], re.Match[str] | None]:
    wanted, letters = [], iter(pattern)
    for letter in letters:
        if letter == escape:
            wanted.append(re.escape(next(letters, "")))
        else:
            wanted.append({"%": ".*", "_": "."}.get(letter, re.escape(letter)))
    return re.compile("".join(wanted), re.DOTALL).fullmatch
