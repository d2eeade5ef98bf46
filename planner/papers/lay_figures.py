"""What is written beneath a drawn lay: its lengths, the scale bar, and how wide on the paper they stand.

Lay measures are mm, paper measures are points. Layouts ask for the width before anything is drawn, so that no column
is set over a figure; what is drawn asks here for the same words.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from functools import cache
from typing import NamedTuple

from reportlab.lib.units import mm as POINTS_PER_MM  # noqa: N812

from planner.core.units import parse_length_mm, sixteenths_of_inch
from planner.papers import amounts
from planner.papers.data import LayPaper
from planner.papers.figures import nearest, up
from planner.papers.typefaces import width_of

#: Letters of a length beneath the lay, and what is kept free at both sides of it inside its line.
FIGURE_SIZE, FIGURE_MARGIN = 8.0, 14.0
#: From the cloth to a length that finds no room inside its line.
BESIDE_GAP = 7.0
#: Letters of the lengths beneath strips, of the figures at the ends of each, and of the edges' names.
STRIPS_SIZE, STRIP_END_SIZE = 8.5, 7.0
#: From the scale bar to the scale in figures, and its letters.
SCALE_GAP, SCALE_SIZE = 16.0, 9.0
#: A scale bar with its scale may be this wide, however short the lay is.
LEAST_BAR_ROOM = 180.0
#: Steps of a scale bar: how long each is, how many, and what stands at its end; the longest that finds room is taken.
_METRIC = (("25 cm", 4, "1 m"), ("25 cm", 2, "50 cm"), ("25 cm", 1, "25 cm"), ("10 cm", 1, "10 cm"))
_IMPERIAL = (("10 in", 4, "40 in"), ("10 in", 2, "20 in"), ("10 in", 1, "10 in"), ("4 in", 1, "4 in"))


class ScaleBar(NamedTuple):
    """So many steps of this width, with words at the end of the bar and the scale beside it."""

    step: float
    steps: int
    end: str
    scale: str

    @property
    def long(self) -> float:
        """Of the bar alone."""
        return self.step * self.steps

    @property
    def width(self) -> float:
        """With the scale beside it."""
        return self.long + SCALE_GAP + width_of(self.scale, SCALE_SIZE, bold=True)


def scale_bar(scale: int, cloth: float, *, imperial: bool) -> ScaleBar:
    """The longest bar that with its scale is no wider than the cloth as it is drawn; the shortest where none is."""
    bars = []
    for word, steps, end in _IMPERIAL if imperial else _METRIC:
        step = _step_mm(word) / scale * POINTS_PER_MM
        bars.append(ScaleBar(step, steps, end.replace(" ", amounts.THIN), f"scale 1 : {scale}"))
    room = max(cloth, LEAST_BAR_ROOM)
    return next((bar for bar in bars if bar.width <= room), bars[-1])


@cache
def _step_mm(word: str) -> float:
    """How long a step of a scale bar is; to read it takes longer than all else about the bar, and every layout that is
    tried asks for it.
    """
    return float(parse_length_mm(word))


def marker_words(lay: LayPaper, *, imperial: bool) -> str:
    """ "marker 99.5 cm"."""
    return f"marker {amounts.lay_length(lay.marker_length_mm, imperial=imperial)}"


def spread_words(lay: LayPaper, *, imperial: bool) -> str:
    """ "length to spread 1.04 m", as it is told everywhere."""
    spread_mm = lay.marker_length_mm + 2 * lay.end_allowance_mm
    return f"length to spread {amounts.spread_length(spread_mm, imperial=imperial)}"


def strips_words(lay: LayPaper, strips: int, *, imperial: bool) -> str:
    """The whole lengths, under the last of several strips."""
    lengths = f"{marker_words(lay, imperial=imperial)} · {spread_words(lay, imperial=imperial)}"
    return f"{lengths} · drawn in {strips} strips"


def turned_words(lay: LayPaper, *, imperial: bool) -> str:
    """The whole lengths, under a lay that is drawn with its length upwards."""
    lengths = f"{marker_words(lay, imperial=imperial)} · {spread_words(lay, imperial=imperial)}"
    return f"{lengths} · the cloth runs up the page"


def turned_width(lay: LayPaper) -> float:
    """How wide they are, in whichever units they are told."""
    words = (turned_words(lay, imperial=imperial) for imperial in (False, True))
    return max(width_of(text, STRIPS_SIZE, bold=True) for text in words)


def is_beside(text: str, line: float, size: float = FIGURE_SIZE) -> bool:
    """Whether a length stands beside its line, which is too short for it."""
    return width_of(text, size, bold=True) + FIGURE_MARGIN > line + 0.01


def bar_width(scale: int, cloth: float) -> float:
    """How wide the scale bar is with its scale, in whichever units; `cloth` is how long the cloth over it is drawn."""
    return max(scale_bar(scale, cloth, imperial=imperial).width for imperial in (False, True))


def figures_width(lay: LayPaper, scale: int, strips: int, cloth: float) -> float:
    """How far from the left edge of the cloth the figures beneath it reach, in whichever units they are told.

    `cloth` is how long the cloth of one strip is drawn.
    """
    return max(_figures_width(lay, scale, strips, cloth, imperial=imperial) for imperial in (False, True))


def _figures_width(lay: LayPaper, scale: int, strips: int, cloth: float, *, imperial: bool) -> float:
    reach = [cloth, scale_bar(scale, cloth, imperial=imperial).width]
    if strips > 1:
        reach.append(width_of(strips_words(lay, strips, imperial=imperial), STRIPS_SIZE, bold=True))
        return max(reach)
    end = lay.end_allowance_mm / scale * POINTS_PER_MM
    for text, line in (
        (marker_words(lay, imperial=imperial), cloth - 2 * end),
        (spread_words(lay, imperial=imperial), cloth),
    ):
        if is_beside(text, line):
            reach.append(cloth + BESIDE_GAP + width_of(text, FIGURE_SIZE, bold=True))
    return max(reach)


def length_words(lay: LayPaper, *, imperial: bool) -> str:
    """ "marker 1.04 m + 2 × 2 cm ends = 1.08 m". Sixteenths of an inch, each rounded by itself, may lead to another sum
    than the length to spread, which is told alike everywhere: then it is said that this is rounded once. What is the
    same length in other digits (0.35 m, 35 cm) is not told twice.
    """
    marker_mm, end_mm = lay.marker_length_mm, lay.end_allowance_mm
    spread_mm = marker_mm + 2 * end_mm
    told, exact = (
        told_as(spread_mm, imperial=imperial) for told_as in (amounts.spread_length, amounts.lay_length)
    )
    words = f"{marker_words(lay, imperial=imperial)} + 2 × {amounts.length(end_mm, imperial=imperial)} ends"
    if imperial and _sixteenths(marker_mm, up) + 2 * _sixteenths(end_mm, nearest) != _sixteenths(
        spread_mm, up
    ):
        return f"{words}, together rounded up {told}"
    is_same = exact == told or parse_length_mm(exact) == parse_length_mm(told)
    return f"{words} = {told}" if is_same else f"{words} = {exact}, rounded up {told}"


def _sixteenths(mm: float, rounded: Callable[[Decimal, int], Decimal]) -> Decimal:
    """A length as it is told in inches."""
    return rounded(sixteenths_of_inch(mm), 0)
