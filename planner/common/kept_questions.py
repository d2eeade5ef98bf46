"""Questions put into SQL once and asked again and again.

To put a question with sums and conditions into SQL takes Django several times as long as the database takes to answer
it. Where its words are always the same, only what is asked for is filled in afresh.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import Any

from django.core.exceptions import EmptyResultSet
from django.db import connections
from django.db.models import Expression, Field, IntegerField, QuerySet


class Given(Expression):
    """Stands in a kept question for what is filled in when it is asked: `filter(batch=Given("batch"))`.

    `output_field` says what kind of value that is, a key unless told. Not for lists, whose length is part of the SQL.
    """

    def __init__(self, name: str, output_field: Field[Any, Any] | None = None) -> None:
        super().__init__(output_field=output_field or IntegerField())
        self.name = name

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, list[Any]]:
        """A place for the value."""
        return "%s", [_Place(self.name, self.output_field)]


@dataclass(frozen=True)
class _Place:
    name: str
    field: Field[Any, Any]


@dataclass(frozen=True)
class _Put:
    """A question as one kind of database is asked it; `sql` is None where nothing can be the answer."""

    sql: str | None
    values: tuple[Any, ...]
    converters: dict[int, Any]


class KeptQuestion:
    """A question for values (`values_list`), which `put` words the first time it is asked of a kind of database."""

    def __init__(self, put: Callable[[], QuerySet[Any]]) -> None:
        self._put = put
        self._known: dict[tuple[str, str], _Put] = {}
        self._lock = Lock()
        self._query: QuerySet[Any] | None = None

    def ask(self, **given: Any) -> list[tuple[Any, ...]]:
        """The rows, in one query; `given` has a value for each :class:`Given` of the question."""
        query = self._worded()
        connection = connections[query.db]
        put = self._known_for(query, connection)
        if put.sql is None:
            return []
        values = [_filled_in(value, given, connection) for value in put.values]
        with connection.cursor() as cursor:
            cursor.execute(put.sql, values)
            rows: list[tuple[Any, ...]] = cursor.fetchall()
        if not put.converters:
            return rows
        compiler = query.query.get_compiler(connection=connection)
        return [tuple(row) for row in compiler.apply_converters(rows, put.converters)]

    def _worded(self) -> QuerySet[Any]:
        if self._query is None:
            self._query = self._put()
        return self._query

    def _known_for(self, query: QuerySet[Any], connection: Any) -> _Put:
        key = (connection.alias, connection.vendor)
        if key not in self._known:
            with self._lock:
                self._known[key] = _put_into_sql(query, connection)
        return self._known[key]


def _put_into_sql(query: QuerySet[Any], connection: Any) -> _Put:
    compiler = query.query.clone().get_compiler(connection=connection)
    try:
        sql, values = compiler.as_sql()
    except EmptyResultSet:
        return _Put(None, (), {})
    if compiler.has_extra_select:
        raise TypeError(
            "A question that selects more than it answers, as by distinct and another order, is not kept."
        )
    converters = compiler.get_converters([column for column, _, _ in compiler.select])
    return _Put(sql, tuple(values), converters)


def _filled_in(value: Any, given: dict[str, Any], connection: Any) -> Any:
    if not isinstance(value, _Place):
        return value
    return value.field.get_db_prep_value(given[value.name], connection)
