"""Bundle tickets: the label tied to the pieces, four on a sheet to cut apart or one on label stock.

A ticket whose operations do not fit goes on in a second label ("2 of 2"); nothing is cut off.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from planner.papers.blocks import Block, run_in_block, text_block
from planner.papers.data import BundleTicket, Heading, PaperSize, TicketStep
from planner.papers.marks import HAIR, INK, SOFT, check_box, cut_line
from planner.papers.qr import draw_qr, quiet_border
from planner.papers.sheet import Foot, PagedCanvas, page_size
from planner.papers.typefaces import LEADING, draw_lines, draw_text, fitted, fitting_size, width_of, wrap

#: Side of the QR without its empty border; at least 20 mm is asked for.
QR_SIDE = 22 * mm
PADDING = 4.5 * mm
FOOT_BAND = 8 * mm
#: In the foot a workroom name that would need smaller letters is left to the batch number.
LEAST_FOOT = 4.5
CARE = "Needle broken? Find every fragment before the bundle goes on."


@dataclass(frozen=True)
class _Slot:
    """Where a ticket stands on its page: left and top edge, width and height, inside its padding."""

    x: float
    top: float
    width: float
    height: float


@dataclass(frozen=True)
class _Part:
    """One label of a ticket: its blocks, its place in the ticket (1 of 2)."""

    ticket: BundleTicket
    blocks: tuple[Block, ...]
    number: int
    of: int


def bundle_tickets(heading: Heading, tickets: Sequence[BundleTicket], size: PaperSize = "A4") -> bytes:
    """Tickets as PDF: four to a sheet of A4 or Letter with cut lines between, or one a label of 100 × 150 mm.

    `heading` gives workroom, batch and dates for the foot of each page; a ticket carries its own number,
    due date and QR. No tickets give one page that says so.
    """
    width, height = page_size(size)
    slots = _slots(size, width, height)
    target = io.BytesIO()
    title = f"Bundle tickets {heading.batch}"
    canvas = PagedCanvas(target, (width, height), _foot(heading), title, heading.workroom)
    parts = (part for ticket in tickets for part in _parts(ticket, slots[0]))
    while page := list(islice(parts, len(slots))):
        if len(slots) > 1:
            _cut_lines(canvas, width, height)
        for part, slot in zip(page, slots, strict=False):
            _draw_part(canvas, part, slot)
        canvas.showPage()
    if not tickets:
        canvas.setFillColor(INK)
        lines = wrap("No bundle has been made yet.", 12, slots[0].width)
        draw_lines(canvas, slots[0].x, slots[0].top - 12, lines, 12)
        canvas.showPage()
    canvas.save()
    return target.getvalue()


def _slots(size: PaperSize, width: float, height: float) -> list[_Slot]:
    """Four quarters of the sheet above its foot, or the whole label."""
    if size == "label":
        return [_Slot(PADDING, height - PADDING, width - 2 * PADDING, height - PADDING - FOOT_BAND)]
    wide, high = width / 2, (height - FOOT_BAND) / 2
    return [
        _Slot(
            column * wide + PADDING + 4,
            height - row * high - PADDING - 4,
            wide - 2 * PADDING - 8,
            high - 2 * PADDING - 6,
        )
        for row in range(2)
        for column in range(2)
    ]


def _cut_lines(canvas: Canvas, width: float, height: float) -> None:
    """Dashed lines between the four tickets and above the foot: cut here."""
    high = (height - FOOT_BAND) / 2
    cut_line(canvas, width / 2, FOOT_BAND, width / 2, height)
    cut_line(canvas, 0, FOOT_BAND + high, width, FOOT_BAND + high)
    cut_line(canvas, 0, FOOT_BAND, width, FOOT_BAND)


def _foot(heading: Heading) -> Foot:
    whole = " · ".join(part for part in (heading.batch, heading.workroom) if part)
    dates = " · ".join(
        f"{word} {day}" for word, day in (("printed", heading.printed_on), ("due", heading.due_on)) if day
    )

    def draw(canvas: Canvas, number: int, of: int) -> None:
        width = canvas._pagesize[0]
        third = (width - 2 * PADDING) / 3
        page = f"page {number} of {of}"
        base = FOOT_BAND - 3.6 * mm
        canvas.setFillColor(INK)
        room = third * 0.9
        left = whole if width_of(whole, LEAST_FOOT) <= room else heading.batch
        draw_text(canvas, PADDING, base, left, fitting_size(left, 7, 2.5, room))
        middle = PADDING + room + (width - 2 * PADDING - room - width_of(page, 7, bold=True)) / 2
        dates_room = width - 2 * PADDING - room - width_of(page, 7, bold=True) - 12
        draw_text(canvas, middle, base, dates, fitting_size(dates, 7, 2.5, dates_room), align="centre")
        draw_text(canvas, width - PADDING, base, page, 7, bold=True, align="right")

    return draw


# --- one ticket ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Type:
    """Letter sizes beneath the head: roomy, or close (short notes beside the name) to save a label."""

    name: float
    note: float
    lead: float
    after: float
    fact: float
    notes_beside: bool


ROOMY = _Type(8.2, 7.0, 1.16, 2.6, 8.0, notes_beside=False)
CLOSER = _Type(7.9, 6.8, 1.1, 1.8, 7.6, notes_beside=True)
CLOSEST = _Type(7.5, 6.5, 1.08, 1.0, 7.3, notes_beside=True)


def _parts(ticket: BundleTicket, slot: _Slot) -> list[_Part]:
    """The ticket shared out over as few labels as it needs; every label has head and QR."""
    room = slot.height - _measure_head(ticket, slot.width).height - 12
    pages = _share_out(_blocks(ticket, slot.width, ROOMY), room)
    for letters in (CLOSER, CLOSEST):
        if len(pages) > 1:
            closer = _share_out(_blocks(ticket, slot.width, letters), room)
            pages = closer if len(closer) < len(pages) else pages
    return [_Part(ticket, tuple(page), n, len(pages)) for n, page in enumerate(pages, start=1)]


def _share_out(blocks: Sequence[Block], room: float) -> list[list[Block]]:
    pages: list[list[Block]] = [[]]
    left = room
    for block in blocks:
        if block.height > left and pages[-1]:
            pages.append([])
            left = room
        pages[-1].append(block)
        left -= block.height
    return pages


def _draw_part(canvas: Canvas, part: _Part, slot: _Slot) -> None:
    top = slot.top - _draw_head(canvas, part, slot)
    for block in part.blocks:
        block.draw(canvas, slot.x, top)
        top -= block.height
    canvas.setFillColor(SOFT)
    size = fitting_size(CARE, 6.5, 4, slot.width)
    draw_text(canvas, slot.x, slot.top - slot.height + 1.5, CARE, size)
    canvas.setFillColor(INK)


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
        return number + 52 + len(self.name_lines) * self.name_size * LEADING + 4

    @property
    def right_height(self) -> float:
        below = max(self.border, 4.0) if self.qr_side else 0.0
        return self.qr_side + below + len(self.url_lines) * self.url_size * LEADING + 6

    @property
    def height(self) -> float:
        return max(self.left_height, self.right_height) + 3


def _measure_head(ticket: BundleTicket, width: float) -> _Head:
    side = QR_SIDE if ticket.url else 0.0
    border = quiet_border(ticket.url, side) if side else 0.0
    room = width - side - border - 2
    number_size, number_lines = fitted(ticket.number, 19, 9, room, bold=True)
    name = f"{ticket.style} {ticket.style_name}".strip()
    name_size, name_lines = fitted(name, 11.5, 7.5, room, bold=True, lines=2)
    short = ticket.url.split("://", 1)[-1].rstrip("/")
    url_size, url_lines = fitted(short, 6, 4.6, side + border, lines=3)
    return _Head(number_size, number_lines, name_size, name_lines, side, border, url_size, url_lines)


def _draw_head(canvas: Canvas, part: _Part, slot: _Slot) -> float:
    """Number, size and quantity, style; QR at the right with its text beneath. The height comes back."""
    ticket = part.ticket
    head = _measure_head(ticket, slot.width)
    canvas.setFillColor(INK)
    y = draw_lines(
        canvas, slot.x, slot.top - head.number_size * 0.76, head.number_lines, head.number_size, bold=True
    )
    y += head.number_size * LEADING - head.number_size * 0.46
    room = slot.width - head.qr_side - head.border - 2
    _draw_size(canvas, part, slot.x, y, room)
    draw_lines(canvas, slot.x, y - 46 - head.name_size, head.name_lines, head.name_size, bold=True)
    if head.qr_side:
        right = slot.x + slot.width
        draw_qr(canvas, ticket.url, right - head.qr_side, slot.top - head.qr_side, head.qr_side)
        below = slot.top - head.qr_side - max(head.border, 4.0)
        for line in head.url_lines:
            below -= head.url_size
            draw_text(canvas, right, below, line, head.url_size, align="right")
            below -= head.url_size * (LEADING - 1)
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.9)
    line_y = slot.top - head.height + 1
    canvas.line(slot.x, line_y, slot.x + slot.width, line_y)
    return head.height + 2


def _draw_size(canvas: Canvas, part: _Part, x: float, top: float, room: float) -> None:
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


def _blocks(ticket: BundleTicket, width: float, letters: _Type) -> list[Block]:
    """Everything beneath the head, line by line, in the order it is needed at the machine."""
    facts = [
        ("Colour", ticket.colourway),
        ("Options", ticket.options),
        ("Shade lot", ticket.shade_lot),
        ("From", _lays_in_words(ticket)),
        ("Order", _joined(ticket.order, f"due {ticket.due_on}" if ticket.due_on else "")),
        ("Pieces", ", ".join(f"{count} × {name}" for name, count in ticket.pieces)),
        ("Notions", ", ".join(ticket.notions)),
    ]
    blocks: list[Block] = []
    for label, text in facts:
        if text:
            blocks += _fact_lines(label, text, width, letters.fact)
    blocks.append(_steps_head(width))
    blocks += [_step_block(step, width, letters) for step in ticket.steps]
    if not ticket.steps:
        blocks.append(text_block("No operations have been set down for this style.", width, 8))
    return blocks


def _lays_in_words(ticket: BundleTicket) -> str:
    """Every lay that whoever ties the bundle takes pieces from: "lay 1", "lays 1, 6, 7"."""
    lays = ticket.lays or (() if ticket.lay is None else (ticket.lay,))
    return f"{'lay' if len(lays) == 1 else 'lays'} {', '.join(map(str, lays))}" if lays else ""


def _joined(*parts: str) -> str:
    return " · ".join(part for part in parts if part)


def _fact_lines(label: str, text: str, width: float, size: float) -> list[Block]:
    """A short fact as one block; a very long one line by line, so that it may go on in the next label."""
    size = size + 2 if label == "Colour" else size
    block = run_in_block(label, text, width, size, after=1.2)
    if block.height < 60:
        return [block]
    lines = wrap(text, size, width)
    return [text_block(label, width, size, bold=True, after=0)] + [
        text_block(line, width, size, after=0) for line in lines
    ]


def _steps_head(width: float) -> Block:
    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.9)
        canvas.line(x, top - 2, x + width, top - 2)

    return Block(4, draw)


@lru_cache(maxsize=512)
def _step_block(step: TicketStep, width: float, letters: _Type) -> Block:
    """Check box, number and name; machine, stitch type and minutes at the right; the set-up note beneath."""
    indent = 11.5
    room = width - indent
    machine = _machine(step)
    title = f"{step.position} {step.name}"
    free = room - width_of(title, letters.name, bold=True) - width_of(machine, letters.note) - 8
    fits_beside = free >= 0
    note = step.setup_note
    beside = note if letters.notes_beside and note and width_of(note, letters.note) + 6 <= free else ""
    name_room = room - (width_of(machine, letters.note) + 8 if fits_beside else 0)
    names = wrap(title, letters.name, name_room, bold=True)
    under = () if fits_beside else wrap(machine, letters.note, room)
    under += () if beside else wrap(note, letters.note, room)
    lead = letters.note * letters.lead
    height = len(names) * letters.name * LEADING + len(under) * lead + letters.after

    def draw(canvas: Canvas, x: float, top: float) -> None:
        check_box(canvas, x, top - letters.name - 1, letters.name - 0.6)
        base = top - letters.name
        y = draw_lines(canvas, x + indent, base, names, letters.name, bold=True)
        if beside:
            at = x + indent + width_of(title, letters.name, bold=True) + 6
            draw_text(canvas, at, base, beside, letters.note)
        if fits_beside:
            draw_text(canvas, x + width, base, machine, letters.note, align="right")
        y += letters.name * LEADING - lead
        for line in under:
            draw_text(canvas, x + indent, y - 1, line, letters.note)
            y -= lead
        canvas.setStrokeColor(HAIR)
        canvas.setLineWidth(0.3)
        canvas.line(x, top - height + 0.6, x + width, top - height + 0.6)

    return Block(height, draw)


def _machine(step: TicketStep) -> str:
    minutes = f"{step.minutes:.1f}\u2009min" if step.minutes else ""
    return _joined(step.machine, step.stitch_type, minutes)
