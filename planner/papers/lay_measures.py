"""Lines with a measure on them, and the bar of the scale: what a drawn lay and its edges are measured by."""

from __future__ import annotations

from reportlab.pdfgen.canvas import Canvas

from planner.papers.lay_figures import BESIDE_GAP, FIGURE_SIZE, SCALE_GAP, SCALE_SIZE, ScaleBar, is_beside
from planner.papers.marks import INK, WHITE
from planner.papers.piece_labels import LEAST
from planner.papers.typefaces import CAP_HEIGHT, draw_text, fitting_size, width_of


def dimension_line(
    canvas: Canvas,
    x1: float,
    x2: float,
    y: float,
    text: str,
    *,
    beside: float = 0.0,
    size: float = FIGURE_SIZE,
) -> None:
    """A line with slanted ticks at its ends; the figure in its middle, or beside it when it is short (points)."""
    canvas.setStrokeColor(INK)
    canvas.setFillColor(INK)
    canvas.setLineWidth(0.5)
    canvas.line(x1, y, x2, y)
    canvas.setLineWidth(1)
    for at in (x1, x2):
        canvas.line(at - 2.2, y - 2.2, at + 2.2, y + 2.2)
    width = width_of(text, size, bold=True)
    base = y - size * CAP_HEIGHT / 2
    if is_beside(text, x2 - x1, size):
        draw_text(canvas, max(x2, beside) + BESIDE_GAP, base, text, size, bold=True)
        return
    middle = (x1 + x2) / 2
    canvas.setFillColor(WHITE)
    canvas.rect(middle - width / 2 - 3, y - size / 2, width + 6, size, stroke=0, fill=1)
    canvas.setFillColor(INK)
    draw_text(canvas, middle, base, text, size, bold=True, align="centre")


def width_line(canvas: Canvas, wide: float, word: str, figure: str) -> None:
    """From 0 to `wide` points, with the word before the figure where there is room; nothing where not even the figure
    has any.
    """
    is_short = width_of(f"{word} {figure}", 8, bold=True) > wide - 16
    text = figure if is_short else f"{word} {figure}"
    size = fitting_size(text, 8, LEAST, wide - 14, bold=True)
    if width_of(text, size, bold=True) <= wide - 13.9:
        dimension_line(canvas, 0, wide, 0, text, size=size)


def draw_scale_bar(canvas: Canvas, x: float, y: float, bar: ScaleBar) -> None:
    """A bar in black and white steps with its lower left corner at x, y, and the scale in figures."""
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.6)
    for index in range(bar.steps):
        canvas.setFillColor(INK if index % 2 == 0 else WHITE)
        canvas.rect(x + index * bar.step, y, bar.step, 4, stroke=1, fill=1)
    canvas.setFillColor(INK)
    draw_text(canvas, x, y + 6.5, "0", 7)
    draw_text(canvas, x + bar.long, y + 6.5, bar.end, 7, align="centre")
    draw_text(canvas, x + bar.long + SCALE_GAP, y - 1, bar.scale, SCALE_SIZE, bold=True)
