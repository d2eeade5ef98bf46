"""Pattern files brought in, looked through and taken over, as somebody does it on the pages."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.outline import outline_from_json
from planner.styles.models import Piece, Style
from tests.styles import pattern_files as files


def text_of(response) -> str:
    return response.content.decode()


def bring(client: Client, style: Style | None, *uploads, **told):
    """The answer to files chosen in the form."""
    if style is None:
        address, data = reverse("style-from-file"), {"number": "200", "name": "box top", **told}
    else:
        address, data = reverse("files-hold", args=[style.number]), told
    return client.post(address, {**data, "files": list(uploads)})


def review(client: Client, style: Style | None, content: bytes, name: str = "top.dxf", **told) -> str:
    """Brings a file in; the address of its review."""
    answer = bring(client, style, files.upload(content, name), **told)
    assert answer.status_code == 302
    return answer["Location"]


def page_of(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return text_of(answer)


def take(client: Client, address: str, **answers):
    """Answers the review as it stands on the page, with some answers changed, and takes it over."""
    return client.post(address, files.filled_in(page_of(client, address), **answers), follow=True)


def stored(piece: Piece) -> dict[str, tuple[float, float]]:
    rows = piece.outlines.select_related("size")
    shapes = {row.size.name: outline_from_json(row.shape) for row in rows}
    return {
        size: (pytest.approx(s.length_mm, abs=0.01), pytest.approx(s.width_mm, abs=0.01))
        for size, s in shapes.items()
    }
