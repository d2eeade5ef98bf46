"""How cloth is spread for a lay: what to do with it in words, and its plies drawn as they lie on the table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from reportlab.pdfgen.canvas import Canvas

from planner.papers import amounts
from planner.papers.blocks import Block, stacked, text_block
from planner.papers.data import GarmentCut, LayPaper, PlyRow, RollPart
from planner.papers.layers import layers_in_words, spread_of_colour
from planner.papers.marks import INK, check_box, rule, swatch
from planner.papers.typefaces import LEADING, draw_lines, draw_text, fitting_size, wrap

PAIRED = "Each outline gives a piece and its mirror image."
UNBROKEN = "\N{NO-BREAK SPACE}"
#: Widths at the left of a row of plies: their numbers, and the plies drawn.
NUMBERS, DRAWN = 52.0, 62.0
#: The same in a column that is narrower than this, and the room for a check box at its right.
NARROW, NUMBERS_NARROW, DRAWN_NARROW, TICK = 300.0, 34.0, 26.0, 18.0
SIZE = 9.0
#: Side of the square in the colour of the cloth.
SWATCH = 8.5
#: Room to write something in.
WRITE_IN = "_" * 12
#: No more plies than this are drawn of one row.
MOST_DRAWN = 8


def way_in_words(lay: LayPaper) -> str:
    """What to do with the cloth, in the order of doing it (common practice), and how much of it lies then."""
    layers = layers_in_words(sum(count for _, count in lay.plies), lay.way)
    return " ".join(filter(None, (_way(lay), layers)))


def _way(lay: LayPaper) -> str:
    if lay.mode == "face_to_face":
        turned = (
            ", turned end for end: cut the lower ply off and turn the cloth round, so that the nap of both "
            "runs the same way"
            if lay.one_way
            else ""
        )
        return (
            "Face to face: plies lie in pairs. The lower one lies right side up; lay the second ply on it, "
            f"right sides together{turned}. {PAIRED}"
        )
    if lay.mode == "folded":
        if lay.is_tube:
            return f"A tube, laid flat as it is and without a twist; its folds are the edges of the drawing. {PAIRED}"
        return (
            "Folded lengthwise: right sides together, selvedge on selvedge; the fold is the lower edge of the "
            f"drawing. {PAIRED}"
        )
    same = (
        " Cut each ply off and begin the next at the same end, so that the nap runs the same way in all."
        if lay.one_way and sum(count for _, count in lay.plies) > 1
        else ""
    )
    return f"Open: every ply lies flat, right side up.{same} Each outline gives one piece a ply."


def plies_in_words(lay: LayPaper) -> str:
    """What is spread, from the bottom: "2 × ink, 1 × chalk", "3 pairs of plies of ink", "2 folded lengths of ink".

    Of a lay that is begun with what is cut of it: "5 × ink (2 cut, 3 to cut)".
    """
    told = []
    for n, (colour, count) in enumerate(lay.plies):
        words = spread_of_colour(count, colour, lay.way)
        if lay.plies_cut:
            cut = lay.plies_cut[n][1]
            words += f" ({cut} cut, {count - cut} to cut)"
        told.append(words)
    return ", ".join(told) or "no plies"


def turning_in_words(lay: LayPaper) -> str:
    """Which way the pieces point."""
    if lay.one_way:
        return "One way: all pieces point the same way."
    return "Two way: pieces may be turned."


def side_by_side_in_words(lay: LayPaper) -> str:
    """ "Of each garment front and back lie side by side: keep them together."; "" where nothing has to."""
    if not lay.side_by_side:
        return ""
    return (
        f"Of each garment {'; '.join(lay.side_by_side)} lie side by side, from one ply: keep them together."
    )


def twins_in_words(lay: LayPaper) -> str:
    """ "Of the two plies of ab the upper is a's, the lower b's." for pieces marked with two letters whose garments go
    different ways; "" where none do."""
    marked = [tuple(signs.split()) for signs in sorted({piece.garment for piece in lay.pieces})]
    pairs = [(two[0], two[1]) for two in marked if len(two) == 2]
    apart = [two for two in pairs if any(_go_apart(row, *two) for row in lay.ply_rows)]
    if not apart:
        return ""
    (upper, lower), plies = (
        apart[0],
        "the two plies" if sum(n for _, n in lay.plies) == 1 else "each two plies",
    )
    rule = f"of {upper}{lower} the upper is {upper}'s, the lower {lower}'s"
    if len(pairs) > 1:
        rule = f"of a piece with two letters the upper is the first one's, the lower the other's: {rule}"
    alone = "; of a piece with one letter both are its" if len(marked) > len(pairs) else ""
    return f"Of {plies} {rule}{alone}."


def _go_apart(row: PlyRow, one: str, other: str) -> bool:
    """Whether two garments of the marker are of different kinds there, or of different bundles."""
    return any((one in cut.signs.split()) != (other in cut.signs.split()) for cut in row.cuts)


def roll_in_words(part: RollPart | None) -> str:
    """ "roll R-12, shade lot 4471"; "" where no roll was chosen."""
    if part is None:
        return ""
    if not part.number:
        return "cloth to be bought"
    return f"roll {part.number}" + (f", shade lot {part.shade_lot}" if part.shade_lot else "")


def rolls_in_words(lay: LayPaper, *, imperial: bool = False) -> str:
    """Which rolls a lay takes, in the order they come to the table; "" where none were chosen.

    Plies that are cut already take nothing more.
    """
    told = []
    to_come = [row for row in lay.ply_rows if not row.is_cut]
    for (colour, source), rows in groupby(to_come, key=lambda row: (row.colour, roll_in_words(row.roll))):
        parts = [row.roll for row in rows if row.roll is not None]
        if parts:
            plies = sum(part.plies for part in parts)
            long_mm = sum(part.length_mm for part in parts)
            metres = amounts.cloth(long_mm / 1000, imperial=imperial, at_least=True)
            if plies == 1:  # the length to spread, so told as it is
                metres = amounts.spread_length(long_mm, imperial=imperial)
            one, more = ("length", "lengths") if lay.mode == "folded" else ("ply", "plies")
            told.append(f"{colour}: {source}, {plies} {one if plies == 1 else more}, {metres}")
    return "; then ".join(told)


@dataclass(frozen=True)
class _Row:
    """Plies that are alike, measured."""

    row: PlyRow
    head: tuple[str, ...]
    cuts: tuple[str, ...]

    @property
    def height(self) -> float:
        words = len(self.head) * (SIZE + 1) * LEADING + len(self.cuts) * SIZE * LEADING + 6
        return max(words, 22.0)


def ply_stack(lay: LayPaper, width: float) -> Block:
    """The plies of a lay as they lie: the highest row on top, ply 1 on the table; a check box for each row
    of a lay that is still to be spread."""
    return stacked(ply_blocks(lay, width))


def ply_blocks(lay: LayPaper, width: float) -> list[Block]:
    """The same row by row, so that many rows go on over the page."""
    columns = (NUMBERS, DRAWN) if width >= NARROW else (NUMBERS_NARROW, DRAWN_NARROW)
    inner = width - sum(columns) - TICK
    rows = [_row_block(lay, _measured(row, inner), width, columns) for row in reversed(lay.ply_rows)]
    title = text_block("plies, counted from the table up", width, 8, soft=True, after=2)
    return [stacked([title, *rows[:1]]), *rows[1:-1], stacked([*rows[1:][-1:], _table_block(width)])]


def _row_block(lay: LayPaper, row: _Row, width: float, columns: tuple[float, float]) -> Block:
    def draw(canvas: Canvas, x: float, top: float) -> None:
        rule(canvas, x, top, x + width, top)
        _draw_row(canvas, lay, row, columns, x, top)
        if row.row.is_cut:
            draw_text(canvas, x + width - 2, top - 12, "cut", 9.5, bold=True, align="right")
        elif not lay.is_cut:
            check_box(canvas, x + width - 11, top - 14, 9)

    return Block(row.height, draw)


def _table_block(width: float) -> Block:
    """What the lowest ply lies on."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(2.2)
        canvas.line(x, top - 1, x + width, top - 1)
        draw_text(canvas, x + width, top - 8, "table", 6.5, align="right")

    return Block(10, draw)


