"""Rows of a workroom, read once and put back into an empty one: quicker than having them made again by actions."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.apps import apps
from django.db import connection, transaction

from planner.web.demo import ROOMS

Rows = dict[str, list[tuple[Any, ...]]]
_kept: dict[str, Rows] = {}


def made_once(name: str, make: Callable[[], object]) -> None:
    """Has the rows made that `name` stands for; in an empty workroom only once a process, later they are put in.

    `make` must not note who did it: people are not kept.
    """
    if not no_rows_yet():
        make()
    elif name in _kept:
        write_rows(_kept[name])
    else:
        make()
        _kept[name] = read_rows()


def read_rows() -> Rows:
    """Every row of the rooms, by table; people are not among them."""
    rows: Rows = {}
    with connection.cursor() as cursor:
        for table in _tables():
            cursor.execute(f"SELECT * FROM {table}")
            if of_table := cursor.fetchall():
                rows[table] = of_table
    return rows


def no_rows_yet() -> bool:
    """Whether every table of the rooms is empty, so that rows may be put back."""
    with connection.cursor() as cursor:
        cursor.execute(" UNION ALL ".join(f"SELECT * FROM (SELECT 1 FROM {t} LIMIT 1)" for t in _tables()))
        return cursor.fetchone() is None


@transaction.atomic
def write_rows(rows: Rows) -> None:
    """Puts rows back. Relations are checked when the transaction ends, so the order of the tables is free."""
    with connection.cursor() as cursor:
        for table, of_table in rows.items():
            marks = ", ".join(["%s"] * len(of_table[0]))
            cursor.executemany(f"INSERT INTO {table} VALUES ({marks})", of_table)


def _tables() -> list[str]:
    return [
        connection.ops.quote_name(model._meta.db_table)
        for room in ROOMS
        for model in apps.get_app_config(room).get_models(include_auto_created=True)
    ]
