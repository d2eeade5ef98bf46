"""Pattern marks drawn on a canvas: the ornament and the grammar of every paper.

Solid line = sew, dashed line = cut, arrow = grain, short bar = notch. All in ink, so that a paper reads the
same from any printer. Measures are points.
"""

from __future__ import annotations

import math

from reportlab.lib.colors import Color, HexColor
from reportlab.pdfgen.canvas import Canvas

INK = Color(0.09, 0.08, 0.08)
SOFT = Color(0.36, 0.34, 0.33)
HAIR = Color(0.62, 0.60, 0.58)
CLOTH = Color(0.935, 0.93, 0.92)
WHITE = Color(1, 1, 1)

CUT_DASH = (4.2, 2.4)
#: The other half of a pair, turned over: so it says on the drawing and in its key.
MIRRORED, MIRRORED_SIGN = "mirrored", "↔"


def cut_line(canvas: Canvas, x1: float, y1: float, x2: float, y2: float, *, weight: float = 0.7) -> None:
    """A dashed line: cut here."""
    canvas.saveState()
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(weight)
    canvas.setDash(*CUT_DASH)
    canvas.line(x1, y1, x2, y2)
    canvas.restoreState()


def rule(canvas: Canvas, x1: float, y1: float, x2: float, y2: float, *, weight: float = 0.4) -> None:
    """A thin solid line between rows."""
    canvas.setStrokeColor(HAIR if weight < 0.6 else INK)
    canvas.setLineWidth(weight)
    canvas.line(x1, y1, x2, y2)


def notch(canvas: Canvas, x: float, y: float, *, height: float = 9, weight: float = 2.6) -> None:
    """A short upright bar standing on y."""
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(weight)
    canvas.line(x, y, x, y + height)


def check_box(canvas: Canvas, x: float, y: float, side: float = 9) -> None:
    """An empty square for a pencil tick, lower left corner at x, y."""
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.8)
    canvas.rect(x, y, side, side, stroke=1, fill=0)


def swatch(canvas: Canvas, colour: str, x: float, y: float, side: float) -> None:
    """A square in a colour (#rrggbb) within a line; its name stands beside it and carries the meaning."""
    canvas.saveState()
    canvas.setFillColor(HexColor(colour))
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.5)
    canvas.rect(x, y, side, side, stroke=1, fill=1)
    canvas.restoreState()


def notched_panel(canvas: Canvas, x: float, y: float, width: float, height: float) -> None:
    """A panel like a piece of pattern paper: a solid line with its four corners cut off."""
    cut = 6.0
    path = canvas.beginPath()
    path.moveTo(x + cut, y)
    for px, py in (
        (x + width - cut, y),
        (x + width, y + cut),
        (x + width, y + height - cut),
        (x + width - cut, y + height),
        (x + cut, y + height),
        (x, y + height - cut),
        (x, y + cut),
    ):
        path.lineTo(px, py)
    path.close()
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.9)
    canvas.drawPath(path, stroke=1, fill=0)


def arrow_head(canvas: Canvas, x: float, y: float, angle: float, *, length: float = 4.5) -> None:
    """A filled head with its tip at x, y, pointing along `angle` (radians)."""
    path = canvas.beginPath()
    path.moveTo(x, y)
    for turn in (math.pi - 0.36, math.pi + 0.36):
        path.lineTo(x + length * math.cos(angle + turn), y + length * math.sin(angle + turn))
    path.close()
    canvas.setFillColor(INK)
    canvas.drawPath(path, stroke=0, fill=1)


def pencil_line(canvas: Canvas, x1: float, y: float, x2: float) -> None:
    """A thin line to write on."""
    canvas.setStrokeColor(SOFT)
    canvas.setLineWidth(0.5)
    canvas.line(x1, y, x2, y)
