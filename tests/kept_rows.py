"""Rows of a workroom, read once and put back into an empty one: quicker than having them made again by actions.

What one test process made the others take from it, through a folder that lasts as long as the run.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import pickle
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.models import Model

from planner.web.demo import ROOMS
from tests.whole_run import SHARED_FOLDER

Rows = dict[str, list[tuple[Any, ...]]]
T = TypeVar("T")
_kept: dict[str, Any] = {}


def made_once(name: str, make: Callable[[], object], *, beside: type[Model] | None = None) -> None:
    """Has the rows made that `name` stands for; in an empty workroom only once a process, later they are put in.

    `make` must not note who did it: people are not kept. Rows of the table `beside`, which `make` leaves alone, may be
    there already.
    """
    if not no_rows_yet(beside):
        make()
        return

    def made() -> Rows:
        make()
        rows = read_rows()
        rows.pop(_table(beside), None)
        return rows

    rows, is_new = kept(name, made)
    if not is_new:
        write_rows(rows)


def kept(name: str, make: Callable[[], T]) -> tuple[T, bool]:
    """What `name` stands for, and whether it was made just now rather than earlier in this run."""
    if name in _kept:
        return _kept[name], False
    folder = os.environ.get(SHARED_FOLDER)
    path = Path(folder) / hashlib.sha256(name.encode()).hexdigest() if folder else None
    if path is not None and path.exists():
        _kept[name] = pickle.loads(path.read_bytes())
        return _kept[name], False
    _kept[name] = made = make()
    if path is not None:
        # Written aside first, so that no other process reads half of it. The folder goes when the run is over.
        part = path.with_suffix(f".{os.getpid()}")
        with contextlib.suppress(FileNotFoundError):
            part.write_bytes(pickle.dumps(made))
            part.replace(path)
    return made, True


def read_rows() -> Rows:
    """Every row of the rooms, by table; people are not among them."""
    rows: Rows = {}
    with connection.cursor() as cursor:
        for table, columns in _columns().items():
            cursor.execute(f"SELECT {', '.join(columns)} FROM {table}")
            if of_table := cursor.fetchall():
                rows[table] = of_table
    return rows


def no_rows_yet(beside: type[Model] | None = None) -> bool:
    """Whether every table of the rooms, but for that of `beside`, is empty, so that rows may be put back."""
    tables = [table for table in _columns() if table != _table(beside)]
    with connection.cursor() as cursor:
        cursor.execute(
            " UNION ALL ".join(f"SELECT * FROM (SELECT 1 FROM {t} LIMIT 1) AS one" for t in tables)
        )
        return cursor.fetchone() is None


@transaction.atomic
def write_rows(rows: Rows) -> None:
    """Puts rows back. Relations are checked when the transaction ends, so the order of the tables is free."""
    with connection.cursor() as cursor:
        for table, of_table in rows.items():
            columns, marks = ", ".join(_columns()[table]), ", ".join(["%s"] * len(of_table[0]))
            cursor.executemany(f"INSERT INTO {table} ({columns}) VALUES ({marks})", of_table)
        for reset in connection.ops.sequence_reset_sql(no_style(), _models()):
            cursor.execute(reset)


@cache
def _columns() -> dict[str, tuple[str, ...]]:
    """The columns of every table, by name: where a process has migrated to and fro they lie in another order than in
    the others that its rows are shared with."""
    quoted = connection.ops.quote_name
    return {
        _table(model): tuple(quoted(field.column) for field in model._meta.local_concrete_fields)
        for model in _models()
    }


def _table(model: type[Model] | None) -> str:
    return connection.ops.quote_name(model._meta.db_table) if model else ""


def _models() -> list[type[Model]]:
    return [
        model for room in ROOMS for model in apps.get_app_config(room).get_models(include_auto_created=True)
    ]
