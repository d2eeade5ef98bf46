"""Planned batches for tests that ask what becomes of them: planned once, then put in as rows.

Each is called like the maker it stands for. What it did is only done again where every row of the workroom is the same
as it was before the first time, primary keys and all, and it is called alike; else it is done for real. So a test whose
subject is planning, or that puts something in the place of a part of it, takes the maker itself.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec

from django.db import connection, models, transaction

from planner.cutting.models import Batch
from tests.cutting import settling_makers, table_makers
from tests.kept_rows import Rows, kept, read_rows, write_rows
from tests.sewing import makers

P = ParamSpec("P")


def once(make: Callable[P, Batch]) -> Callable[P, Batch]:
    """The maker of a batch, which does the same work only once."""

    @wraps(make)
    def made(*args: P.args, **options: P.kwargs) -> Batch:
        before = read_rows()
        asked = (
            make.__module__,
            make.__qualname__,
            [_named(a) for a in args],
            sorted(options.items()),
            sorted(before.items()),
        )
        key = hashlib.sha256(repr(asked).encode()).hexdigest()
        batches: list[Batch] = []

        def done() -> tuple[int, Rows]:
            batches.append(make(*args, **options))
            after = read_rows()
            changed = [table for table in {*before, *after} if before.get(table) != after.get(table)]
            return batches[0].pk, {table: after.get(table, []) for table in changed}

        (pk, rows), is_new = kept(key, done)
        if is_new:
            return batches[0]
        _put_in_place(rows)
        for one in args:
            if isinstance(one, models.Model):
                one.refresh_from_db()
        return Batch.objects.get(pk=pk)

    return made


@transaction.atomic
def _put_in_place(rows: Rows) -> None:
    with connection.cursor() as cursor:
        for table in rows:
            cursor.execute(f"DELETE FROM {table}")
    write_rows({table: of_table for table, of_table in rows.items() if of_table})


def _named(given: object) -> object:
    return (given._meta.label, given.pk) if isinstance(given, models.Model) else given


make_planned_batch = once(makers.make_planned_batch)
waiting_batch = once(settling_makers.waiting_batch)
settled = once(settling_makers.settled)
plies_batch = once(table_makers.plies_batch)
