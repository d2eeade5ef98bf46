"""What a bundle is, line by line on its ticket: colour, options, lot, lays, order, pieces and notions."""

from __future__ import annotations

from reportlab.pdfgen.canvas import Canvas

from planner.papers.blocks import Block, run_in_block, text_block
from planner.papers.cautions import TIE_APART
from planner.papers.data import BundleTicket
from planner.papers.flow import flowing, kept_together
from planner.papers.marks import INK
from planner.papers.ticket_steps import Letters
from planner.papers.typefaces import wrap

#: What stands large where all runs on: pieces of another colour or lot are never tied to these.
LARGE = ("Colour", "Shade lot", "Shade lots differ")
#: Higher than this, facts are set line by line, so that they may go on in the next label.
TALL = 60.0
#: In place of a shade lot that nobody knows yet.
WRITE_IN = f"write it in: {'_' * 14}"


def facts_of(ticket: BundleTicket, width: float, letters: Letters) -> list[Block]:
    """What the bundle is, line by line; on a label whose words run on, colour and lot large and the rest beneath."""
    facts = _facts(ticket)
    if letters.runs_on and not letters.wide:
        large = [fact for fact in facts if fact[0] in LARGE]
        rest = [fact for fact in facts if fact[0] not in LARGE]
        both = _flowing_block(large, width, letters.fact + 2.6), _flowing_block(rest, width, letters.fact)
        blocks = [block for block in both if block is not None]
        if len(blocks) == len(both) and all(block.height < TALL for block in blocks):
            return blocks
    return _line_by_line(facts, width, letters)


def _facts(ticket: BundleTicket) -> list[tuple[str, str]]:
    facts = [
        ("Colour", ticket.colourway),
        ("Options", ticket.options),
        ("Shade lot", ticket.shade_lot or (WRITE_IN if ticket.lot_to_come else "")),
        ("Shade lots differ", f"{ticket.lots_apart}. {TIE_APART}" if ticket.lots_apart else ""),
        ("From", _lays_in_words(ticket)),
        ("Order", _joined(ticket.order, f"due {ticket.due_on}" if ticket.due_on else "")),
        ("Pieces", ", ".join(f"{count} × {name}" for name, count in ticket.pieces)),
        ("Notions", ", ".join(ticket.notions)),
    ]
    return [(label, kept_together(text)) for label, text in facts if text]


def _line_by_line(facts: list[tuple[str, str]], width: float, letters: Letters) -> list[Block]:
    return [block for label, text in facts for block in _fact_lines(label, text, width, letters.fact)]


def _flowing_block(facts: list[tuple[str, str]], width: float, size: float) -> Block | None:
    """Facts one behind the other; None where they cannot be set so."""
    text = flowing(facts, size, size * 1.14, width)
    if text is None:
        return None

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setFillColor(INK)
        text.draw(canvas, x, top - size)

    return Block(len(text.lines) * text.lead + 1.4, draw)


def _lays_in_words(ticket: BundleTicket) -> str:
    """Every lay that whoever ties the bundle takes pieces from, cloth by cloth: "jersey: lay 1, plies 3 to 7; lay 2,
    ply 1 · rib: lay 6, ply 1"; of one cloth "lay 1, plies 3 to 7", of plies not known "lays 1, 6, 7".
    """
    told: dict[str, list[str]] = {}
    for cloth, lay, plies in ticket.plies:
        told.setdefault(cloth, []).append(f"lay {lay}, {plies}")
    if told:
        return _joined(
            *(f"{cloth}{': ' if cloth else ''}{'; '.join(from_lays)}" for cloth, from_lays in told.items())
        )
    lays = ticket.lays or (() if ticket.lay is None else (ticket.lay,))
    return f"{'lay' if len(lays) == 1 else 'lays'} {', '.join(map(str, lays))}" if lays else ""


def _joined(*parts: str) -> str:
    return " · ".join(part for part in parts if part)


def _fact_lines(label: str, text: str, width: float, size: float) -> list[Block]:
    """A short fact as one block; a very long one line by line, so that it may go on in the next label."""
    size = size + 2 if label == "Colour" else size
    block = run_in_block(label, text, width, size, after=1.2)
    if block.height < TALL:
        return [block]
    lines = wrap(text, size, width)
    return [text_block(label, width, size, bold=True, after=0)] + [
        text_block(line, width, size, after=0) for line in lines
    ]
