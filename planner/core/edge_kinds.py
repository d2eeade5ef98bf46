"""How each edge that a garment has lies in its piece: habits of the trade.

All of it is common practice, without a published source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

Range = tuple[float, float]

#: A centre is drawn with a ruler; a side that looks straight is a little longer than its chord.
STRAIGHT: Range = (0.0, 0.00002)


@dataclass(frozen=True, slots=True)
class Look:
    """How an edge lies in its piece.

    `height` of its middle from 0 (lower end) to 1, `low` and `high` of its lowest and highest point; `out` from 0
    at the centre to 1 at the side; `along` from 0 (runs across the grain) to 1 (runs along it); `bulge` the height of
    its arc over its chord, negative where it is hollow; `share` of the length of all edges; `bend` how much
    longer it is than its chord, as a share.
    """

    height: float
    low: float
    high: float
    out: float
    along: float
    bulge: float
    share: float
    bend: float


@dataclass(frozen=True, slots=True)
class Kind:
    """An edge as a kind of piece has it: where it lies (ranges of :class:`Look`) and what says so."""

    name: str
    reason: str
    height: Range = (0.0, 1.0)
    low: Range = (0.0, 1.0)
    high: Range = (0.0, 1.0)
    out: Range = (0.0, 1.0)
    along: Range = (0.0, 1.0)
    bulge: Range = (-9.0, 9.0)
    share: Range = (0.0, 1.0)
    bend: Range = (0.0, 9.0)

    def misfit(self, look: Look) -> float:
        """From 0 to 1: how far the look is from the ranges, the worst respect counting most."""
        off = [
            min(1.0, 2.5 * _outside(look.height, self.height)),
            min(1.0, 2.5 * _outside(look.low, self.low)),
            min(1.0, 2.5 * _outside(look.high, self.high)),
            min(1.0, 1.5 * _outside(look.out, self.out)),
            min(1.0, 1.5 * _outside(look.along, self.along)),
            min(1.0, 4.0 * _outside(look.bulge, self.bulge)),
            min(1.0, 5.0 * _outside(look.share, self.share)),
            min(1.0, 300.0 * _outside(look.bend, self.bend)),
        ]
        return 0.6 * max(off) + 0.4 * min(1.0, sum(off))


def _outside(value: float, within: Range) -> float:
    return max(within[0] - value, value - within[1], 0.0)


HEM = Kind(
    "hem", "runs across the grain at the lower end", (0.0, 0.15), along=(0.0, 0.35), bulge=(-0.15, 0.25)
)
SIDE = Kind(
    "side",
    "runs up from the hem on the outside",
    (0.1, 0.75),
    low=(0.0, 0.2),
    out=(0.6, 1.0),
    along=(0.7, 1.0),
    bulge=(-0.15, 0.15),
)
ARMHOLE = Kind(
    "armhole",
    "hollow, between side and shoulder",
    (0.4, 0.95),
    high=(0.6, 1.0),
    out=(0.4, 1.0),
    along=(0.35, 1.0),
    bulge=(-0.6, 0.0),
)
SHOULDER = Kind(
    "shoulder",
    "short and straight, sloping up to the neckline",
    (0.75, 1.0),
    high=(0.9, 1.0),
    out=(0.25, 0.9),
    along=(0.0, 0.6),
    bulge=(-0.08, 0.08),
    share=(0.0, 0.2),
)
NECKLINE = Kind(
    "neckline",
    "hollow, in the middle of the upper end",
    (0.6, 1.0),
    high=(0.9, 1.0),
    out=(0.0, 0.5),
    bulge=(-1.5, -0.01),
)
CENTRE = Kind(
    "centre", "straight along the grain in the middle", out=(0.0, 0.15), along=(0.9, 1.0), bend=STRAIGHT
)
#: A boxy top has no armhole: its side runs up to the shoulder.
BOXY_SIDE = replace(
    SIDE, reason="runs along the grain from hem to shoulder", height=(0.3, 0.65), high=(0.85, 1.0)
)
BOXY_SHOULDER = replace(
    SHOULDER,
    reason="straight across the upper end, beside the neckline",
    height=(0.85, 1.0),
    along=(0.0, 0.45),
    share=(0.0, 0.22),
)
#: A front cut in one with its sleeve reaches out further at the sleeve's hem than at the side.
ONE_PIECE_SIDE = replace(SIDE, reason="runs up from the hem to the sleeve", out=(0.3, 0.8))
ONE_PIECE_UNDERARM = Kind(
    "underarm",
    "runs out from the side to the end of the sleeve",
    (0.25, 0.9),
    out=(0.45, 0.97),
    along=(0.0, 0.75),
    bulge=(-0.4, 0.1),
)
ONE_PIECE_SLEEVE_HEM = Kind(
    "sleeve hem",
    "the outermost end, along the grain",
    (0.4, 0.98),
    out=(0.92, 1.0),
    along=(0.6, 1.0),
    bulge=(-0.08, 0.08),
    share=(0.0, 0.25),
)
ONE_PIECE_SHOULDER = replace(
    SHOULDER,
    reason="from the neckline out to the end of the sleeve",
    height=(0.6, 1.0),
    out=(0.3, 0.85),
    bulge=(-0.12, 0.12),
    share=(0.08, 0.4),
)
CURVED_SIDE = Kind(
    "side",
    "hollow, from the hem out to the end of the sleeve",
    (0.2, 0.8),
    low=(0.0, 0.15),
    out=(0.3, 0.9),
    along=(0.4, 1.0),
    bulge=(-0.6, -0.05),
    share=(0.12, 0.5),
)
UPPER_YOKE_EDGE = Kind(
    "yoke edge",
    "runs across the grain at the upper end",
    (0.85, 1.0),
    along=(0.0, 0.35),
    bulge=(-0.15, 0.15),
    share=(0.1, 1.0),
)
YOKE_EDGE = Kind(
    "yoke edge",
    "runs across the grain at the lower end",
    (0.0, 0.2),
    along=(0.0, 0.35),
    bulge=(-0.15, 0.2),
    share=(0.15, 1.0),
)
YOKE_ARMHOLE = Kind(
    "armhole",
    "runs up at the outside",
    (0.2, 0.75),
    low=(0.0, 0.3),
    out=(0.6, 1.0),
    along=(0.6, 1.0),
    bulge=(-0.4, 0.05),
)
YOKE_SHOULDER = Kind(
    "shoulder",
    "straight, sloping up to the neckline",
    (0.6, 1.0),
    high=(0.9, 1.0),
    out=(0.3, 0.95),
    along=(0.0, 0.6),
    bulge=(-0.08, 0.08),
)
YOKE_NECKLINE = Kind(
    "neckline",
    "hollow, in the middle of the upper end",
    (0.4, 1.0),
    high=(0.9, 1.0),
    out=(0.0, 0.5),
    bulge=(-1.5, -0.01),
)
WAIST = Kind(
    "waist",
    "runs across the grain at the upper end",
    (0.85, 1.0),
    high=(0.9, 1.0),
    along=(0.0, 0.4),
    bulge=(-0.4, 0.15),
    share=(0.05, 0.45),
)
LONG_SIDE = Kind(
    "side",
    "runs along the grain from hem to waist",
    (0.35, 0.65),
    low=(0.0, 0.15),
    high=(0.85, 1.0),
    out=(0.6, 1.0),
    along=(0.75, 1.0),
    bulge=(-0.15, 0.15),
)
INSEAM = Kind(
    "inseam",
    "runs along the grain from the hem to the crotch",
    (0.2, 0.5),
    low=(0.0, 0.1),
    high=(0.5, 0.9),
    along=(0.8, 1.0),
    bulge=(-0.15, 0.1),
)
CROTCH = Kind(
    "crotch",
    "hollow, from the inseam up to the waist",
    (0.6, 0.98),
    low=(0.4, 0.9),
    high=(0.9, 1.0),
    along=(0.5, 1.0),
    bulge=(-0.6, -0.02),
)
SLEEVE_HEAD = Kind(
    "sleeve head",
    "the rounded upper end",
    (0.5, 1.0),
    high=(0.95, 1.0),
    out=(0.0, 0.4),
    along=(0.0, 0.3),
    bulge=(0.04, 1.0),
    share=(0.15, 0.7),
)
UNDERARM = Kind(
    "underarm",
    "runs along the grain at the outside",
    (0.1, 0.6),
    low=(0.0, 0.1),
    high=(0.25, 0.95),
    out=(0.5, 1.0),
    along=(0.6, 1.0),
    bulge=(-0.2, 0.2),
)
SLEEVE_HEM = Kind(
    "sleeve hem", "runs across the grain at the lower end", (0.0, 0.15), along=(0.0, 0.3), bulge=(-0.15, 0.2)
)
OUTER_EDGE = Kind("outer edge", "rounded, away from the body", (0.0, 0.7), out=(0.0, 0.6), bulge=(0.02, 1.5))
FACING_SHOULDER = Kind(
    "shoulder",
    "short, between neckline and outer edge",
    (0.6, 1.0),
    high=(0.85, 1.0),
    out=(0.4, 1.0),
    bulge=(-0.06, 0.06),
    share=(0.0, 0.25),
)
FACING_CENTRE = Kind(
    "centre",
    "short and straight at the lower end",
    (0.0, 0.5),
    low=(0.0, 0.1),
    out=(0.0, 0.15),
    along=(0.9, 1.0),
    bend=STRAIGHT,
    share=(0.0, 0.3),
)
FACING_ARMHOLE = Kind(
    "armhole", "the hollow long edge", (0.2, 0.8), along=(0.4, 1.0), bulge=(-0.6, -0.02), share=(0.25, 0.6)
)
FACING_OUTER = Kind(
    "outer edge", "the rounded long edge", (0.2, 0.8), along=(0.4, 1.0), bulge=(0.02, 0.9), share=(0.25, 0.6)
)
FACING_TOP = Kind(
    "shoulder",
    "the end that runs across the grain",
    (0.7, 1.0),
    along=(0.0, 0.65),
    bulge=(-0.1, 0.1),
    share=(0.0, 0.25),
)
FACING_SIDE = Kind(
    "side",
    "the end that runs along the grain",
    (0.0, 0.3),
    along=(0.65, 1.0),
    bulge=(-0.1, 0.1),
    share=(0.0, 0.25),
)
COLLAR_NECK = Kind("neckline", "the hollow long edge", bulge=(-1.5, 0.02), share=(0.25, 0.6))
COLLAR_OUTER = Kind("outer edge", "the long edge away from the neck", bulge=(-0.1, 1.5), share=(0.25, 0.7))
COLLAR_END = Kind("end", "a short edge", bulge=(-0.2, 0.3), share=(0.0, 0.25))
POCKET_OPENING = Kind(
    "opening", "straight across the upper end", (0.95, 1.0), along=(0.0, 0.2), bulge=(-0.05, 0.05)
)
POCKET_EDGE = Kind("pocket edge", "sewn down round the pocket", (0.0, 0.9))
