"""SVG written by hand, whose right answer is known from geometry, held against the reader.

Sources: SVG 2 (shapes, paths, view boxes); CSS Values and Units (96 px = 1 in).
Areas within 0.1 %, lengths within 0.1 mm.
"""

from __future__ import annotations

import math

import pytest

from planner.core.pattern_files.model import PatternFileError
from planner.core.pattern_files.read import read_pattern
from tests.outside.pattern_checks import (
    FRONT_AREA,
    FRONT_EDGES,
    assert_piece,
    only,
    report,
    said,
)

POLYGON = '<polygon id="FRONT" points="0,0 600,0 600,170 450,320 0,320"/>'
MILLIMETRES = 'width="700mm" height="400mm" viewBox="0 0 700 400"'


def svg(inner: str, page: str = MILLIMETRES) -> bytes:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {page}>{inner}</svg>'.encode()


@pytest.mark.parametrize(
    ("page", "mm"),
    [
        (MILLIMETRES, 1.0),
        ('width="70cm" height="40cm" viewBox="0 0 700 400"', 1.0),
        ('width="7in" height="4in" viewBox="0 0 700 400"', 0.254),
        ('width="700pt" height="400pt" viewBox="0 0 700 400"', 25.4 / 72),
        ('width="700px" height="400px"', 25.4 / 96),
        ('width="700" height="400"', 25.4 / 96),
        ('viewBox="0 0 700 400"', 25.4 / 96),
        # preserveAspectRatio is "xMidYMid meet" where it is not said: the smaller scale counts.
        ('width="1400mm" height="400mm" viewBox="0 0 700 400"', 1.0),
    ],
)
def test_scale_of_a_page(page: str, mm: float) -> None:
    found = only(svg(POLYGON, page), name="facts.svg")
    # On a sheet y points down, so round the piece the sides come in the other order; nothing is mirrored.
    assert_piece(found, area=FRONT_AREA * mm * mm, edges=[mm * edge for edge in FRONT_EDGES[::-1]])


@pytest.mark.parametrize("page", ['width="0mm" height="0mm" viewBox="0 0 700 400"', 'viewBox="0 0 700 400"'])
def test_a_page_without_a_size_is_pointed_out(page: str) -> None:
    # SVG 2: without width and height, or at 0, a view box alone gives no scale.
    assert "how large its units are" in said(report(svg(POLYGON, page), name="facts.svg"))


@pytest.mark.parametrize(
    ("shape", "area"),
    [
        ('<path id="A" d="M0 0 H400 A100 100 0 0 1 400 200 H0 Z"/>', 80_000 + math.pi * 100**2 / 2),
        ('<path id="A" d="m0 0h400a100 100 0 010 200h-400z"/>', 80_000 + math.pi * 100**2 / 2),
        # A parabola's segment is two thirds of base times height; its height is half that of the control point.
        ('<path id="A" d="M0 200 V0 Q200 -150 400 0 V200z"/>', 80_000 + 2 / 3 * 400 * 75),
        # Two halves of an S cancel out.
        ('<path id="A" d="m0,0 c50,-80 150,-80 200,0 s150,80 200,0 v200 h-400 z"/>', 80_000),
        ('<path id="A" d="M.5.5l4e2-0+0,2.e2-400 0z"/>', 80_000),
        ('<rect id="A" width="300" height="100" rx="20"/>', 30_000 - 20**2 * (4 - math.pi)),
        ('<ellipse id="A" cx="400" cy="200" rx="100" ry="40"/>', math.pi * 100 * 40),
        (
            f'<g transform="translate(10 20) scale(2)"><g transform="rotate(30) skewX(20)">{POLYGON}</g></g>',
            4 * FRONT_AREA,
        ),
        (f'<defs>{POLYGON}</defs><use href="#FRONT" transform="scale(.5)"/>', FRONT_AREA / 4),
        (f'<svg x="10" width="350" height="200" viewBox="0 0 700 400">{POLYGON}</svg>', FRONT_AREA / 4),
        (f'{POLYGON}<g style="display:none"><rect id="H" x="620" width="50" height="50"/></g>', FRONT_AREA),
        # A hole is drawn in the piece, it is no piece.
        ('<path id="A" d="M0 0H600V170L450 320H0z M100 100h50v50h-50z"/>', FRONT_AREA),
    ],
)
def test_shapes_keep_their_area(shape: str, area: float) -> None:
    assert_piece(only(svg(shape), name="facts.svg"), area=area)


def test_lines_of_a_group_join_and_its_grain_and_fold_are_used() -> None:
    # Plane geometry: FRONT and its mirror image across y = 0. What is called grain and fold is our own word.
    lines = (
        '<g id="FRONT"><line x1="0" y1="0" x2="600" y2="0"/><path d="M600 170V0"/>'
        '<polyline points="600,170 450,320"/><path d="M0 320H450"/><line x1="0" y1="0" x2="0" y2="320"/>'
        '<path id="grain" d="M100 100H400"/><path id="fold" d="M0 0H600"/></g>'
    )
    found = only(svg(lines), name="facts.svg")
    assert (found["name"], found["unfolded"]) == ("FRONT", True)
    assert_piece(found, area=2 * FRONT_AREA, along=600, across=640)


@pytest.mark.parametrize(
    ("inner", "why"),
    [
        (f'<g style="transform: scale(2)">{POLYGON}</g>', "its style moves or stretches it"),
        (
            '<polyline id="SLEEVE" points="0,0 600,0 600,170 450,320 0,320 0,50"/>',
            "SLEEVE: .*open by 50.0 mm",
        ),
        ('<polygon id="A" points="0,0 400,0 nan,300 0,300"/>', "damaged"),
    ],
)
def test_drawings_that_would_come_out_wrong_are_refused(inner: str, why: str) -> None:
    # CSS Transforms: a transform in a style moves what is drawn; an open or damaged outline has no area (geometry).
    with pytest.raises(PatternFileError, match=rf"facts\.svg: .*{why}"):
        read_pattern(svg(inner), name="facts.svg")
