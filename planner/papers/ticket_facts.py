"""What a bundle is, line by line on its ticket: colour, options, lot, lays, order, pieces and notions."""

from __future__ import annotations

from planner.papers.blocks import Block, run_in_block, text_block
from planner.papers.cautions import TIE_APART
from planner.papers.data import BundleTicket
from planner.papers.ticket_steps import Letters
from planner.papers.typefaces import wrap

#: In place of a shade lot that nobody knows yet.
WRITE_IN = f"write it in: {'_' * 14}"


def facts_of(ticket: BundleTicket, width: float, letters: Letters) -> list[Block]:
    """What the bundle is, line by line."""
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
    blocks: list[Block] = []
    for label, text in facts:
        if text:
            blocks += _fact_lines(label, text, width, letters.fact)
    return blocks


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
    if block.height < 60:
        return [block]
    lines = wrap(text, size, width)
    return [text_block(label, width, size, bold=True, after=0)] + [
        text_block(line, width, size, after=0) for line in lines
    ]
