"""Settings of the workroom's own machine."""

import os

from planner.settings.base import *  # noqa: F403
from planner.settings.base import BASE_DIR
from planner.settings.sqlite import sqlite_database

DATA_DIR = BASE_DIR / "data"
DATA_DIR.mkdir(exist_ok=True)
DEBUG = False
SECRET_KEY = os.environ.get("SECRET_KEY", "to be replaced")
ALLOWED_HOSTS = ["127.0.0.1", "localhost"]
DATABASES = {"default": sqlite_database(DATA_DIR / "notchbook.sqlite3")}
