"""Where a bundle ticket stands on its page, and its head: number, size and quantity, style, and the QR."""

from __future__ import annotations

from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from planner.papers.blocks import Block, draw_stack, stack_height
from planner.papers.data import BundleTicket
from planner.papers.marks import INK
from planner.papers.qr import draw_qr, quiet_border
from planner.papers.ticket_steps import Letters
from planner.papers.typefaces import LEADING, draw_lines, draw_text, fitted, fitting_size, width_of, wrap

#: Side of the QR without its empty border; at least 20 mm is asked for.
QR_SIDE = 22 * mm
#: Between the head of a wide ticket and the facts beside it.
GUTTER = 16.0


@dataclass(frozen=True)
class Slot:
    """Where a ticket stands on its page: left and top edge, width and height, inside its padding.

    `letters` are the ways its words may be set, the most readable first.
    """

    x: float
    top: float
    width: float
    height: float
    letters: tuple[Letters, ...]
    #: Height kept for the caution and the mark.
    foot: float = 14.0

    @property
    def is_wide(self) -> bool:
        """Wide enough for the facts to stand beside the head."""
        return self.letters[0].wide


@dataclass(frozen=True)
class Part:
    """One label of a ticket: its blocks, its place in the ticket (1 of 2).

    `facts` stand beside the head on a wide ticket.
    """

    ticket: BundleTicket
    blocks: tuple[Block, ...]
    facts: tuple[Block, ...]
    number: int
    of: int


def head_width(slot: Slot) -> float:
    return slot.width * 0.44 if slot.is_wide else slot.width


@dataclass(frozen=True)
class _Head:
    """The head of a ticket measured: lines left of the QR, and the QR with its text."""

    number_size: float
    number_lines: tuple[str, ...]
    name_size: float
    name_lines: tuple[str, ...]
    qr_side: float
    border: float
    url_size: float
    url_lines: tuple[str, ...]

    @property
    def left_height(self) -> float:
        number = len(self.number_lines) * self.number_size * LEADING
        return number + 46 + len(self.name_lines) * self.name_size * LEADING + 3

    @property
    def right_height(self) -> float:
        below = max(self.border, 4.0) if self.qr_side else 0.0
        return self.qr_side + below + len(self.url_lines) * self.url_size * LEADING + 2

    @property
    def height(self) -> float:
        return max(self.left_height, self.right_height) + 3


def measure_head(ticket: BundleTicket, width: float) -> _Head:
    side = QR_SIDE if ticket.url else 0.0
    border = quiet_border(ticket.url, side) if side else 0.0
    room = width - side - border - 2
    number_size, number_lines = fitted(ticket.number, 19, 9, room, bold=True)
    name = f"{ticket.style} {ticket.style_name}".strip()
    name_size, name_lines = fitted(name, 11.5, 7.5, room, bold=True, lines=2)
    short = ticket.url.split("://", 1)[-1].rstrip("/")
    url_size, url_lines = fitted(short, 6, 4.6, side + border, lines=2)
    return _Head(number_size, number_lines, name_size, name_lines, side, border, url_size, url_lines)


def draw_head(canvas: Canvas, part: Part, slot: Slot) -> float:
    """Number, size and quantity, style; QR at the right with its text beneath. The height comes back."""
    ticket = part.ticket
    width = head_width(slot)
    head = measure_head(ticket, width)
    canvas.setFillColor(INK)
    y = draw_lines(
        canvas, slot.x, slot.top - head.number_size * 0.76, head.number_lines, head.number_size, bold=True
    )
    y += head.number_size * LEADING - head.number_size * 0.46
    room = width - head.qr_side - head.border - 2
    _draw_size(canvas, part, slot.x, y, room)
    draw_lines(canvas, slot.x, y - 46 - head.name_size, head.name_lines, head.name_size, bold=True)
    if head.qr_side:
        right = slot.x + width
        draw_qr(canvas, ticket.url, right - head.qr_side, slot.top - head.qr_side, head.qr_side)
        below = slot.top - head.qr_side - max(head.border, 4.0)
        for line in head.url_lines:
            below -= head.url_size
            draw_text(canvas, right, below, line, head.url_size, align="right")
            below -= head.url_size * (LEADING - 1)
    draw_stack(canvas, part.facts, slot.x + width + GUTTER, slot.top)
    height = max(head.height, stack_height(part.facts) + 4)
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.9)
    canvas.line(slot.x, slot.top - height + 1, slot.x + slot.width, slot.top - height + 1)
    return height + 2


def _draw_size(canvas: Canvas, part: Part, x: float, top: float, room: float) -> None:
    """The size as large as it goes, the quantity in a box beside it, "1 of 2" where the ticket goes on."""
    ticket = part.ticket
    quantity = f"× {ticket.quantity}"
    box = max(46.0, width_of(quantity, 19, bold=True) + 12)
    size = fitting_size(ticket.size, 44, 7, room - box - 8, bold=True)
    lines = wrap(ticket.size, size, room - box - 8, bold=True)
    base = top - 42 if len(lines) <= 1 else top - 12
    draw_lines(canvas, x, base + 3, lines[:5], size, bold=True)
    left = x + room - box
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(1.1)
    canvas.rect(left, top - 40, box, 28, stroke=1, fill=0)
    draw_text(canvas, left + box / 2, top - 33, quantity, 19, bold=True, align="centre")
    if part.of > 1:
        draw_text(canvas, left + box, top - 8, f"{part.number} of {part.of}", 8.5, bold=True, align="right")
