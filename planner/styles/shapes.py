"""Stored shapes as outlines, each read and measured once however often it is asked for."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from django.db.models import TextField
from django.db.models.functions import Cast

from planner.core.outline import Outline, outline_from_json
from planner.core.pattern_files.model import Marks, marks_from_json

#: A few of the styles that are being worked on; at some 20 kB an outline this stays a small part of the memory.
OUTLINES_KEPT = 512


def outline_of(shape: Mapping[str, Any]) -> Outline:
    """The outline that is stored, with whatever was measured on an equal one that was read before.

    Outlines never change, and an estimate asks for the same ones at every key that is typed; their sewing lines
    are what takes it longest.
    """
    return _measured_once(outline_from_json(shape))


def as_text(column: str) -> Cast:
    """The column of a stored shape for :func:`outline_of_text`, left unread by the database."""
    return Cast(column, TextField())


@lru_cache(maxsize=OUTLINES_KEPT)
def outline_of_text(text: str) -> Outline:
    """The outline of a shape as it is stored, letter for letter: one met before need not even be read again."""
    return outline_of(json.loads(text))


@lru_cache(maxsize=OUTLINES_KEPT)
def marks_of_text(text: str) -> Marks:
    """What is drawn within a shape, as it is stored."""
    return marks_from_json(json.loads(text))


@lru_cache(maxsize=OUTLINES_KEPT)
def _measured_once(outline: Outline) -> Outline:
    return outline
