"""A lock held by the operating system: a file left by a crash is no obstacle. Standard library only."""

import json
import os
import sys
from pathlib import Path
from typing import IO, Any


class FileLock:
    """At most one process holds the lock of a file; the system lets go of it when that process ends, however.

    The file can carry a note (a small dict) from the holder to whoever finds the lock taken.
    """

    # Windows locks bytes so hard that nobody else can read them; this one lies far behind the note.
    _LOCKED_BYTE = 1 << 30

    def __init__(self, path: Path) -> None:
        self.path = path
        self._file: IO[str] | None = None

    def take(self) -> bool:
        """True when the lock is now ours, False when another process has it."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o600)
        file = os.fdopen(handle, "r+", encoding="utf-8")
        try:
            self._lock(file)
        except OSError:
            file.close()
            return False
        self._file = file
        return True

    def write_note(self, note: dict[str, Any]) -> None:
        """Tells others who holds the lock; only while it is ours."""
        assert self._file is not None
        self._file.seek(0)
        self._file.truncate()
        json.dump(note, self._file)
        self._file.flush()

    def read_note(self) -> dict[str, Any]:
        """What the holder wrote; empty where nothing readable stands there."""
        try:
            note = json.loads(self.path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return note if isinstance(note, dict) else {}

    def release(self) -> None:
        """Lets go. The file stays: deleting it would let two processes lock two files of one name."""
        if self._file is not None:
            self._file.close()
            self._file = None

    def _lock(self, file: IO[str]) -> None:
        if sys.platform == "win32":
            import msvcrt

            os.lseek(file.fileno(), self._LOCKED_BYTE, os.SEEK_SET)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
            os.lseek(file.fileno(), 0, os.SEEK_SET)
        else:
            import fcntl

            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
