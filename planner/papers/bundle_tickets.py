"""Bundle tickets: the label tied to the pieces, four or two on a sheet to cut apart, or one on label stock.

Where a ticket's words do not fit on a quarter of a sheet, all have half a sheet. Where they are too many for a label
line by line, they run on in smaller letters, colour and shade lot large above them. One that fits nowhere goes on in a
second label ("2 of 2"): nothing that a sewer must know is left out or cut off, whatever the paper.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from planner.papers.blocks import Block, stack_height, text_block
from planner.papers.data import BundleTicket, Heading, PaperSize
from planner.papers.marks import INK, SOFT, cut_line
from planner.papers.paging import Foot, PagedCanvas, mark_in_words, page_size
from planner.papers.ticket_facts import facts_of
from planner.papers.ticket_head import GUTTER, Part, Slot, draw_head, head_width, measure_head
from planner.papers.ticket_steps import Letters, step_block
from planner.papers.typefaces import draw_lines, draw_text, fitting_size, width_of, wrap

PADDING = 4.5 * mm
FOOT_BAND = 8 * mm
#: In the foot a workroom name that would need smaller letters is left to the batch number.
LEAST_FOOT = 4.5
#: Sizes of the mark at the foot of each ticket, and of the caution beside it.
MARK, CARE_SIZE = 7.0, 6.5
CARE = "Needle broken? Find every fragment before the bundle goes on."


def bundle_tickets(heading: Heading, tickets: Sequence[BundleTicket], size: PaperSize = "A4") -> bytes:
    """Tickets as PDF: four (two) to a sheet of A4 or Letter with cut lines between, or one a label of 100 × 150 mm.

    `heading` gives workroom, batch and dates for the foot of each page, and the mark for each ticket, which is cut off
    its foot; a ticket carries its own number, due date and QR. No tickets give one page that says so.
    """
    width, height = page_size(size)
    mark = mark_in_words(heading.mark, is_noted=heading.is_noted)
    slots, parts = _laid_out(size, width, height, tickets, mark)
    target = io.BytesIO()
    title = f"Bundle tickets {heading.batch}"
    canvas = PagedCanvas(target, (width, height), _foot(heading), title, heading.workroom)
    while page := list(islice(parts, len(slots))):
        if len(slots) > 1:
            _cut_lines(canvas, width, height, across=len(slots) > 2)
        for part, slot in zip(page, slots, strict=False):
            _draw_part(canvas, part, slot, mark)
        canvas.showPage()
    if not tickets:
        canvas.setFillColor(INK)
        lines = wrap("No bundle has been made yet.", 12, slots[0].width)
        draw_lines(canvas, slots[0].x, slots[0].top - 12, lines, 12)
        canvas.showPage()
    canvas.save()
    return target.getvalue()


def _laid_out(
    size: PaperSize, width: float, height: float, tickets: Sequence[BundleTicket], mark: str
) -> tuple[list[Slot], Iterator[Part]]:
    """Where tickets stand, and their labels in order.

    On the whole label; or on four quarters of the sheet above its foot, halves where a ticket has more to say.
    """
    if size == "label":
        high = height - PADDING - FOOT_BAND
        across = width - 2 * PADDING
        slots = [Slot(PADDING, height - PADDING, across, high, ON_LABELS, _foot_height(mark, across))]
        return slots, _each_part(tickets, slots[0])
    quarters = _on_sheet(width, height, 2, ON_QUARTERS, mark)
    on_quarters: list[Part] = []
    for ticket in tickets:
        parts = _parts(ticket, quarters[0])
        if len(parts) > 1:
            halves = _on_sheet(width, height, 1, ON_HALVES, mark)
            return halves, _each_part(tickets, halves[0])
        on_quarters += parts
    return quarters, iter(on_quarters)


def _each_part(tickets: Iterable[BundleTicket], slot: Slot) -> Iterator[Part]:
    return (part for ticket in tickets for part in _parts(ticket, slot))


def _foot_height(mark: str, width: float) -> float:
    """Room for the caution and the mark, one above the other where they do not stand side by side."""
    return 14.0 if _care_width(mark, width) >= width_of(CARE, CARE_SIZE) else 23.0


def _care_width(mark: str, width: float) -> float:
    """What is left for the caution beside the mark."""
    return width - (width_of(mark, MARK, bold=True) + 8 if mark else 0.0)


def _on_sheet(
    width: float, height: float, columns: int, letters: tuple[Letters, ...], mark: str
) -> list[Slot]:
    wide, high = width / columns, (height - FOOT_BAND) / 2
    return [
        Slot(
            column * wide + PADDING + 4,
            height - row * high - PADDING - 4,
            wide - 2 * PADDING - 8,
            high - 2 * PADDING - 6,
            letters,
            _foot_height(mark, wide - 2 * PADDING - 8),
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


#: No note is smaller: an x of this typeface is 1.2 mm high then, the least that Regulation (EU) No 1169/2011 allows for
#: what must be read on the label of food (article 13, from memory).
LEAST_NOTE = 6.3
#: Ways to set the words, roomy first; beneath 7.5 points nothing is read from a step away.
ON_QUARTERS = (
    Letters(8.8, 7.8, 1.16, 2.6, 8.4),
    Letters(8.2, 7.5, 1.1, 1.8, 7.9, beside=True),
)
ON_HALVES = (
    Letters(11.0, 9.5, 1.18, 4.5, 9.5, wide=True),
    Letters(9.8, 8.8, 1.14, 3.2, 9.0, wide=True),
    Letters(8.8, 8.0, 1.1, 2.2, 8.4, wide=True),
    Letters(8.2, 7.4, 1.08, 1.6, 8.0, wide=True),
    Letters(9.2, 8.4, 1.14, 3.0, 8.4, wide=True, runs_on=True),
    Letters(8.6, 7.8, 1.12, 2.2, 8.0, wide=True, runs_on=True),
    Letters(8.0, 7.2, 1.1, 1.6, 7.8, wide=True, runs_on=True),
)
ON_LABELS = (
    Letters(8.4, 7.5, 1.16, 2.6, 8.0),
    Letters(7.9, 7.0, 1.1, 1.8, 7.6, beside=True),
    Letters(7.5, 6.6, 1.1, 1.8, 7.2, beside=True),
    Letters(7.9, 7.0, 1.12, 2.2, 7.4, runs_on=True),
    Letters(7.5, 6.6, 1.1, 1.8, 7.1, runs_on=True),
    Letters(7.1, LEAST_NOTE, 1.08, 1.6, 6.7, runs_on=True),
)


def _parts(ticket: BundleTicket, slot: Slot) -> list[Part]:
    """The ticket shared out over as few labels as it needs; every label has head and QR."""
    best: list[Part] = []
    for letters in slot.letters:
        parts = _set_out(ticket, slot, letters)
        if not best or len(parts) < len(best):
            best = parts
        if len(best) == 1:
            break
    return best


def _set_out(ticket: BundleTicket, slot: Slot, letters: Letters) -> list[Part]:
    head = measure_head(ticket, head_width(slot)).height
    facts = facts_of(ticket, slot.width - head_width(slot) - GUTTER if slot.is_wide else slot.width, letters)
    beside: list[Block] = []
    if slot.is_wide:
        beneath = facts_of(ticket, slot.width, letters)
        if stack_height(facts) + 4 <= head + stack_height(beneath):
            beside, facts = facts, []
            head = max(head, stack_height(beside) + 4)
        else:
            facts = beneath
    room = slot.height - head - slot.foot
    pages = _share_out(facts + _steps(ticket, slot.width, letters), room)
    return [Part(ticket, tuple(page), tuple(beside), n, len(pages)) for n, page in enumerate(pages, start=1)]


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


def _draw_part(canvas: Canvas, part: Part, slot: Slot, mark: str) -> None:
    top = slot.top - draw_head(canvas, part, slot)
    for block in part.blocks:
        block.draw(canvas, slot.x, top)
        top -= block.height
    canvas.setFillColor(SOFT)
    at = slot.top - slot.height + 1.5
    draw_text(canvas, slot.x, at, CARE, fitting_size(CARE, CARE_SIZE, 4, slot.width))
    canvas.setFillColor(INK)
    is_beside = _care_width(mark, slot.width) >= width_of(CARE, CARE_SIZE)
    at += 0.0 if is_beside else CARE_SIZE + 2
    draw_text(canvas, slot.x + slot.width, at, mark, MARK, bold=True, align="right")


def _steps(ticket: BundleTicket, width: float, letters: Letters) -> list[Block]:
    """The operations in sewing order."""
    blocks = [] if letters.wide else [_steps_head(width)]
    blocks += [step_block(step, width, letters) for step in ticket.steps]
    if not ticket.steps:
        blocks.append(text_block("No operations have been set down for this style.", width, 8))
    return blocks


def _steps_head(width: float) -> Block:
    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.9)
        canvas.line(x, top - 2, x + width, top - 2)

    return Block(4, draw)
