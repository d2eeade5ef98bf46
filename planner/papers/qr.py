"""A QR drawn as a few filled rectangles: the code is reckoned by reportlab's encoder, the drawing is ours."""

from __future__ import annotations

from functools import lru_cache

from reportlab.graphics.barcode.qrencoder import QRCode, QRErrorCorrectLevel
from reportlab.pdfgen.canvas import Canvas

from planner.papers.marks import INK

#: Empty border round the code in modules, as ISO/IEC 18004 asks for.
QUIET_MODULES = 4
#: Any of the eight masks makes a valid code; trying all of them takes seven times as long for a look only.
MASK = 0


@lru_cache(maxsize=256)
def dark_runs(text: str) -> tuple[int, tuple[tuple[int, int, int], ...]]:
    """Modules a side, and the dark stretches of each row: (row from the top, first column, length)."""
    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(text)
    code.version = code.calculate_version()
    code.makeImpl(False, MASK)
    stretches: list[tuple[int, int, int]] = []
    for row, modules in enumerate(code.modules):
        start = None
        for column, dark in enumerate([*modules, False]):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                stretches.append((row, start, column - start))
                start = None
    return len(code.modules), tuple(stretches)


def quiet_border(text: str, side: float) -> float:
    """Width of the empty border a code of this side needs, in the unit of the side."""
    return side * QUIET_MODULES / _modules_a_side(text)


@lru_cache(maxsize=4096)
def _modules_a_side(text: str) -> int:
    """4 × version + 17, as ISO/IEC 18004 builds them; known without reckoning the code."""
    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(text)
    return 4 * int(code.calculate_version()) + 17


def draw_qr(canvas: Canvas, text: str, x: float, y: float, side: float) -> None:
    """Draw the code in a square, lower left corner at x, y. The caller leaves the quiet border free.

    One module is one unit after the transformation, so the page holds small whole numbers only.
    """
    count, stretches = dark_runs(text)
    module = side / count
    marks = " ".join(f"{column} {count - 1 - row} {length} 1 re" for row, column, length in stretches)
    canvas.saveState()
    canvas.setFillColor(INK)
    canvas.transform(module, 0, 0, module, x, y)
    canvas.addLiteral(f"{marks} f")
    canvas.restoreState()
