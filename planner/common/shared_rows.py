"""Rows read with what they relate to, each related row made once however many lead to it.

`select_related` makes a style, a size, a colourway of its own for every single row, which for hundreds of rows takes
longer than finding them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Model, QuerySet


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
    parts = _parts(query.model, {"": own, **related})
    names = [f"{part.path}__{name}" if part.path else name for part in parts for name in part.columns]
    annotations = list(noted)
    found = []
    for values in query.values_list(*names, *annotations):
        row = _row(parts, values, query.db)
        for name, value in zip(annotations, values[len(names) :], strict=True):
            setattr(row, name, value)
        found.append(row)
    return found


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
