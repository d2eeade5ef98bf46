"""The drafts of the demo's styles, each drawn once a process: two of the styles take a second in all sizes."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from fixtures.drafting.bodies import BODIES
from fixtures.drafting.lines import Draft
from fixtures.drafting.rows import StyleRows
from fixtures.drafting.styles import STYLES
from planner.core.outline import Outline

_BY_NUMBER = {style.number: style for style in STYLES}


def drafts_of(style: StyleRows, size: str) -> Mapping[str, Draft]:
    """The pieces of a demo style in one size, by their names."""
    return _drafted(style.number, size)


def cut_of(style: StyleRows, size: str) -> Mapping[str, Outline]:
    """The cut lines of these pieces."""
    return _cut(style.number, size)


@cache
def _drafted(number: str, size: str) -> Mapping[str, Draft]:
    return MappingProxyType(_BY_NUMBER[number].draft(BODIES[size]))


@cache
def _cut(number: str, size: str) -> Mapping[str, Outline]:
    return MappingProxyType({name: draft.cut() for name, draft in _drafted(number, size).items()})
