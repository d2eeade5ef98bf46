"""What every room's tests share: the people of an invented workroom and a day that does not move."""

import gc
import os
import sys
from datetime import date, timedelta
from functools import lru_cache, partial
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY, get_user_model
from django.contrib.auth.models import User
from django.contrib.sessions.models import Session
from django.core.management.commands import flush
from django.db import connection
from django.db.backends.sqlite3.base import SQLiteCursorWrapper
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client
from django.utils import timezone
from django.utils.crypto import get_random_string
from pytest_django import DjangoDbBlocker

from planner.running.warm import YOUNG_OBJECTS
from tests import whole_run

PASSWORD = "long enough for tests"
# Its assertions say as much as those of a test.
pytest.register_assert_rewrite("tests.answers")
# Compiled modules are kept, as in a workroom, for the processes that the tests run in and for those they start: to
# compile all of it again takes each of them seconds.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
# The garbage collector looks more seldom than in a server, where nobody shall wait for it long: the less often it
# looks, the less it finds that is still in use. Saves up to 3 % of the time for some 30 MB more.
gc.set_threshold(8 * YOUNG_OBJECTS, 5, 5)


def pytest_configure(config: pytest.Config) -> None:
    """Makes what all test processes share, in the one that starts them; the others inherit it."""
    if not hasattr(config, "workerinput"):
        whole_run.begin(several=bool(getattr(config.option, "numprocesses", None)))


def pytest_unconfigure(config: pytest.Config) -> None:
    """Takes it away again."""
    if not hasattr(config, "workerinput"):
        whole_run.end()


@pytest.hookimpl(tryfirst=True)
def pytest_collection(session: pytest.Session) -> None:
    """Several processes of a whole run each begin with other modules."""
    process, here = getattr(session.config, "workerinput", None), Path(__file__).parent
    if process is not None and [Path(asked).resolve() for asked in session.config.args] == [here]:
        whole_run.load_share(here, int(process["workerid"].removeprefix("gw")), process["workercount"])


@pytest.hookimpl(trylast=True)  # when every room has marked its own
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Long tests are begun first, each with what it needs."""
    items[:] = whole_run.longest_first(items)
    whole_run.leave_out_what_is_not_needed(items)


def pytest_collection_finish() -> None:
    """What is loaded by now stays: the garbage collector need not look through all of it during every test."""
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def compiled_search() -> None:
    """The search for short lays is compiled: for tests that have it run, in whatever process."""
    whole_run.wait_for_search()


@pytest.fixture(scope="session")
def django_db_use_migrations() -> bool:
    """Tables are made from the models, which takes a tenth of the time that all migrations take.

    That these make the same tables is asked in `tests/web/test_migrations.py`; the tests of the start run them.
    """
    return False


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings: None) -> None:
    """Columns hold no more than PostgreSQL's do: SQLite by itself takes a text of any length and any whole number."""
    if connection.vendor == "sqlite":
        small = '"%(column)s" BETWEEN 0 AND 32767'
        connection.data_type_check_constraints = connection.data_type_check_constraints | {
            "CharField": 'LENGTH("%(column)s") <= %(max_length)s',
            "PositiveSmallIntegerField": small,
            "PositiveIntegerField": small.replace("32767", "2147483647"),
        }
        _put_the_same_questions_once()


def _put_the_same_questions_once() -> None:
    """What Django makes of a question's words for SQLite is kept, for tests ask the same again and again."""
    put = SQLiteCursorWrapper.convert_query
    kept = lru_cache(4_000)(partial(put, None))

    def put_once(self: SQLiteCursorWrapper, query: str, *, param_names: list[str] | None = None) -> str:
        return kept(query) if param_names is None else put(self, query, param_names=param_names)

    SQLiteCursorWrapper.convert_query = put_once


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> None:
    """The test database, in which every migration is noted as done, so that a copy of it may be started with.

    Where its tables are emptied after a test that commits, nothing is told to those who add rows of their own after
    every migration: they are Django's permissions and kinds of content, which nobody here asks for, and to write them
    again takes several times as long as all emptying.
    """
    settings.MIGRATION_MODULES = {}
    flush.emit_post_migrate_signal = lambda *_, **__: None
    with django_db_blocker.unblock():
        if not connection.introspection.table_names():
            return  # none of the tests that were asked for has a database
        recorder = MigrationRecorder(connection)
        recorder.ensure_schema()
        recorder.migration_qs.bulk_create(
            recorder.Migration(app=app, name=name) for app, name in MigrationLoader(None).disk_migrations
        )


@pytest.fixture
def today() -> date:
    """A Tuesday."""
    return date(2031, 3, 4)


@pytest.fixture
def maker(db: None) -> User:
    """Runs the workroom."""
    return get_user_model().objects.create_user("Mira", password=PASSWORD, is_staff=True)


@pytest.fixture
def helper(db: None) -> User:
    """Cuts and sews, may not see costs or change styles."""
    return get_user_model().objects.create_user("Hale", password=PASSWORD)


def signed_in(user: User) -> Client:
    """A browser without JavaScript in which `user` is signed in: all that signing in leaves, written in one go."""
    client, key = Client(), get_random_string(32)
    kept = {
        SESSION_KEY: str(user.pk),
        BACKEND_SESSION_KEY: settings.AUTHENTICATION_BACKENDS[0],
        HASH_SESSION_KEY: user.get_session_auth_hash(),
    }
    Session.objects.create(
        session_key=key,
        session_data=Session.objects.encode(kept),
        expire_date=timezone.now() + timedelta(days=1),
    )
    client.cookies[settings.SESSION_COOKIE_NAME] = key
    return client


@pytest.fixture
def maker_client(maker: User) -> Client:
    """A browser without JavaScript in which the maker is signed in."""
    return signed_in(maker)


@pytest.fixture
def helper_client(helper: User) -> Client:
    """A browser without JavaScript in which a helper is signed in."""
    return signed_in(helper)
