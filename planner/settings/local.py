"""Settings of the workroom's own machine: one data folder, a process for pages, one for background work.

Everything a backup needs lies in `DATA_DIR`. Read from the environment (`manage.py start` sets it, or you):

- `NOTCHBOOK_DATA`      the data folder (default: `data`, or `data-demo` for the demo workroom)
- `NOTCHBOOK_DEMO`      `1` for the demo workroom
- `NOTCHBOOK_BASE_URL`  the address that printed QR codes carry
- `NOTCHBOOK_HOSTS`     further host names or addresses this machine answers to, with commas between
- `NOTCHBOOK_TIME_ZONE` where the workroom is (default: where this machine is)
- `NOTCHBOOK_LOG`       name of the log file in the data folder, without `.log`; none: to the terminal
"""

import os

from planner.settings import data_folder
from planner.settings.base import *  # noqa: F403
from planner.settings.base import STORAGES
from planner.settings.logs import logging_to
from planner.settings.secret_key import secret_key_in
from planner.settings.sqlite import sqlite_database
from planner.settings.time_zone import time_zone

DEMO = os.environ.get("NOTCHBOOK_DEMO") == "1"
DATA_DIR = data_folder()
DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)

DEBUG = False
SECRET_KEY = secret_key_in(DATA_DIR)
DATABASES = {"default": sqlite_database(DATA_DIR / "notchbook.sqlite3")}

BASE_URL = os.environ.get("NOTCHBOOK_BASE_URL", "").rstrip("/") or "http://127.0.0.1:8470"
_more_hosts = [host.strip() for host in os.environ.get("NOTCHBOOK_HOSTS", "").split(",") if host.strip()]
ALLOWED_HOSTS = ["127.0.0.1", "localhost", "[::1]", *_more_hosts]
CSRF_TRUSTED_ORIGINS = [BASE_URL]
TIME_ZONE = time_zone()

# Cookies know no port: without names of their own, demo and workroom would sign each other out.
if DEMO:
    SESSION_COOKIE_NAME = "demo_sessionid"
    CSRF_COOKIE_NAME = "demo_csrftoken"

# Static files are served from where they lie. Nothing has to be collected at a start, and as browsers
# ask each time whether a file has changed, none is ever out of date after an update.
STORAGES = {**STORAGES, "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
WHITENOISE_USE_FINDERS = True
WHITENOISE_MAX_AGE = 0

# This header means something only on HTTPS or on this very machine; browsers complain elsewhere.
SECURE_CROSS_ORIGIN_OPENER_POLICY = None

LOGGING = logging_to(DATA_DIR, os.environ.get("NOTCHBOOK_LOG", ""))
