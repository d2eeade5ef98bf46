"""Pieces that lie side by side, and jobs and arrangements of them."""

from dataclasses import replace

from planner.core.lays.check import placed
from planner.core.lays.model import ItemToLay, MarkerJob, MatchPoint
from planner.core.outline import make_outline, rectangle

#: A front with hollows for the arms and the neck, 700 mm long and 500 mm wide, and a shorter back.
FRONT = make_outline(
    [
        (0, 0), (450, 0), (520, 60), (690, 40), (700, 160), (620, 250), (700, 340), (690, 460), (520, 440), (450, 500),
        (0, 500),
    ]
)  # fmt: skip
BACK = make_outline([(0, 20), (430, 20), (500, 70), (680, 50), (690, 430), (500, 430), (430, 480), (0, 480)])
SLEEVE = make_outline([(0, 60), (420, 0), (500, 80), (540, 200), (500, 320), (420, 400), (0, 340)])


def item(outline, piece="front", no=1, **changes):
    return replace(ItemToLay("T1", piece, "M", no, False, True, outline), **changes)


def box(piece, no=1, length=500, width=250, beside="body", **changes):
    return item(rectangle(length, width), piece, no, beside=beside, **changes)


def block_job(*items, width=1000.0, gap=10.0, **changes):
    return replace(MarkerJob(width, False, gap, items), **changes)


def laid(job, *spots):
    return [placed(i, turn, x, y) for i, (x, y, turn) in zip(job.items, spots, strict=True)]


def striped(outline, piece, no=1, x=0.0, y=0.0, name="side", **changes):
    return item(outline, piece, no, matches=(MatchPoint(name, x, y),), **changes)
