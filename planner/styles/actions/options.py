"""Options of a style, found by their names or made."""

from __future__ import annotations

from planner.styles.actions.parts import next_position
from planner.styles.family import options_of
from planner.styles.models import Detail, Option, Style


def option_called(style: Style, detail: str, name: str) -> Option:
    """The option of these names, however they are written, that the style offers; made where there is none.

    A new option goes behind those of its detail, a new detail behind the others.
    """
    for option in options_of(style):
        if (option.detail.name.lower(), option.name.lower()) == (detail.lower(), name.lower()):
            return option
    row = style.details.filter(name__iexact=detail).first()
    if row is None:
        row = Detail.objects.create(style=style, name=detail, position=next_position(style.details.all()))
    return Option.objects.create(detail=row, name=name, position=next_position(row.options.all()))
