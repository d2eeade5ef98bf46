"""Pages: their sizes, and a foot on each that knows how many there are."""

from __future__ import annotations

import io
from collections.abc import Callable

from reportlab import rl_config
from reportlab.lib.pagesizes import A4, LETTER, landscape
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from planner.papers.data import NOT_NOTED, Heading, PaperSize
from planner.papers.marks import INK, cut_line
from planner.papers.typefaces import draw_text, fitting_size

#: Pages are stored as bytes: as letters, reportlab's other way, a file is a quarter larger and takes longer.
rl_config.useA85 = 0

PAGE_SIZES: dict[str, tuple[float, float]] = {"A4": A4, "Letter": LETTER, "label": (100 * mm, 150 * mm)}
MARGIN = 13 * mm
FOOT = 12 * mm
#: Draws the foot of one page: canvas, page number from 1, number of pages.
Foot = Callable[[Canvas, int, int], None]


def page_size(size: PaperSize, *, wide: bool = False) -> tuple[float, float]:
    """Width and height in points; an unknown name is a mistake of the caller."""
    if size not in PAGE_SIZES:
        raise ValueError(f"Paper is A4, Letter or label, not {size!r}.")
    found = PAGE_SIZES[size]
    return landscape(found) if wide else found


class PagedCanvas(Canvas):
    """A canvas that holds its pages back until their number is known, then draws each foot.

    The same data give the same bytes: no clock is read.
    """

    def __init__(
        self, target: io.BytesIO, size: tuple[float, float], foot: Foot, title: str, author: str
    ) -> None:
        super().__init__(target, pagesize=size, pageCompression=1, invariant=1, lang="en-GB")
        self.setTitle(title)
        self.setViewerPreference("DisplayDocTitle", "true")
        self.setAuthor(author)
        self._held: list[dict[str, object]] = []
        self._foot = foot

    def showPage(self) -> None:  # noqa: N802 - reportlab's name
        self._held.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        held, foot = self._held, self._foot
        for number, state in enumerate(held, start=1):
            self.__dict__.update(state)
            foot(self, number, len(held))
            super().showPage()
        super().save()


def mark_in_words(mark: str, *, is_noted: bool = True) -> str:
    """ "mark K7R", "mark K7R, not noted as printed"; "" for a paper without a mark."""
    return f"mark {mark}{'' if is_noted else f', {NOT_NOTED}'}" if mark else ""


def standard_foot(heading: Heading, kind: str) -> Foot:
    """Batch, paper and its mark at the left, the dates in the middle, page x of y at the right."""
    left = " · ".join(filter(None, (heading.batch, kind, mark_in_words(heading.mark))))
    dates = " · ".join(
        part
        for part in (
            f"printed {heading.printed_on}" if heading.printed_on else "",
            f"due {heading.due_on}" if heading.due_on else "",
        )
        if part
    )

    def draw(canvas: Canvas, number: int, of: int) -> None:
        width = canvas._pagesize[0]
        edge = MARGIN
        page = f"page {number} of {of}"
        third = (width - 2 * edge) / 3
        canvas.setFillColor(INK)
        cut_line(canvas, edge, FOOT, width - edge, FOOT, weight=0.5)
        base = FOOT - 11
        draw_text(canvas, edge, base, left, fitting_size(left, 8, 3, third - 4))
        draw_text(canvas, width / 2, base, dates, fitting_size(dates, 8, 3, third), align="centre")
        draw_text(canvas, width - edge, base, page, 8, bold=True, align="right")

    return draw
