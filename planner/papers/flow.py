"""Words that run on one after the other, bold labels among them, as closely as a small label needs it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from planner.papers.typefaces import clean, draw_text, width_of

#: A space that ends no line: about a sign of times, between a figure and its unit, before the number of a lay or ply.
_ONE_WORD = re.compile(r"(?<=\d) (?=×)|(?<=×) |(?<=\d) (?=(?:mm|cm|m|in|yd)\b)|(?<=\b(?:lay|ply)) (?=\d)")
#: Words of one weight on one line, and where they begin.
Stretch = tuple[float, str, bool]


@dataclass(frozen=True)
class Flow:
    """Lines of stretches, each line `lead` beneath the one before."""

    lines: tuple[tuple[Stretch, ...], ...]
    size: float
    lead: float

    def draw(self, canvas: Canvas, x: float, base: float) -> None:
        """The first line stands on `base`."""
        for line in self.lines:
            for at, text, bold in line:
                draw_text(canvas, x + at, base, text, self.size, bold=bold)
            base -= self.lead


def kept_together(text: str) -> str:
    """The text with what is read as one word on one line: "2 × front", "6 mm", "lay 3", "ply 1"."""
    return _ONE_WORD.sub("\N{NO-BREAK SPACE}", text)


def flowing(
    parts: Sequence[tuple[str, str]], size: float, lead: float, width: float, *, first: float = 0.0
) -> Flow | None:
    """Parts (label, text) one behind the other; the first line begins at `first`, others at 0.

    None where words cannot simply be put one beside the other: some run from the right, know no spaces, or are wider
    than a line.
    """
    words = [
        (word, bold)
        for label, text in parts
        for part, bold in ((label, True), (text, False))
        for word in clean(part).split(" ")
        if word
    ]
    space, bold_space = width_of(" ", size), width_of(" ", size, bold=True)
    lines: list[list[Stretch]] = [[]]
    x = first
    for word, bold in words:
        long = width_of(word, size, bold=bold)
        if long > width or not (word.isascii() or all(_is_simple(letter) for letter in word)):
            return None
        line = lines[-1]
        gap = space if line or x else 0.0
        # Before and behind a label there is a little more air than between words.
        if line and line[-1][2] != bold:
            gap += space * (0.9 if bold else 0.3)
        elif bold:
            gap = bold_space if line else gap
        if x + gap + long > width:
            lines.append([(0.0, word, bold)])
            x = long
        elif line and line[-1][2] == bold:
            at, before, _ = line[-1]
            line[-1] = (at, f"{before} {word}", bold)
            x += gap + long
        else:
            line.append((x + gap, word, bold))
            x += gap + long
    return Flow(tuple(tuple(line) for line in lines if line or first), size, lead)


def _is_simple(letter: str) -> bool:
    return (
        unicodedata.bidirectional(letter) not in ("R", "AL")
        and unicodedata.east_asian_width(letter) not in ("W", "F")
        and unicodedata.category(letter) not in ("Mn", "Mc", "Me")
    )
