"""How large a lay is drawn in the room it gets: its scale, and the strips of a very long one.

Lay measures are mm, paper measures are points.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from reportlab.lib.units import mm as POINTS_PER_MM  # noqa: N812

from planner.papers.data import LayPaper
from planner.papers.lay_figures import bar_width, figures_width, turned_width

#: Room round the cloth for its dimensions.
ROOM_LEFT, ROOM_RIGHT, ROOM_TOP, ROOM_BOTTOM = 24.0, 6.0, 13.0, 64.0
#: The same of a lay that is turned on its paper, its length upwards.
TURNED_LEFT, TURNED_RIGHT, TURNED_TOP, TURNED_BOTTOM = 14.0, 12.0, 6.0, 64.0
#: Between two strips of one lay, for the figures at their ends.
STRIP_GAP = 22.0
MOST_STRIPS = 8
#: No drawing is larger than this: a small lay need not fill the paper.
LEAST_SCALE = 3
#: The figures beneath a very short lay need this much, those beneath strips this.
LEAST_DRAWN_WIDTH, LEAST_WITH_STRIPS = 210.0, 335.0
#: More strips, or a lay turned, must draw it so much larger.
WORTH_IT = 1.25


def spread_length_mm(lay: LayPaper) -> float:
    """Length of one ply: the marker and both end allowances."""
    return lay.marker_length_mm + 2 * lay.end_allowance_mm


@dataclass(frozen=True)
class LayFit:
    """How a lay stands in the room it got: 1 : `scale`, and the size of the whole drawing in points.

    A lay much longer than wide is drawn in `strips` one under the other, like a text in lines; one much shorter may be
    `turned`, its length upwards.
    """

    scale: int
    width: float
    height: float
    strips: int = 1
    turned: bool = False

    def points(self, length_mm: float) -> float:
        """A length of the lay in points on the paper."""
        return length_mm / self.scale * POINTS_PER_MM

    def strip_mm(self, lay: LayPaper) -> float:
        """Length of cloth in one strip."""
        return spread_length_mm(lay) / self.strips

    def drawn_width(self, lay: LayPaper) -> float:
        """Width that is really used: the cloth with its dimension, or the figures beneath it where they are longer."""
        least = LEAST_WITH_STRIPS if self.strips > 1 else LEAST_DRAWN_WIDTH
        if self.turned:
            wide = self.points(lay.lay_width_mm)
            reach = max(turned_width(lay), bar_width(self.scale, wide))
            return TURNED_LEFT + max(wide + TURNED_RIGHT, reach)
        cloth = self.points(self.strip_mm(lay))
        reach = figures_width(lay, self.scale, self.strips, cloth)
        return max(ROOM_LEFT + max(cloth + ROOM_RIGHT, reach), least)


def fit_lay(lay: LayPaper, width: float, height: float) -> LayFit:
    """The largest whole scale (1 : n) at which the lay and its dimensions fit into width × height points.

    More strips are taken only where they draw a good deal larger (by a quarter for each); so is a lay shorter than
    wide turned.
    """
    best = _fit_strips(lay, width, height, 1)
    for strips in range(2, MOST_STRIPS + 1):
        found = _fit_strips(lay, width, height, strips)
        if found.scale * WORTH_IT < best.scale:
            best = found
    if spread_length_mm(lay) < lay.lay_width_mm:
        turned = _fit_turned(lay, width, height)
        if turned.scale * WORTH_IT < best.scale and turned.drawn_width(lay) <= width:
            best = turned
    return best


def _fit_turned(lay: LayPaper, width: float, height: float) -> LayFit:
    room_x = max(width - TURNED_LEFT - TURNED_RIGHT, 20) / POINTS_PER_MM
    room_y = max(height - TURNED_TOP - TURNED_BOTTOM, 20) / POINTS_PER_MM
    need = max(lay.lay_width_mm / room_x, spread_length_mm(lay) / room_y)
    scale = max(LEAST_SCALE, math.ceil(need - 1e-9))
    drawn = spread_length_mm(lay) / scale * POINTS_PER_MM
    return LayFit(scale, width, drawn + TURNED_TOP + TURNED_BOTTOM, turned=True)


def _fit_strips(lay: LayPaper, width: float, height: float, strips: int) -> LayFit:
    room_x = max(width - ROOM_LEFT - ROOM_RIGHT, 20) / POINTS_PER_MM
    gaps = (strips - 1) * STRIP_GAP
    room_y = max(height - ROOM_TOP - ROOM_BOTTOM - gaps, 20) / POINTS_PER_MM
    need = max(spread_length_mm(lay) / strips / room_x, lay.lay_width_mm * strips / room_y)
    scale = max(LEAST_SCALE, math.ceil(need - 1e-9))
    drawn = lay.lay_width_mm * strips / scale * POINTS_PER_MM
    return LayFit(scale, width, drawn + gaps + ROOM_TOP + ROOM_BOTTOM, strips)
