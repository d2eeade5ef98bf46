"""Small pattern files for the tests of their review, written by our own writers, and the answers they need."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import cache
from html.parser import HTMLParser
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from planner.core.pattern_files.model import Marks, Notch
from planner.core.pattern_files.to_write import PieceToWrite, StyleToWrite
from planner.core.pattern_files.write_dxf import style_as_dxf
from tests.factories import band_outline, body_outline

SIZES = ("S", "M", "L")
NOTCHED = Marks(notches=(Notch(300.0, 250.0), Notch(300.0, -250.0)), lines=(((100.0, -50.0), (100.0, 50.0)),))


def top(
    sizes: Sequence[str] = SIZES,
    *,
    longer_mm: float = 0.0,
    pieces: Sequence[str] = ("front", "back", "neck band"),
    sample_size: str = "M",
    counts: Mapping[str, int] | None = None,
) -> bytes:
    """A graded DXF in mm: front and back like `body_outline`, 15 mm longer a size, and a band.

    The front of the first size is 600 mm (and `longer_mm`) long and 500 mm wide. The same file is written once.
    """
    return _written(tuple(sizes), longer_mm, tuple(pieces), sample_size, tuple((counts or {}).items()))


@cache
def _written(
    sizes: tuple[str, ...],
    longer_mm: float,
    pieces: tuple[str, ...],
    sample_size: str,
    counts: tuple[tuple[str, int], ...],
) -> bytes:
    rows = []
    for i, size in enumerate(sizes):
        length, half = 600 + 15.0 * i + longer_mm, 250 + 12.5 * i
        shapes = {
            "front": body_outline(length, half),
            "back": body_outline(length, half, neck_drop_mm=30),
            "neck band": band_outline(420 + 10.0 * i),
            "cuff": band_outline(200 + 5.0 * i, 60),
        }
        for name in pieces:
            marks = NOTCHED if name == "front" else Marks()
            count = dict(counts).get(name)
            rows.append(PieceToWrite(name, size, shapes[name], marks, count=count, role="body"))
    return style_as_dxf(StyleToWrite("box top", tuple(rows), sample_size))


def svg(*shapes: str, size: str = 'width="1000mm" height="1000mm" viewBox="0 0 1000 1000"') -> bytes:
    """A drawing at true scale, one unit a millimetre unless told otherwise."""
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{"".join(shapes)}</svg>'.encode()


def rectangle(name: str = "pocket", width: float = 120, height: float = 140) -> str:
    """A rectangle in a group of that name."""
    return f'<g id="{name}"><rect x="10" y="10" width="{width}" height="{height}"/></g>'


def upload(content: bytes, name: str = "top.dxf") -> SimpleUploadedFile:
    """As a browser sends it."""
    return SimpleUploadedFile(name, content)


class _Inputs(HTMLParser):
    """What a browser without JavaScript would send from the form with this id."""

    def __init__(self, form_id: str) -> None:
        super().__init__()
        self.form_id = form_id
        self.inside = False
        self.select = ""
        self.data: dict[str, list[str]] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        have = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.inside = have.get("id") == self.form_id
        if not self.inside:
            return
        name, kind = have.get("name", ""), have.get("type", "text")
        if tag == "select":
            self.select = name
        elif tag == "option" and self.select and "selected" in have:
            self.data[self.select] = [have.get("value", "")]
        elif tag == "option" and self.select:
            self.data.setdefault(self.select, [have.get("value", "")])
        elif tag == "input" and name and kind not in ("submit", "file"):
            if kind in ("checkbox", "radio") and "checked" not in have:
                return
            self.data.setdefault(name, []).append(have.get("value", "on" if kind == "checkbox" else ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self.select = ""
        if tag == "form":
            self.inside = False


def filled_in(html: str, *, form_id: str = "review", **answers: Any) -> dict[str, list[str]]:
    """The review (or another form) as it stands on the page, with some answers changed; None takes a field away."""
    reader = _Inputs(form_id)
    reader.feed(html)
    data = {name: values for name, values in reader.data.items() if name != "csrfmiddlewaretoken"}
    for name, value in answers.items():
        field = re.sub(r"^(p\d+|size)_", r"\1-", name)
        if value is None:
            data.pop(field, None)
        else:
            data[field] = [str(v) for v in value] if isinstance(value, (list, tuple)) else [str(value)]
    return data
