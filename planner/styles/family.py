"""A style and the base it is built on: whose parts it has, and which of its own take a base part's place.

A style built on a base has all of the base's parts and its own besides. One of its own takes the place of its
namesake in the base: a detail or cloth role of the same name, a piece, seam or operation of the same name for the
same option. Parts of an option that the style does not offer are left out. Colourways are each style's own.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterable, Sequence
from typing import Any

from django.db import models

from planner.core.listed import listed
from planner.core.spec import Option as OptionKey
from planner.styles.models import ClothRole, Colourway, Detail, Operation, Option, Style

#: Parts that are told apart by their name alone; others by name and option.
_BY_NAME_ALONE = (ClothRole, Detail, Colourway)


def option_key(option: Option | None) -> OptionKey | None:
    """(detail, option) of an option whose detail is read already."""
    return None if option is None else (option.detail.name, option.name)


def parts_of(style: Style, model: type[models.Model]) -> models.QuerySet:
    """The parts of this kind that a style has, those of its base among them, without what its own replace."""
    rows = _of_family([style], model)
    return model._default_manager.filter(pk__in=[row.pk for row in merged(style, rows, offered_by(style))])


def options_of(style: Style) -> list[Option]:
    """The options a style offers, in order, with their details. One query."""
    rows = Option.objects.filter(detail__style__in=style.family).select_related("detail")
    rows = rows.order_by("detail__position", "detail__pk", "position", "pk")
    own = {option.detail.name for option in rows if option.detail.style_id == style.pk}
    return [o for o in rows if o.detail.style_id == style.pk or o.detail.name not in own]


def offered_by(style: Style) -> set[OptionKey]:
    """The options a style offers by name. One query."""
    return {(option.detail.name, option.name) for option in options_of(style)}


def merged(style: Style, rows: Iterable[Any], offered: Container[OptionKey]) -> list[Any]:
    """Parts of a style out of rows of its family (base first), in order; each own one in the place it takes.

    Steps of sewing stand in their order; other parts as in the base, then the style's own. No query where the
    rows came with option and detail.
    """
    own: dict[Any, Any] = {}
    base: list[Any] = []
    for row in rows:
        if row.style_id == style.pk:
            own[_key(row)] = row
        elif row.style_id == style.base_id:
            base.append(row)
    kept = [own.pop(_key(row), row) for row in base]
    found = [row for row in (*kept, *own.values()) if _is_offered(row, offered)]
    if found and isinstance(found[0], Operation):
        found.sort(key=lambda row: row.position)
    for row in found:
        row.style = style if row.style_id == style.pk else style.base
    return found


def _key(row: Any) -> Any:
    if isinstance(row, _BY_NAME_ALONE):
        return row.name
    if hasattr(row, "name"):
        return row.name, option_key(row.option)
    return row.pk  # uses of notions have no name and stand beside each other


def _is_offered(row: Any, offered: Container[OptionKey]) -> bool:
    return getattr(row, "option_id", None) is None or option_key(row.option) in offered


def operations_of(styles: Iterable[Style]) -> dict[int, list[Operation]]:
    """The steps of sewing each style has, by its key, base steps among them. Two queries for any number."""
    every = list(styles)
    offered: dict[int, set[OptionKey]] = {}
    families = {pk for style in every for pk in style.family}
    options = list(Option.objects.filter(detail__style__in=families).select_related("detail"))
    for style in every:
        own = {o.detail.name for o in options if o.detail.style_id == style.pk}
        offered[style.pk] = {
            (o.detail.name, o.name)
            for o in options
            if o.detail.style_id == style.pk
            or (o.detail.style_id == style.base_id and o.detail.name not in own)
        }
    rows: dict[int, list[Operation]] = defaultdict(list)
    for row in Operation.objects.filter(style__in=families).select_related("option__detail", "own_machine"):
        rows[row.style_id].append(row)
    return {
        style.pk: merged(style, [row for pk in style.family for row in rows[pk]], offered[style.pk])
        for style in every
    }


def _of_family(styles: Sequence[Style], model: type[models.Model]) -> list[Any]:
    families = {pk for style in styles for pk in style.family}
    rows = model._default_manager.filter(style__in=families)
    if any(field.name == "option" for field in model._meta.get_fields()):
        rows = rows.select_related("option__detail")
    return list(rows)


def sharing(part: models.Model) -> list[Style]:
    """The styles that have a part besides its own style: those built on it which do not replace it, by number."""
    built = list(Style.objects.filter(base=part.style_id).order_by("number"))  # type: ignore[attr-defined]
    if not built:
        return []
    model = type(part)
    namesakes = _of_family(built, model) if hasattr(part, "name") else []
    replaced = {row.style_id for row in namesakes if _key(row) == _key(part)} - {part.style_id}  # type: ignore[attr-defined]
    return [style for style in built if style.pk not in replaced]


def numbers_of(styles: Iterable[Style]) -> str:
    """111, 112 and 113."""
    return listed([style.number for style in styles])
