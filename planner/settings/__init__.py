"""Settings for each way of running: the workroom's own machine, hosted, tests."""

import os


def settings_module() -> str:
    """One machine with its own database file, unless a database elsewhere is named."""
    return "planner.settings.hosted" if os.environ.get("DATABASE_URL") else "planner.settings.local"
