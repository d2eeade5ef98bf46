"""One garment on cloth of four widths, against the fabric width conversion chart of the US Cooperative
Extension Service (printed by Rutgers University): yards needed for the same pattern."""

import pytest
from shapely.geometry import Polygon

from planner.core.lays.model import ItemToLay, MarkerJob
from planner.core.lays.nest import nest
from planner.core.outline import make_outline, rectangle

#: Cloth widths of the chart in inches: the middle of 35–36, 44–45, 52–54 and 58–60.
WIDTHS_IN = (35.5, 44.5, 53.0, 59.0)

#: Rows of the chart in yards, for those widths.
CHART_YD = [
    (2, 1 + 5 / 8, 1 + 3 / 8, 1 + 1 / 4),
    (2.5, 2 + 1 / 8, 1 + 3 / 4, 1 + 5 / 8),
    (3.75, 2 + 7 / 8, 2 + 3 / 8, 2 + 1 / 4),
    (5, 3 + 7 / 8, 3 + 1 / 8, 2 + 7 / 8),
]


def a_woven_dress():
    """An invented A-line dress with sleeves, facings and patch pockets; the back is cut in two halves."""
    front = make_outline(
        [
            *((0, 0), (0, 680), (620, 590), (760, 600), (890, 500), (960, 450), (880, 400)),
            *((850, 340), (880, 280), (960, 230), (890, 180), (760, 80), (620, 90)),
        ]
    )
    back = make_outline([(0, 0), (930, 0), (960, 110), (890, 160), (760, 255), (620, 250), (0, 345)])
    sleeve = make_outline([(0, 40), (430, 0), (520, 90), (570, 190), (520, 290), (430, 380), (0, 340)])
    facing = make_outline([(0, 0), (60, 0), (110, 120), (60, 240), (0, 240), (45, 120)])
    return [
        ("front", False, front),
        ("back", False, back),
        ("back", True, back.mirrored()),
        ("sleeve", False, sleeve),
        ("sleeve", True, sleeve.mirrored()),
        ("facing", False, facing),
        ("facing", True, facing.mirrored()),
        ("pocket", False, rectangle(190, 160)),
        ("pocket", True, rectangle(190, 160)),
        ("cuff", False, rectangle(110, 290)),
        ("cuff", True, rectangle(110, 290)),
    ]


def job(width_mm):
    items = tuple(ItemToLay("D1", name, "M", 1, mirrored, True, o) for name, mirrored, o in a_woven_dress())
    return MarkerJob(width_mm, False, 2.0, items)


@pytest.mark.slow
def test_lengths_fall_with_the_width_as_in_the_chart():
    """The chart is approximate and says so; checked is its kind: the order, and the ratio to the length on
    44–45 in within ±20 % of every row's (1 in = 25.4 mm, NIST SP 811)."""
    lengths = []
    for width_in in WIDTHS_IN:
        question = job(width_in * 25.4)
        marker = nest(question, seconds=1, seed=1, workers=1)
        area = sum(Polygon(p.outline).area for p in marker.placements)
        # Lower bound of the length of any lay: area / usable width.
        assert marker.length_mm >= area / question.lay_width_mm
        lengths.append(marker.length_mm)
    assert lengths == sorted(lengths, reverse=True)
    assert len(set(lengths)) == len(lengths)
    ours = [length / lengths[1] for length in lengths]
    for row in CHART_YD:
        theirs = [yards / row[1] for yards in row]
        for our, their in zip(ours, theirs, strict=True):
            assert our == pytest.approx(their, rel=0.20), (row, ours)