def _measured(row: PlyRow, inner: float) -> _Row:
    source = _cut_in_words(row) if row.is_cut else roll_in_words(row.roll) or f"roll {WRITE_IN}"
    if row.roll is not None and not row.roll.number and not row.is_cut:
        source += f", roll and lot {WRITE_IN}"
    room = inner - (SWATCH + 5 if row.swatch else 0)
    head = wrap(f"{row.colour} · {source}", SIZE + 1, room, bold=True)
    lines = (line for kind in cuts_in_words(row.cuts) for line in wrap(kind, SIZE, inner + TICK - 2))
    return _Row(row, head, tuple(lines))


def _cut_in_words(row: PlyRow) -> str:
    return f"cut already, shade lot {row.shade_lot}" if row.shade_lot else "cut already"


def cuts_in_words(cuts: Sequence[GarmentCut]) -> tuple[str, ...]:
    """ "110, ink: a b M → B-0007-03; c L → B-0007-04", a line for each style in one colour and finish, in the order of
    the first garment of each: what is common is said once, however the garments of a marker are lettered."""
    alike: dict[tuple[str, str], list[str]] = {}
    for cut in cuts:
        each = f"{_whole(cut.signs, cut.size)}{_into(cut.bundle)}"
        alike.setdefault((cut.style, cut.choice), []).append(each)
    return tuple(
        f"{style}, {choice}: {'; '.join(each)}" if choice else f"{style}: {'; '.join(each)}"
        for (style, choice), each in alike.items()
    )


