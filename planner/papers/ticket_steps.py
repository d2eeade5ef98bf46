"""The operations on a bundle ticket: what to sew, on which machine and how it is set, and what to look at.

Only what was set down is printed. Nothing is cut off: what does not fit beside goes beneath.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from reportlab.pdfgen.canvas import Canvas

from planner.core.units import plain_number
from planner.papers.amounts import THIN
from planner.papers.blocks import Block
from planner.papers.data import TicketStep
from planner.papers.flow import flowing, kept_together
from planner.papers.marks import HAIR, INK, check_box
from planner.papers.typefaces import LEADING, clean, draw_lines, draw_text, width_of, wrap

#: Stands before the quality note, in bold, and before what is sewn into each garment.
LOOK, TAKE = "Look at", "Each"
#: Stands before the set-up note where all runs on.
HOW = "How"
#: On a wide ticket the notes stand beside the step from this share of the width on.
NOTES_FROM = 0.53


@dataclass(frozen=True)
class Letters:
    """Letter sizes beneath the head, and how steps are set.

    `beside`: a short set-up note stands beside the name; `wide`: notes stand in a column of their own; `runs_on`: all
    of a step runs on behind its name.
    """

    name: float
    note: float
    lead: float
    after: float
    fact: float
    beside: bool = False
    wide: bool = False
    runs_on: bool = False

    @property
    def indent(self) -> float:
        """Room for the check box before a step."""
        return self.name + 3.8


def settings_words(step: TicketStep) -> str:
    """Machine and settings on one line: "overlock · 514 · 2.5 mm · feed 1.3 · needle 75 stretch · 1.2 min"."""
    parts = [
        step.machine,
        step.stitch_type,
        f"{plain_number(step.stitch_length_mm)}{THIN}mm" if step.stitch_length_mm else "",
        f"feed {plain_number(step.differential_feed)}" if step.differential_feed else "",
        _labelled("tension", step.tension_note),
        _labelled("needle", step.needle_note),
        f"{step.minutes:.1f}{THIN}min" if step.minutes else "",
    ]
    return "\N{NO-BREAK SPACE}· ".join(part for part in parts if part)


def _labelled(word: str, note: str) -> str:
    """The note with its word before it, unless it begins with that anyway."""
    return note if not note or note.casefold().startswith(word) else f"{word} {note}"


@lru_cache(maxsize=512)
def step_block(step: TicketStep, width: float, letters: Letters) -> Block:
    """Check box, number and name; machine and settings; set-up note; what to look at."""
    if letters.runs_on and (block := _run_on(step, width, letters)):
        return block
    return _wide(step, width, letters) if letters.wide else _narrow(step, width, letters)


@dataclass(frozen=True)
class _Words:
    """Lines of a step measured for a width: those of the name, and those beneath or beside."""

    lines: tuple[str, ...]
    size: float
    lead: float
    label: str = ""

    @property
    def indent(self) -> float:
        return width_of(self.label, self.size, bold=True) + 4 if self.label else 0.0

    @property
    def height(self) -> float:
        return len(self.lines) * self.lead

    def draw(self, canvas: Canvas, x: float, top: float) -> float:
        """Draws from the top edge given; the bottom edge comes back."""
        base = top - self.size
        if self.label and self.lines:
            draw_text(canvas, x, base, self.label, self.size, bold=True)
        for line in self.lines:
            draw_text(canvas, x + self.indent, base, line, self.size)
            base -= self.lead
        return top - self.height


def _words(text: str, width: float, letters: Letters, label: str = "") -> _Words:
    size, lead = letters.note, letters.note * letters.lead
    room = width - _Words((), size, lead, label).indent
    return _Words(wrap(text, size, room) if text else (), size, lead, label)


def _run_on(step: TicketStep, width: float, letters: Letters) -> Block | None:
    """Name, machine and settings, notes one behind the other; None where that is not read as it is written."""
    room = width - letters.indent
    title = clean(f"{step.position} {step.name}")
    long = width_of(title, letters.name, bold=True)
    parts = [("", settings_words(step)), (TAKE, step.take), (HOW, step.setup_note), (LOOK, step.quality_note)]
    told = [(label, kept_together(text)) for label, text in parts if text]
    text = flowing(told, letters.note, letters.note * letters.lead, room, first=long + 4)
    if text is None or long > room * 0.7:
        return None
    high = letters.name * 1.13 + (len(text.lines) - 1) * text.lead + letters.after

    def draw(canvas: Canvas, x: float, top: float) -> None:
        _tick(canvas, x, top, letters)
        base = top - letters.name
        draw_text(canvas, x + letters.indent, base, title, letters.name, bold=True)
        text.draw(canvas, x + letters.indent, base)
        _hairline(canvas, x, top - high + 0.6, width)

    return Block(high, draw)


def _narrow(step: TicketStep, width: float, letters: Letters) -> Block:
    """One under the other; machine and settings at the right of the name where there is room."""
    room = width - letters.indent
    settings = settings_words(step)
    title = f"{step.position} {step.name}"
    free = room - width_of(title, letters.name, bold=True) - width_of(settings, letters.note) - 8
    fits = free >= 0
    note = step.setup_note
    beside = note if letters.beside and note and fits and width_of(note, letters.note) + 6 <= free else ""
    names = wrap(title, letters.name, room, bold=True)
    under = [
        _words(step.take, room, letters, TAKE),
        _words("" if fits else settings, room, letters),
        _words("" if beside else note, room, letters),
        _words(step.quality_note, room, letters, LOOK),
    ]
    height = len(names) * letters.name * LEADING + sum(part.height for part in under) + letters.after

    def draw(canvas: Canvas, x: float, top: float) -> None:
        _tick(canvas, x, top, letters)
        base = top - letters.name
        draw_lines(canvas, x + letters.indent, base, names, letters.name, bold=True)
        if beside:
            at = x + letters.indent + width_of(title, letters.name, bold=True) + 6
            draw_text(canvas, at, base, beside, letters.note)
        if fits:
            draw_text(canvas, x + width, base, settings, letters.note, align="right")
        y = top - len(names) * letters.name * LEADING
        for part in under:
            y = part.draw(canvas, x + letters.indent, y)
        _hairline(canvas, x, top - height + 0.6, width)

    return Block(height, draw)


def _wide(step: TicketStep, width: float, letters: Letters) -> Block:
    """Name, settings and what is sewn in at the left, notes beside them; without notes they have the whole width."""
    has_notes = bool(step.setup_note or step.quality_note)
    split = width * NOTES_FROM if has_notes else width
    names = wrap(f"{step.position} {step.name}", letters.name, split - letters.indent - 10, bold=True)
    settings = _words(settings_words(step), split - letters.indent - 10, letters)
    notes = [
        _words(step.setup_note, width - split, letters),
        _words(step.quality_note, width - split, letters, LOOK),
    ]
    name_width = width_of(names[-1], letters.name, bold=True) + 8 if names else 0.0
    room = split - letters.indent - 10
    take = _words(step.take, room, letters, TAKE)
    fits = step.take and width_of(step.take, take.size) + take.indent <= room - name_width
    left = len(names) * letters.name * LEADING + settings.height + (0.0 if fits else take.height)
    height = max(left, sum(part.height for part in notes)) + letters.after

    def draw(canvas: Canvas, x: float, top: float) -> None:
        _tick(canvas, x, top, letters)
        draw_lines(canvas, x + letters.indent, top - letters.name, names, letters.name, bold=True)
        y = settings.draw(canvas, x + letters.indent, top - len(names) * letters.name * LEADING)
        if fits:
            low = top - (len(names) - 1) * letters.name * LEADING - letters.name + take.size
            take.draw(canvas, x + letters.indent + name_width, low)
        else:
            take.draw(canvas, x + letters.indent, y)
        y = top
        for part in notes:
            y = part.draw(canvas, x + split, y)
        _hairline(canvas, x, top - height + 0.6, width)

    return Block(height, draw)


def _tick(canvas: Canvas, x: float, top: float, letters: Letters) -> None:
    canvas.setFillColor(INK)
    check_box(canvas, x, top - letters.name - 1, letters.name - 0.6)


def _hairline(canvas: Canvas, x: float, y: float, width: float) -> None:
    canvas.setStrokeColor(HAIR)
    canvas.setLineWidth(0.3)
    canvas.line(x, y, x + width, y)
