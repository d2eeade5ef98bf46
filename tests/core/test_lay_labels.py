"""Words on the pieces of a lay at true scale are as large as they fit, and stay within their piece."""

from __future__ import annotations

import pytest
from shapely.geometry import box

from planner.core.lays.model import Placement
from planner.core.outline import rectangle
from planner.core.pattern_files.lay_labels import LETTER, words_on
from planner.core.pattern_files.to_write import LayToWrite, grain_line, placed_pieces
from planner.core.pattern_files.write_svg import lay_as_svg
from tests.core.test_write_svg import NS, groups

NOTE = "style 130, garment a, bundles B-0007-01, 02, mirrored"


@pytest.mark.parametrize(
    ("long", "wide", "name", "least"),
    [
        (700.0, 480.0, "1 back M", 25.0),
        (44.0, 524.0, "12 self neck band XXL", 15.0),
        (30.0, 200.0, "20 back neck tape XXL", 9.0),
        (400.0, 30.0, "3 tie", 7.0),
    ],
)
def test_names_are_read_from_the_cloth_and_stay_in_their_piece(
    long: float, wide: float, name: str, least: float
) -> None:
    outline = rectangle(long, wide)
    words = words_on(outline, grain_line(outline), name, NOTE)
    told = " ".join(one.text for one in words)
    assert told == f"{name} {NOTE}"
    for one in words:
        half = LETTER * one.size_mm * len(one.text) / 2
        x, y = one.at
        room = (
            (x - one.size_mm, y - half, x, y + half)
            if one.is_upright
            else (x - half, y, x + half, y + one.size_mm)
        )
        assert outline.polygon.buffer(1e-6).contains(box(*room)), one
        assert one.size_mm >= (least if one.text in name else 3.0)
    assert max(one.size_mm for one in words) <= 25.0


def test_of_a_piece_that_two_garments_share_the_upper_ply_is_told_first() -> None:
    shared = Placement("130", "back", "M", 1, False, 0, ((0, 0), (700, 0), (700, 480), (0, 480)), twin_no=2)
    (piece,) = placed_pieces(LayToWrite("lay", 700.0, 600.0, (shared,)))
    assert piece.note == "style 130, garments a over b"


def test_words_of_a_strip_across_the_cloth_are_turned() -> None:
    strip = Placement("130", "band", "M", 1, False, 0, ((0, 0), (44, 0), (44, 524), (0, 524)))
    (group,) = groups(lay_as_svg(LayToWrite("lay", 100.0, 600.0, (strip,)))).values()
    texts = [element for element in group if element.tag == f"{NS}text"]
    assert texts[0].text == "1 band M"
    assert float(texts[0].get("font-size", "")) >= 20
    assert all((text.get("transform") or "").startswith("rotate(-90 ") for text in texts)
