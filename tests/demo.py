"""The demo workroom for tests: loaded once a process and day, then only its rows are put in again.

Loading reads pattern files and checks every stored marker, which takes seconds. Tests of the loading itself call
`load_demo`; those that need its result take `loaded_demo`.
"""

from __future__ import annotations

from datetime import date
from typing import Any

from django.apps import apps
from django.db import connection, transaction
from django.utils import timezone

from planner.web.demo import ROOMS, is_empty, load_demo, read_demo
from planner.web.demo_loader import DemoLoaded

Rows = dict[str, list[tuple[Any, ...]]]
_kept: dict[date, tuple[DemoLoaded, Rows]] = {}


def loaded_demo(today: date | None = None) -> DemoLoaded:
    """The demo as of `today`, or as of this day, in an empty database; what was made is as `load_demo` says it."""
    today = today or timezone.localdate()
    if today not in _kept:
        made = load_demo(read_demo(), today)
        _kept[today] = (made, _read())
        return made
    assert is_empty(), "the demo goes into an empty workroom"
    made, rows = _kept[today]
    _write(rows)
    return made


def _tables() -> list[str]:
    return [
        model._meta.db_table
        for room in ROOMS
        for model in apps.get_app_config(room).get_models(include_auto_created=True)
    ]


def _read() -> Rows:
    rows: Rows = {}
    with connection.cursor() as cursor:
        for table in _tables():
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            rows[table] = cursor.fetchall()
    return rows


@transaction.atomic
def _write(rows: Rows) -> None:
    """Relations are checked when the transaction ends, so the order of the tables is free."""
    with connection.cursor() as cursor:
        for table, of_table in rows.items():
            if of_table:
                marks = ", ".join(["%s"] * len(of_table[0]))
                cursor.executemany(
                    f"INSERT INTO {connection.ops.quote_name(table)} VALUES ({marks})", of_table
                )
