"""Rows read together with what they relate to, where each related row is made only once.

`select_related` makes a style, a size, a colourway of its own for every single row, which for hundreds of rows takes
longer than finding them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import Any

from django.db.models import Manager, Model, QuerySet

from planner.common.kept_questions import KeptQuestion


@dataclass
class _Part:
    """The rows themselves (path ""), or what a path of relations leads to; where its columns stand in what is read.

    `keep` keeps a row of it with the row of `parent_path` that leads to it.
    """

    model: type[Model]
    path: str
    columns: list[str]
    start: int
    end: int
    pk_at: int
    parent_path: str
    keep: Callable[[Model, Model | None], None] | None = None
    made: dict[Any, Model] = field(default_factory=dict)


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
    """The same with a question that is put into SQL but once; `put` words it, arguments are those of `read_shared`.

    `many` names a path of relations to several rows ("line__options") and what those lead to. It is asked for with the
    rest, so the question must be ordered by the rows first and by these last; each row has them as `many`, a list.
    """

    def __init__(
        self,
        put: Callable[[], QuerySet[Any]],
        related: Mapping[str, Iterable[str] | None],
        *,
        own: Iterable[str] | None = None,
        noted: Iterable[str] = (),
        many: tuple[str, Mapping[str, Iterable[str] | None]] | None = None,
    ) -> None:
        self._put, self._wanted, self._noted, self._wanted_many = put, {"": own, **related}, list(noted), many
        self._parts: list[_Part] = []
        self._many: list[_Part] = []
        self._db = ""
        self._question = KeptQuestion(self._values)

    def read(self, **given: Any) -> list[Any]:
        """The rows with the given values filled in, in one query."""
        values = self._question.ask(**given)
        parts = [replace(part, made={}) for part in self._parts]
        if not self._many:
            return _made(parts, self._noted, values, self._db)
        many = [replace(part, made={}) for part in self._many]
        return _made_with_many(parts, self._noted, many, values, self._db)

    def _values(self) -> QuerySet[Any]:
        query = self._put()
        self._parts, self._db = _parts(query.model, self._wanted), query.db
        names = [*_names(self._parts), *self._noted]
        if self._wanted_many is not None:
            path, related = self._wanted_many
            self._many = _parts(_model_at(query.model, path), {"": None, **related})
            names += [f"{path}__{name}" for name in _names(self._many)]
        return query.values_list(*names)


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


def _made_with_many(
    parts: list[_Part],
    noted: Sequence[str],
    many: list[_Part],
    found: Iterable[tuple[Any, ...]],
    db: str,
) -> list[Any]:
    """Rows that follow one another and are the same row are one, with what they lead to one by one."""
    at, start, many_at = parts[0].pk_at, parts[-1].end + len(noted), many[0].pk_at
    rows = []
    for _, alike in groupby(found, key=lambda values: values[at]):
        own = list(alike)
        (row,) = _made(parts, noted, [own[0][:start]], db)
        led_to = (values[start:] for values in own)
        row.many = [_met(many, values, db) for values in led_to if values[many_at] is not None]
        rows.append(row)
    return rows


def _met(many: list[_Part], values: tuple[Any, ...], db: str) -> Model:
    """One of several rows, made where it was not met before."""
    made, key = many[0].made, values[many[0].pk_at]
    return made.get(key) or made.setdefault(key, _row(many, values, db))


def _model_at(model: type[Model], path: str) -> Any:
    """What a path of relations leads to."""
    for relation in path.split("__"):
        model = model._meta.get_field(relation).related_model  # type: ignore[assignment]
    return model


def _parts(model: type[Model], wanted: Mapping[str, Iterable[str] | None]) -> list[_Part]:
    models: dict[str, type[Model]] = {"": model}
    start, parts = 0, []
    for path, names in wanted.items():
        parent, _, relation = path.rpartition("__")
        keep = None
        if path:
            led_by: Any = models[parent]._meta.get_field(relation)
            models[path], keep = led_by.related_model, led_by.set_cached_value
        meta = models[path]._meta
        led_to = [p.rpartition("__")[2] for p in wanted if p and p.rpartition("__")[0] == path]
        columns = [
            one.attname
            for one in meta.concrete_fields
            if names is None or one.primary_key or one.name in (*names, *led_to)
        ]
        end, pk_at = start + len(columns), start + columns.index(meta.pk.attname)
        parts.append(_Part(models[path], path, columns, start, end, pk_at, parent, keep))
        start = end
    return parts


def _row(parts: list[_Part], values: tuple[Any, ...], db: str) -> Model:
    """One row; only what was not met before is made and joined to what leads to it."""
    own = parts[0]
    row = own.model.from_db(db, own.columns, values[own.start : own.end])
    fresh = {"": row}
    for part in parts[1:]:
        parent = fresh.get(part.parent_path)
        if parent is None or part.keep is None:
            continue
        key = values[part.pk_at]
        one = part.made.get(key)
        if one is None and key is not None:
            one = part.made[key] = part.model.from_db(db, part.columns, values[part.start : part.end])
            fresh[part.path] = one
        part.keep(parent, one)
    return row


def keep_related(row: Any, name: str, found: Iterable[Any]) -> None:
    """Keeps what a row leads to with it, read already, as `prefetch_related` would have left them."""
    manager: Manager[Any] = getattr(row, name)
    query = manager.all()
    query._result_cache = list(found)  # type: ignore[attr-defined]
    query._prefetch_done = True  # type: ignore[attr-defined]
    if not hasattr(row, "_prefetched_objects_cache"):
        row._prefetched_objects_cache = {}
    row._prefetched_objects_cache[name] = query
