"""What is written on the pieces of a lay at true scale: as large as it fits, so that it is read from the cloth.

Lengths in mm, in the coordinates of the outline: x along the cloth, y across it upwards.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from shapely import Polygon, box, prepare

from planner.core.outline import Outline, Point

#: The height of letters: what a piece is called, what else is known of it; the least of both.
LARGEST_MM, LARGEST_NOTE_MM, LEAST_MM = 25.0, 14.0, 2.0
#: Width of a letter and height of a line, as shares of the height of letters (common practice for sans-serif faces).
LETTER, LINE = 0.6, 1.25
#: Clear space between the grain line and words (mm).
CLEAR_MM = 4.0
#: How many lines the words may take.
MOST_LINES = 3
#: Where along the grain line words may have their middle, as shares of its length from its own middle.
MIDDLES = (0.0, -0.2, 0.2, -0.4, 0.4)
#: Sizes are tried in steps of this.
SMALLER = 0.88


@dataclass(frozen=True)
class Words:
    """One line: `at` is the middle of its base line; `is_upright` where it runs across the cloth, to larger y."""

    text: str
    at: Point
    size_mm: float
    is_upright: bool = False


class _Block(NamedTuple):
    """Lines beside the grain line, in letters so high (mm), above or below it on the cloth.

    `middle` says where along the grain line, see :data:`MIDDLES`; upright lines run across the cloth.
    """

    lines: Sequence[str]
    size_mm: float
    grain: tuple[Point, Point]
    middle: float
    is_upright: bool
    is_above: bool

    @property
    def room(self) -> tuple[float, float, float, float]:
        """Left, low, right and high edge."""
        (x0, y), (x1, _) = self.grain
        x = (x0 + x1) / 2 + self.middle * (x1 - x0)
        long = LETTER * self.size_mm * max(map(len, self.lines))
        high = LINE * self.size_mm * len(self.lines)
        along, across = (high, long) if self.is_upright else (long, high)
        low = y + CLEAR_MM if self.is_above else y - CLEAR_MM - across
        return x - along / 2, low, x + along / 2, low + across

    @property
    def written(self) -> tuple[Words, ...]:
        """Its lines, each at its place."""
        left, low, right, high = self.room
        told = []
        for n, text in enumerate(self.lines):
            base = (n * LINE + 1.0) * self.size_mm
            at = (left + base, (low + high) / 2) if self.is_upright else ((left + right) / 2, high - base)
            told.append(Words(text, at, self.size_mm, self.is_upright))
        return tuple(told)


def words_on(outline: Outline, grain: tuple[Point, Point], name: str, note: str) -> tuple[Words, ...]:
    """The name on one side of the grain line and the note on the other, each as large as it fits into the piece.

    What fits in no size stands at the grain line in the least one.
    """
    shape = outline.polygon
    prepare(shape)
    found = [
        _best(shape, grain, name, LARGEST_MM, is_above=True),
        _best(shape, grain, note, LARGEST_NOTE_MM, is_above=False) if note else (),
    ]
    return tuple(words for block in found for words in block)


def _best(
    shape: Polygon, grain: tuple[Point, Point], text: str, largest: float, *, is_above: bool
) -> tuple[Words, ...]:
    """The lines of a text in the largest letters with which it stays within the piece."""
    best: tuple[Words, ...] = ()
    least = LEAST_MM
    for lines in _split(text):
        for is_upright in (False, True):
            for middle in MIDDLES:
                size = largest
                while size > least:
                    block = _Block(lines, size, grain, middle, is_upright, is_above)
                    if shape.contains(box(*block.room)):
                        best = block.written
                        least = size
                        break
                    size *= SMALLER
    return best or _Block((text,), LEAST_MM, grain, 0.0, is_upright=False, is_above=is_above).written


def _split(text: str) -> Iterator[tuple[str, ...]]:
    """The text in one line, and in more that are about as long as one another."""
    parts = text.split(" ")
    for count in range(1, min(MOST_LINES, len(parts)) + 1):
        longest = len(text) / count
        line = ""
        lines: list[str] = []
        for part in parts:
            if line and len(line) + len(part) / 2 > longest and len(lines) < count - 1:
                lines.append(line)
                line = part
            else:
                line = f"{line} {part}".strip()
        yield (*lines, line)