def _into(bundle: str) -> str:
    """The arrow and the bundle, which no line parts."""
    return f"{UNBROKEN}→{UNBROKEN}{bundle}" if bundle else ""


def _whole(signs: str, size: str) -> str:
    return f"{signs} {size}".replace(" ", UNBROKEN)


def _draw_row(
    canvas: Canvas, lay: LayPaper, row: _Row, columns: tuple[float, float], x: float, top: float
) -> None:
    first, last = row.row.first, row.row.last
    numbers = str(first) if first == last else f"{first}–{last}"
    for_numbers, for_drawn = columns
    size = fitting_size(numbers, 15, 7, for_numbers - 8, bold=True)
    middle = top - row.height / 2
    canvas.setFillColor(INK)
    draw_text(canvas, x, middle - size * 0.36, numbers, size, bold=True)
    drawn = (x + for_numbers, x + for_numbers + for_drawn - 14)
    _draw_plies(canvas, lay.mode, last - first + 1, drawn, middle, row.height)
    left = x + for_numbers + for_drawn
    indent = 0.0
    if row.row.swatch:
        swatch(canvas, row.row.swatch, left, top - SIZE - 2.6, SWATCH)
        indent = SWATCH + 5
    y = draw_lines(canvas, left + indent, top - SIZE - 2, row.head, SIZE + 1, bold=True)
    draw_lines(canvas, left, y + (SIZE + 1) * LEADING - SIZE * LEADING - 1.5, row.cuts, SIZE)


def _draw_plies(
    canvas: Canvas, mode: str, count: int, ends: tuple[float, float], middle: float, height: float
) -> None:
    """Each ply a line seen from the side; a pair face to face stands close, a folded one is closed at its fold."""
    paired = mode != "open"
    drawn = min(count, MOST_DRAWN)
    step = min(4.0, (height - 6) / max(drawn, 1))
    x, right = ends
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(1.0)
    low = middle - step * (drawn - 1) / 2
    for ply in range(drawn):
        # The two plies of a pair are drawn nearer to each other than to the next pair.
        y = low + step * ply + (0.18 * step if paired and ply % 2 == 0 else -0.18 * step if paired else 0)
        canvas.line(x, y, right, y)
        if mode == "folded" and ply % 2 == 1:
            canvas.line(x, low + step * (ply - 1) + 0.18 * step, x, y)
    if count > drawn:
        draw_text(canvas, right + 2, middle - 2.4, "…", 7)


def no_rows_block(lay: LayPaper, width: float) -> Block:
    """Plies of a lay whose numbering is not known, in one line."""
    return text_block(f"Plies: {plies_in_words(lay)}.", width, 10, bold=True, after=4)
