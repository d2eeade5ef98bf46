"""Rows read with what they relate to, each related row made once however many lead to it.

`select_related` makes a style, a size, a colourway of its own for every single row, which for hundreds of rows takes
longer than finding them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from django.db.models import Manager, Model, QuerySet

from planner.common.kept_questions import KeptQuestion


@dataclass
class _Part:
    """The rows themselves (path ""), or what a path of relations leads to; where its columns stand in what is read."""

    model: type[Model]
    path: str
    columns: list[str]
    start: int
    pk_at: int
    made: dict[Any, Model] = field(default_factory=dict)

    @property
    def end(self) -> int:
        return self.start + len(self.columns)

    @property
    def parent_path(self) -> str:
        return self.path.rpartition("__")[0]

    @property
    def relation(self) -> str:
        return self.path.rpartition("__")[2]


def read_shared(
    query: QuerySet[Any],
    related: Mapping[str, Iterable[str] | None],
    *,
    own: Iterable[str] | None = None,
    noted: Iterable[str] = (),
) -> list[Any]:
    """The rows of `query` in its order, in one query.

    `related` names the columns wanted of each path of relations ("line__order"), None for all of them; what leads to a
    path stands before it. `own` are columns of the rows themselves, None for all; `noted` are annotations to keep.
    Other columns are fetched when they are asked for, as with `only`.
    """
    parts, annotations = _parts(query.model, {"": own, **related}), list(noted)
    return _made(parts, annotations, query.values_list(*_names(parts), *annotations), query.db)


class KeptShared:
    """The same with a question that is put into SQL but once; `put` words it, arguments are those of `read_shared`."""

    def __init__(
        self,
        put: Callable[[], QuerySet[Any]],
        related: Mapping[str, Iterable[str] | None],
        *,
        own: Iterable[str] | None = None,
        noted: Iterable[str] = (),
    ) -> None:
        self._put, self._wanted, self._noted = put, {"": own, **related}, list(noted)
        self._parts: list[_Part] = []
        self._db = ""
        self._question = KeptQuestion(self._values)

    def read(self, **given: Any) -> list[Any]:
        """The rows with the given values filled in, in one query."""
        values = self._question.ask(**given)
        return _made([replace(part, made={}) for part in self._parts], self._noted, values, self._db)

    def _values(self) -> QuerySet[Any]:
        query = self._put()
        self._parts, self._db = _parts(query.model, self._wanted), query.db
        return query.values_list(*_names(self._parts), *self._noted)


def _names(parts: Iterable[_Part]) -> list[str]:
    return [f"{part.path}__{name}" if part.path else name for part in parts for name in part.columns]


def _made(parts: list[_Part], noted: Sequence[str], found: Iterable[tuple[Any, ...]], db: str) -> list[Any]:
    start = parts[-1].end
    rows = []
    for values in found:
        row = _row(parts, values, db)
        for name, value in zip(noted, values[start:], strict=True):
            setattr(row, name, value)
        rows.append(row)
    return rows


def _parts(model: type[Model], wanted: Mapping[str, Iterable[str] | None]) -> list[_Part]:
    models: dict[str, type[Model]] = {"": model}
    start, parts = 0, []
    for path, names in wanted.items():
        parent, _, relation = path.rpartition("__")
        if path:
            models[path] = models[parent]._meta.get_field(relation).related_model
        meta = models[path]._meta
        led_to = [p.rpartition("__")[2] for p in wanted if p and p.rpartition("__")[0] == path]
        columns = [
            one.attname
            for one in meta.concrete_fields
            if names is None or one.primary_key or one.name in (*names, *led_to)
        ]
        parts.append(_Part(models[path], path, columns, start, columns.index(meta.pk.attname)))
        start += len(columns)
    return parts


def _row(parts: list[_Part], values: tuple[Any, ...], db: str) -> Model:
    """One row; only what was not met before is made and joined to what leads to it."""
    fresh: dict[str, Model] = {}
    for part in parts:
        if part.path and part.parent_path not in fresh:
            continue
        key = values[part.start + part.pk_at]
        one = part.made.get(key) if part.path else None
        if one is None and key is not None:
            one = part.model.from_db(db, part.columns, values[part.start : part.end])
            fresh[part.path] = one
        if part.path:
            part.made[key] = one
            setattr(fresh[part.parent_path], part.relation, one)
    return fresh[""]


def keep_related(row: Any, name: str, found: Iterable[Any]) -> None:
    """Keeps what a row leads to with it, read already, as `prefetch_related` would have left them."""
    manager: Manager[Any] = getattr(row, name)
    query = manager.all()
    query._result_cache = list(found)  # type: ignore[attr-defined]
    query._prefetch_done = True  # type: ignore[attr-defined]
    if not hasattr(row, "_prefetched_objects_cache"):
        row._prefetched_objects_cache = {}
    row._prefetched_objects_cache[name] = query
