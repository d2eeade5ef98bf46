"""Walking the seams of the constructions: all fit as they are drawn, and what does not is named with its figures.

The measures stand in `construction_shapes.py`.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from planner.core.spec import StyleSpec
from planner.core.walk import walk_seams
from planner.styles.models import PieceOutline, Seam, Style
from planner.styles.specs import style_specs
from tests.core.makers import sentences
from tests.styles.constructions import make_swap_top

pytestmark = pytest.mark.django_db


@pytest.fixture
def style(db: None) -> Style:
    return make_swap_top()


def spec_of(style: Style) -> StyleSpec:
    return style_specs([style])[style.number]


def misfits(style: Style) -> dict[str, tuple[float, ...]]:
    """By how much the second side is too long in S, M and L, for each seam that does not fit."""
    found: dict[str, set[tuple[float, ...]]] = {}
    for walk in walk_seams(spec_of(style)):
        assert not walk.unmeasured
        if not walk.ok:
            found.setdefault(walk.seam, set()).add(tuple(round(size.off_mm, 2) for size in walk.sizes))
    assert all(len(ways) == 1 for ways in found.values()), "whatever else is chosen, it is off by the same"
    return {seam: ways.pop() for seam, ways in found.items()}


def test_every_seam_fits_in_every_size_whatever_is_chosen(style):
    walks = walk_seams(spec_of(style))
    assert sentences(walks) == []
    for walk in walks:
        for size in walk.sizes:
            assert size.on_seam_lines
            assert abs(size.off_mm) < 0.001, (walk.seam, walk.options, size)


def test_fullness_is_the_length_before_over_the_length_after(style):
    walks = {walk.seam: walk for walk in walk_seams(spec_of(style))}
    sides = {
        # 1.5 × 480, 500, 520 into the yoke
        "front yoke": ((480, 720), (500, 750), (520, 780)),
        # 1.5 and 1.25 times armholes of 2 × 180, 190, 200
        "gathered armhole": ((360, 540), (380, 570), (400, 600)),
        "pleated armhole": ((360, 450), (380, 475), (400, 500)),
        # sleeve hems of 540 − 2 × 50, 570 − 100, 600 − 100 into cuffs half as long
        "cuff": ((220, 440), (235, 470), (250, 500)),
        # bands of 0.85, 0.75 and 0.9 times openings of 2 × 240, 250, 260
        "self band": ((480, 408), (500, 425), (520, 442)),
        "rib band": ((480, 360), (500, 375), (520, 390)),
        "bound neck": ((480, 432), (500, 450), (520, 468)),
        # the whole neckline between the ties; two halves of a flat collar
        "tie collar": ((480, 480), (500, 500), (520, 520)),
        "collar": ((480, 480), (500, 500), (520, 520)),
    }
    for seam, lengths in sides.items():
        found = [length for size in walks[seam].sizes for length in (size.side1_mm, size.side2_mm)]
        # Outlines are stored to 0.001 mm.
        assert found == pytest.approx([length for size in lengths for length in size], abs=0.01), seam
    how = {seam: walks[seam].fullness for seam in ("front yoke", "pleated armhole", "rib band", "collar")}
    assert how == {
        "front yoke": "gathered",
        "pleated armhole": "pleated",
        "rib band": "stretched",
        "collar": "",
    }


@pytest.mark.parametrize(
    ("seam", "ratio", "off_mm"),
    [
        # 720 − 1.3 × 480, 750 − 1.3 × 500, 780 − 1.3 × 520
        ("front yoke", "1.3", (96, 100, 104)),
        # 540 − 1.6 × 360, 570 − 1.6 × 380, 600 − 1.6 × 400
        ("gathered armhole", "1.6", (-36, -38, -40)),
        # 450 − 360, 475 − 380, 500 − 400
        ("pleated armhole", "1", (90, 95, 100)),
        # 440 − 1.8 × 220, 470 − 1.8 × 235, 500 − 1.8 × 250
        ("cuff", "1.8", (44, 47, 50)),
        # 480 × (0.75 − 0.85), 500 × −0.1, 520 × −0.1
        ("rib band", "0.85", (-48, -50, -52)),
    ],
)
def test_a_ratio_that_does_not_fit_is_named_with_its_figures(style, seam, ratio, off_mm):
    Seam.objects.filter(style=style, name=seam).update(ratio=Decimal(ratio))
    assert misfits(style) == {seam: off_mm}
    said = sentences(walk_seams(spec_of(style)))
    assert said
    assert all(one.startswith(f"{seam} ") for one in said)


def test_a_sleeve_that_was_drawn_for_another_armhole_is_named(style):
    """In M the back's armhole was redrawn 40 shorter, where the sleeve was not."""
    row = PieceOutline.objects.get(piece__name="back", piece__style=style, size__name="M")
    # Armhole and side meet at 615 − 190 = 425; moved up by 40 the side takes what the armhole loses.
    row.shape["points"] = [[x + 40 if x == 425 else x, y] for x, y in row.shape["points"]]
    row.save()
    assert misfits(style) == {
        "armhole": (0, 40, 0),  # 380 − (190 + 150)
        "gathered armhole": (0, 60, 0),  # 570 − 1.5 × 340
        "pleated armhole": (0, 50, 0),  # 475 − 1.25 × 340
        "side": (0, 40, 0),  # 465 − 425
    }
    assert any(
        "head is 40 mm longer than the armhole in M" in said for said in sentences(walk_seams(spec_of(style)))
    )
