"""Settings for each way of running: the workroom's own machine, hosted, tests."""

import os
import tempfile
from pathlib import Path

_ROOT = Path(__file__).resolve().parent.parent.parent


#: The settings of a workroom on one machine.
LOCAL = "planner.settings.local"


def settings_module() -> str:
    """One machine with its own database file, unless a database elsewhere is named."""
    return "planner.settings.hosted" if os.environ.get("DATABASE_URL") else LOCAL


def data_folder() -> Path:
    """Where this machine's workroom keeps everything; the demo workroom has a folder of its own."""
    own = "data-demo" if os.environ.get("NOTCHBOOK_DEMO") == "1" else "data"
    return Path(os.environ.get("NOTCHBOOK_DATA") or _ROOT / own).resolve()


def why_unwritable(folder: Path) -> str:
    """Why nothing can be kept in this folder, which is made where it is not there; "" where it can."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        tempfile.TemporaryFile(dir=folder).close()
    except OSError as fault:
        return fault.strerror or str(fault)
    return ""
