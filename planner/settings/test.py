"""Settings for the test suite: a database file of its own, quick passwords, tasks noted but not run."""

import atexit
import os
import shutil
import tempfile
from pathlib import Path
from typing import Any

from planner.settings.base import *  # noqa: F403
from planner.settings.base import MIDDLEWARE, STORAGES
from planner.settings.postgres import database_at

DEBUG = False
DEMO = False
DATA_DIR = Path(tempfile.gettempdir()) / f"notchbook-test-{os.getpid()}"
DATA_DIR.mkdir(mode=0o700, exist_ok=True)
atexit.register(shutil.rmtree, DATA_DIR, ignore_errors=True)
BASE_URL = "http://testserver"
SECRET_KEY = "only for tests, never for a workroom"
ALLOWED_HOSTS = ["*"]
TIME_ZONE = "UTC"
# A file, not memory: the browser tests ask from a second thread, which needs a connection of its own.
# The process number keeps runs apart that go on side by side.
DATABASES: dict[str, Any] = {
    "default": {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": DATA_DIR / "never-used.sqlite3",
        "TEST": {"NAME": str(DATA_DIR / "test.sqlite3")},
        "OPTIONS": {
            "timeout": 20,
            "transaction_mode": "IMMEDIATE",
            # As in a workroom, except that a test database need not survive a power cut.
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=OFF; PRAGMA foreign_keys=ON;",
            # All questions that are asked in a run stay ready for the next time: to prepare one takes longer than to
            # have a small table answer it.
            "cached_statements": 4_000,
        },
    }
}
if elsewhere := os.environ.get("NOTCHBOOK_TEST_DATABASE_URL"):
    DATABASES = {"default": database_at(elsewhere)}
# Tests read pages as they are worded; what becomes of the space before a unit is tested by itself.
MIDDLEWARE = [
    "tests.as_worded.AsWordedMiddleware",
    *(one for one in MIDDLEWARE if one != "planner.web.whole_figures.WholeFiguresMiddleware"),
]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {**STORAGES, "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
TASKS = {"default": {"BACKEND": "django_tasks.backends.dummy.DummyBackend"}}
