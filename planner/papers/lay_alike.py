"""Lays that look alike on a paper: drawn once, and placed wherever they stand.

Many lays of a large batch share one marker, and drawing it takes longer than all that is written beside it. So a
drawing that comes again is kept in the PDF as a form.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable
from dataclasses import replace

from reportlab.pdfgen.canvas import Canvas

from planner.papers.data import LayPaper
from planner.papers.lay_drawing import draw_lay
from planner.papers.lay_fit import LayFit

#: What a drawing may reach beyond its upper left corner (points).
EDGE = 72.0


class LayDrawings:
    """The drawings of the lays of one paper; a lay that looks like no other is drawn directly."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas
        self._looks: dict[Hashable, int] = {}
        self._look_of: dict[int, tuple[LayPaper, int]] = {}
        self._seen: Counter[int] = Counter()
        self._forms: dict[Hashable, str] = {}

    def expect(self, lays: Iterable[LayPaper]) -> None:
        """Tells which lays will be drawn, so that it is known which of them look alike."""
        self._seen.update(self.look(lay) for lay in lays)

    def look(self, lay: LayPaper) -> int:
        """The same number for lays that look alike; all that is seen of a lay is gone through once."""
        known = self._look_of.get(id(lay))
        if known is not None:
            return known[1]
        look = self._looks.setdefault(_seen_of(lay), len(self._looks))
        self._look_of[id(lay)] = (lay, look)  # As long as it is held here no other lay has its id.
        return look

    def draw(self, lay: LayPaper, fit: LayFit, x: float, top: float, *, imperial: bool) -> None:
        """Draws a lay as :func:`draw_lay` does."""
        seen = self.look(lay)
        if self._seen[seen] < 2:
            draw_lay(self._canvas, lay, fit, x, top, imperial=imperial)
            return
        key = (seen, fit.scale, fit.strips, fit.turned, imperial)
        if key not in self._forms:
            self._forms[key] = self._form(lay, fit, imperial=imperial)
        self._canvas.saveState()
        self._canvas.translate(x, top)
        self._canvas.doForm(self._forms[key])
        self._canvas.restoreState()

    def _form(self, lay: LayPaper, fit: LayFit, *, imperial: bool) -> str:
        name, long = f"lay{len(self._forms) + 1}", max(self._canvas._pagesize)
        self._canvas.beginForm(name, -EDGE, -long, long, EDGE)
        draw_lay(self._canvas, lay, fit, 0, 0, imperial=imperial)
        self._canvas.endForm()
        return name


def _seen_of(lay: LayPaper) -> Hashable:
    """All that is seen of a lay in its drawing, whatever its plies and bundles."""
    pieces = tuple(replace(piece, bundles=()) for piece in lay.pieces)
    return (
        *(lay.mode, lay.is_tube, lay.one_way, lay.lay_width_mm, lay.marker_length_mm, lay.end_allowance_mm),
        pieces,
    )
