"""A piece's page as tests of outlines ask it, and what is stored of the piece."""

import re

from django.urls import reverse

from planner.core.outline import Outline, outline_from_json
from planner.styles.models import Piece

HTMX = {"HX-Request": "true"}
TRIANGLE = "0, 0, hem\n40, 0, side\n0, 30, fold"


def address(piece: Piece, name: str = "outline-edit") -> str:
    return reverse(name, args=[piece.style.number, piece.pk])


def sizes_of(piece: Piece) -> dict[str, int]:
    return {size.name: size.pk for size in piece.style.size_range.sizes.all()}


def stored(piece: Piece) -> dict[str, tuple[float, float]]:
    """Length and width by size."""
    rows = piece.outlines.select_related("size")
    shapes = {row.size.name: outline_from_json(row.shape) for row in rows}
    return {size: (shape.length_mm, shape.width_mm) for size, shape in shapes.items()}


def shapes(piece: Piece) -> dict[str, Outline]:
    """The stored outlines by size."""
    return {row.size.name: outline_from_json(row.shape) for row in piece.outlines.select_related("size")}


def text_of(response) -> str:
    return response.content.decode()


def cell(page: str, name: str) -> str:
    """The cell of a table in which the field with this name stands."""
    found = re.search(rf'<td[^>]*>(?:(?!</td>).)*name="{re.escape(name)}".*?</td>', page, re.DOTALL)
    assert found is not None, name
    return found[0]


def points(text: str = TRIANGLE, **changes):
    return {"how": "points", "size": ["M"], "unit": "cm", "points": text, **changes}
