"""Settings for the test suite: an own database, quick passwords, tasks run at once."""

from planner.settings.base import *  # noqa: F403
from planner.settings.base import BASE_DIR, STORAGES
from planner.settings.sqlite import sqlite_database

DEBUG = False
SECRET_KEY = "only for tests, never for a workroom"
ALLOWED_HOSTS = ["*"]
DATABASES = {"default": sqlite_database(BASE_DIR / "build" / "test.sqlite3")}
DATABASES["default"]["TEST"] = {"NAME": None}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    **STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
TASKS = {"default": {"BACKEND": "django_tasks.backends.dummy.DummyBackend"}}
