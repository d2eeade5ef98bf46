"""The embedded database, set up so that a crash or a pulled plug loses nothing that was answered."""

from pathlib import Path
from typing import Any


def sqlite_database(path: Path) -> dict[str, Any]:
    """Django DATABASES entry for SQLite in WAL mode with immediate write transactions.

    IMMEDIATE transactions make two writers queue for the lock instead of failing half-way;
    synchronous=FULL makes a commit survive a power cut.
    """
    return {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": path,
        "OPTIONS": {
            "timeout": 20,
            "transaction_mode": "IMMEDIATE",
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;",
        },
    }
