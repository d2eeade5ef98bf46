"""Bundle tickets: the label tied to the pieces, four or two on a sheet to cut apart, or one on label stock.

Where a ticket's words do not fit on a quarter of a sheet, all have half a sheet. One that fits nowhere goes on in a
second label ("2 of 2"). Where label stock would take another label otherwise, notes on tension, needle and set-up are
left to the sheet and the phone, as few as may be, and the label says so; nothing else is left out, nothing is cut off.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from planner.papers.blocks import Block, draw_stack, run_in_block, stack_height, text_block
from planner.papers.data import BundleTicket, Heading, PaperSize
from planner.papers.marks import INK, SOFT, cut_line
from planner.papers.qr import draw_qr, quiet_border
from planner.papers.sheet import Foot, PagedCanvas, page_size
from planner.papers.ticket_steps import MORE, Letters, has_more_than_brief, step_block
from planner.papers.typefaces import LEADING, draw_lines, draw_text, fitted, fitting_size, width_of, wrap

#: Side of the QR without its empty border; at least 20 mm is asked for.
QR_SIDE = 22 * mm
PADDING = 4.5 * mm
FOOT_BAND = 8 * mm
#: Between the head of a wide ticket and the facts beside it.
GUTTER = 16.0
#: In the foot a workroom name that would need smaller letters is left to the batch number.
LEAST_FOOT = 4.5
#: Said where notes are left out of a label.
ELSEWHERE = f"{MORE} more on set-up: scan the code, or see the ticket on A4."
#: In place of a shade lot that nobody knows yet.
WRITE_IN = f"write it in: {'_' * 14}"
CARE = "Needle broken? Find every fragment before the bundle goes on."


@dataclass(frozen=True)
class _Slot:
    """Where a ticket stands on its page: left and top edge, width and height, inside its padding.

    `letters` are the ways its words may be set, the most readable first.
    """

    x: float
    top: float
    width: float
    height: float
    letters: tuple[Letters, ...]

    @property
    def is_wide(self) -> bool:
        """Wide enough for the facts to stand beside the head."""
        return self.letters[0].wide


@dataclass(frozen=True)
class _Part:
    """One label of a ticket: its blocks, its place in the ticket (1 of 2).

    `facts` stand beside the head on a wide ticket. `is_brief`: notes are left out that the ticket has.
    """

    ticket: BundleTicket
    blocks: tuple[Block, ...]
    facts: tuple[Block, ...]
    number: int
    of: int
    is_brief: bool


def bundle_tickets(heading: Heading, tickets: Sequence[BundleTicket], size: PaperSize = "A4") -> bytes:
    """Tickets as PDF: four (two) to a sheet of A4 or Letter with cut lines between, or one a label of 100 × 150 mm.

    `heading` gives workroom, batch and dates for the foot of each page; a ticket carries its own number,
    due date and QR. No tickets give one page that says so.
    """
    width, height = page_size(size)
    slots, parts = _laid_out(size, width, height, tickets)
    target = io.BytesIO()
    title = f"Bundle tickets {heading.batch}"
    canvas = PagedCanvas(target, (width, height), _foot(heading), title, heading.workroom)
    while page := list(islice(parts, len(slots))):
        if len(slots) > 1:
            _cut_lines(canvas, width, height, across=len(slots) > 2)
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


def _laid_out(
    size: PaperSize, width: float, height: float, tickets: Sequence[BundleTicket]
) -> tuple[list[_Slot], Iterator[_Part]]:
    """Where tickets stand, and their labels in order.

    On the whole label; or on four quarters of the sheet above its foot, halves where a ticket has more to say.
    """
    if size == "label":
        high = height - PADDING - FOOT_BAND
        slots = [_Slot(PADDING, height - PADDING, width - 2 * PADDING, high, ON_LABELS)]
        return slots, _each_part(tickets, slots[0])
    quarters = _on_sheet(width, height, 2, ON_QUARTERS)
    on_quarters: list[_Part] = []
    for ticket in tickets:
        parts = _parts(ticket, quarters[0])
        if len(parts) > 1:
            halves = _on_sheet(width, height, 1, ON_HALVES)
            return halves, _each_part(tickets, halves[0])
        on_quarters += parts
    return quarters, iter(on_quarters)


def _each_part(tickets: Iterable[BundleTicket], slot: _Slot) -> Iterator[_Part]:
    return (part for ticket in tickets for part in _parts(ticket, slot))


def _on_sheet(width: float, height: float, columns: int, letters: tuple[Letters, ...]) -> list[_Slot]:
    wide, high = width / columns, (height - FOOT_BAND) / 2
    return [
        _Slot(
            column * wide + PADDING + 4,
            height - row * high - PADDING - 4,
            wide - 2 * PADDING - 8,
            high - 2 * PADDING - 6,
            letters,
        )
        for row in range(2)
        for column in range(columns)
    ]


def _cut_lines(canvas: Canvas, width: float, height: float, *, across: bool) -> None:
    """Dashed lines between the tickets and above the foot: cut here."""
    high = (height - FOOT_BAND) / 2
    if across:
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


#: Ways to set the words, roomy first; beneath 7.5 points nothing is read from a step away.
ON_QUARTERS = (
    Letters(8.8, 7.8, 1.16, 2.6, 8.4),
    Letters(8.2, 7.5, 1.1, 1.8, 7.9, beside=True),
)
ON_HALVES = (
    Letters(11.0, 9.5, 1.18, 4.5, 9.5, wide=True),
    Letters(9.8, 8.8, 1.14, 3.2, 9.0, wide=True),
    Letters(8.8, 8.0, 1.1, 2.2, 8.4, wide=True),
)
ON_LABELS = (
    Letters(8.4, 7.5, 1.16, 2.6, 8.0),
    Letters(7.9, 7.0, 1.1, 1.8, 7.6, beside=True),
    Letters(7.9, 7.0, 1.1, 1.8, 7.6, brief=True),
    Letters(7.5, 6.6, 1.08, 1.0, 7.3, brief=True),
)


def _parts(ticket: BundleTicket, slot: _Slot) -> list[_Part]:
    """The ticket shared out over as few labels as it needs; every label has head and QR."""
    best: list[_Part] = []
    for letters in slot.letters:
        parts = _set_out(ticket, slot, letters)
        if not best or len(parts) < len(best):
            best = parts
        if len(best) == 1:
            break
    return best


def _set_out(ticket: BundleTicket, slot: _Slot, letters: Letters) -> list[_Part]:
    head = _measure_head(ticket, _head_width(slot)).height
    facts = _facts(ticket, slot.width - _head_width(slot) - GUTTER if slot.is_wide else slot.width, letters)
    beside: list[Block] = []
    if slot.is_wide:
        beneath = _facts(ticket, slot.width, letters)
        if stack_height(facts) + 4 <= head + stack_height(beneath):
            beside, facts = facts, []
            head = max(head, stack_height(beside) + 4)
        else:
            facts = beneath
    room = slot.height - head - (22 if letters.brief else 14)
    steps = _steps(ticket, slot.width, letters)
    is_brief = False
    if letters.brief:
        spare = room - stack_height(facts + steps)
        steps, is_brief = _filled_up(ticket, slot.width, letters, spare)
    pages = _share_out(facts + steps, room)
    return [
        _Part(ticket, tuple(page), tuple(beside), n, len(pages), is_brief)
        for n, page in enumerate(pages, start=1)
    ]


def _head_width(slot: _Slot) -> float:
    return slot.width * 0.44 if slot.is_wide else slot.width


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
    at = slot.top - slot.height + 1.5
    draw_text(canvas, slot.x, at, CARE, fitting_size(CARE, 6.5, 4, slot.width))
    if part.is_brief:
        draw_text(canvas, slot.x, at + 8, ELSEWHERE, fitting_size(ELSEWHERE, 6.5, 4, slot.width))
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
    width = _head_width(slot)
    head = _measure_head(ticket, width)
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


def _facts(ticket: BundleTicket, width: float, letters: Letters) -> list[Block]:
    """What the bundle is, line by line."""
    facts = [
        ("Colour", ticket.colourway),
        ("Options", ticket.options),
        ("Shade lot", ticket.shade_lot or (WRITE_IN if ticket.lot_to_come else "")),
        ("From", _lays_in_words(ticket)),
        ("Order", _joined(ticket.order, f"due {ticket.due_on}" if ticket.due_on else "")),
        ("Pieces", ", ".join(f"{count} × {name}" for name, count in ticket.pieces)),
        ("Notions", ", ".join(ticket.notions)),
    ]
    blocks: list[Block] = []
    for label, text in facts:
        if text:
            blocks += _fact_lines(label, text, width, letters.fact)
    return blocks


def _steps(ticket: BundleTicket, width: float, letters: Letters) -> list[Block]:
    """The operations in sewing order."""
    blocks = [] if letters.wide else [_steps_head(width)]
    blocks += [step_block(step, width, letters) for step in ticket.steps]
    if not ticket.steps:
        blocks.append(text_block("No operations have been set down for this style.", width, 8))
    return blocks


def _lays_in_words(ticket: BundleTicket) -> str:
    """Every lay that whoever ties the bundle takes pieces from: "lay 1, plies 3 to 7; lay 6, ply 1", "lays 1, 6, 7"."""
    if ticket.plies:
        return "; ".join(f"lay {lay}, {plies}" for lay, plies in ticket.plies)
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


def _filled_up(
    ticket: BundleTicket, width: float, letters: Letters, spare: float
) -> tuple[list[Block], bool]:
    """The operations in brief, from the first on with all their words as far as the spare height goes.

    Also whether any words are left out.
    """
    blocks, is_brief = [_steps_head(width)], False
    for step in ticket.steps:
        brief, full = step_block(step, width, letters), step_block(step, width, replace(letters, brief=False))
        more = full.height - brief.height
        has_room = more <= spare
        blocks.append(full if has_room else brief)
        spare -= more if has_room else 0.0
        is_brief |= not has_room and has_more_than_brief(step)
    return blocks, is_brief


def _steps_head(width: float) -> Block:
    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.9)
        canvas.line(x, top - 2, x + width, top - 2)

    return Block(4, draw)
