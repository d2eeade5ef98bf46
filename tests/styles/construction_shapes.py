"""The pieces of the invented top of `constructions.py`, in straight lines, x along the grain.

Each is given by its seam lines and drawn with the seam allowance round them, so that every seam has a length to be
checked by hand. In size i (S, M, L: 0, 1, 2), finished, in mm:

    body width      w = 480 + 20 i      neckline, front or back  n = 240 + 10 i    shoulder  (w − n) / 2 = 120 + 5 i
    body length     d = 600 + 15 i      armhole, front or back   a = 180 + 10 i    side       d − a      = 420 + 5 i

The neckline is a straight boat neck, the shoulders lie in one line with it. Slanted edges run 3 : 4 or 5 : 12.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.core.outline import Edge, Outline, make_outline
from planner.core.pattern_files.model import Marks, Notch

#: Seam allowance and hem of every piece unless it says otherwise (mm).
SA, HEM = 7, 20
#: How deep a yoke is at its armhole, how long a tie hangs, how deep the folded tie is (mm, finished).
YOKE, TIE, TIE_WIDTH = 120, 550, 30


@dataclass(frozen=True)
class Measures:
    """The finished measures of one size, see above."""

    i: int

    @property
    def w(self) -> int:
        return 480 + 20 * self.i

    @property
    def d(self) -> int:
        return 600 + 15 * self.i

    @property
    def n(self) -> int:
        return 240 + 10 * self.i

    @property
    def a(self) -> int:
        return 180 + 10 * self.i

    @property
    def s(self) -> int:
        return (self.w - self.n) // 2


def ring(*stops: tuple[str, float, float]) -> Outline:
    """An outline by the points where its edges begin."""
    return make_outline(
        [(x, y) for _, x, y in stops], [Edge(name, i) for i, (name, _, _) in enumerate(stops)]
    )


def body(m: Measures) -> Outline:
    """A whole front or back."""
    top, side = m.d + SA, m.d - m.a
    return ring(
        ("hem", -HEM, -SA), ("side", -HEM, m.w + SA), ("armhole", side, m.w + SA), ("shoulder", top, m.w + SA),
        ("neckline", top, m.w - m.s), ("shoulder", top, m.s), ("armhole", top, -SA), ("side", side, -SA),
    )  # fmt: skip


def below_yoke(m: Measures, fullness: float = 1.0) -> Outline:
    """What hangs from a yoke, `fullness` times as wide."""
    top, side, w = m.d - YOKE + SA, m.d - m.a, fullness * m.w
    return ring(
        ("hem", -HEM, -SA), ("side", -HEM, w + SA), ("armhole", side, w + SA), ("yoke edge", top, w + SA),
        ("armhole", top, -SA), ("side", side, -SA),
    )  # fmt: skip


def yoke(m: Measures) -> Outline:
    return ring(
        ("yoke edge", -SA, -SA), ("armhole", -SA, m.w + SA), ("shoulder", YOKE + SA, m.w + SA),
        ("neckline", YOKE + SA, m.w - m.s), ("shoulder", YOKE + SA, m.s), ("armhole", YOKE + SA, -SA),
    )  # fmt: skip


def half_front(m: Measures) -> Outline:
    """Half a front with 10 mm at the centre front, enough to press open."""
    top, side, centre = m.d + SA, m.d - m.a, m.w / 2 + 10
    return ring(
        ("hem", -HEM, -SA), ("centre front", -HEM, centre), ("neckline", top, centre), ("shoulder", top, m.s),
        ("armhole", top, -SA), ("side", side, -SA),
    )  # fmt: skip


def twist_front(m: Measures) -> Outline:
    """Half a front that reaches over the middle, 5 across for every 12 along: n/2 wide at the neck.

    Seam line of the slanted edge: 5 x + 12 y = 12 × hem width; the cut line lies 7 further out, + 13 × 7.
    """
    top, side, hem_width = m.d + SA, m.d - m.a, m.w / 2 + 5 * m.d / 12

    def slanted(x: float) -> float:
        return (12 * hem_width + 13 * SA - 5 * x) / 12

    return ring(
        ("hem", -HEM, -SA), ("twist edge", -HEM, slanted(-HEM)), ("neckline", top, slanted(top)),
        ("shoulder", top, m.s), ("armhole", top, -SA), ("side", side, -SA),
    )  # fmt: skip


def sleeve(m: Measures, fullness: float = 1.0, hem: float = HEM) -> Outline:
    """A short sleeve: head `fullness` × 2 a, 120 long, each underarm 5 in for 12 along and so 130 long.

    Seam line of an underarm: 12 y − 5 x = 12 × half the head; the cut line lies 7 further out, + 13 × 7.
    """
    half = fullness * m.a

    def underarm(x: float) -> float:
        return (12 * half + 13 * SA + 5 * x) / 12

    low = -120 - hem
    return ring(
        ("head", SA, -underarm(SA)), ("underarm", SA, underarm(SA)),
        ("hem", low, underarm(low)), ("underarm", low, -underarm(low)),
    )  # fmt: skip


def pleats(m: Measures) -> Marks:
    """Two pleats in a sleeve head, a quarter of its armhole together: each two lines a/4 apart, 40 long."""
    at = [side * y for side in (-1, 1) for y in (20, 20 + m.a / 4)]
    return Marks(lines=tuple(((SA, y), (SA - 40, y)) for y in at))


def gathers(m: Measures) -> Marks:
    """Notches 60 from either side seam, between which the yoke edge is gathered."""
    top = m.d - YOKE + SA
    return Marks(notches=(Notch(top, 60), Notch(top, 1.5 * m.w - 60)))


def strip(length: float, width: float, edge: str, other: str) -> Outline:
    """A strip lying across the grain, to be joined into a ring: finished `length`, cut width `width`."""
    end = length + SA
    return ring(("end", 0, -SA), (other, width, -SA), ("end", width, end), (edge, 0, end))


def facing(m: Measures) -> Outline:
    """50 deep, nothing added at the outer edge."""
    return ring(
        ("outer edge", -50, -SA), ("end", -50, m.n + SA), ("neckline", SA, m.n + SA), ("end", SA, -SA)
    )  # fmt: skip


def flat_collar(m: Measures) -> Outline:
    """Half a collar: neck edge n, 60 deep, ends 3 : 4 and so 75 long, outer edge n + 90.

    The allowance reaches 7 × 1/2 past the blunt corners at the neck, 7 × 2 past the sharp ones.
    """
    return ring(
        ("neck edge", SA, -3.5), ("end", SA, m.n + 3.5),
        ("outer edge", -60 - SA, m.n + 45 + 14), ("end", -60 - SA, -45 - 14),
    )  # fmt: skip


def tie_collar(m: Measures) -> Outline:
    """One strip along the grain: tie, the whole neck, tie; folded lengthwise."""
    neck, end, fold, far = TIE + 2 * m.n, 2 * TIE + 2 * m.n + SA, TIE_WIDTH, 2 * TIE_WIDTH + SA
    return ring(
        ("tie", -SA, -SA), ("neckline", TIE, -SA), ("tie", neck, -SA), ("tie end", end, -SA),
        ("under tie end", end, fold), ("under tie", end, far), ("under neckline", neck, far),
        ("under tie", TIE, far), ("under tie end", -SA, far), ("tie end", -SA, fold),
    )  # fmt: skip


def across(outline: Outline) -> Outline:
    """The same piece lying across the cloth."""
    return make_outline([(-y, x) for x, y in outline.points], outline.edges)


def pocket(m: Measures) -> Outline:
    """100 wide and 120 deep in every size, 20 to turn in at the opening."""
    return ring(
        ("bottom", -SA, -SA), ("side", -SA, 100 + SA), ("opening", 120 + 20, 100 + SA), ("side", 120 + 20, -SA)
    )  # fmt: skip
