"""The key that signs sessions and forms: made once for each data folder, readable by its owner only."""

import os
import secrets
import time
from pathlib import Path


def secret_key_in(folder: Path) -> str:
    """The key kept in `folder`, made at first use with rights for the owner alone (0600)."""
    path = folder / "secret-key"
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return _read_when_written(path)
    key = secrets.token_urlsafe(50)
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(key)
    return key


def _read_when_written(path: Path) -> str:
    """Reads the key; waits a moment where another process has just made the file and not filled it yet."""
    for _ in range(40):
        key = path.read_text(encoding="ascii").strip()
        if key:
            return key
        time.sleep(0.05)
    raise RuntimeError(f"The file {path} is empty. Delete it and start again; everybody then signs in anew.")
