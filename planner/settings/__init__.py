"""Settings for each way of running: the workroom's own machine, hosted, tests."""

import os
from pathlib import Path

_ROOT = Path(__file__).resolve().parent.parent.parent


def settings_module() -> str:
    """One machine with its own database file, unless a database elsewhere is named."""
    return "planner.settings.hosted" if os.environ.get("DATABASE_URL") else "planner.settings.local"


def data_folder() -> Path:
    """Where this machine's workroom keeps everything; the demo workroom has a folder of its own."""
    own = "data-demo" if os.environ.get("NOTCHBOOK_DEMO") == "1" else "data"
    return Path(os.environ.get("NOTCHBOOK_DATA") or _ROOT / own).resolve()
