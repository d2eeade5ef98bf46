"""Elastic and tape to cut, and bands with their cut size: equal lengths together, sums that can be followed by hand."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from planner.core.listed import counted
from planner.core.units import SIXTEENTHS, format_length, mm_in, yards_as_printed
from planner.papers.blocks import run_in_block, text_block, ticked_block
from planner.papers.data import LengthRow, LengthTotal
from planner.papers.figures import figure, nearest, percent_factor, places_for, up
from planner.papers.sheet import Column, Sheet
from planner.papers.typefaces import width_of

#: A band's check box with what keeps it from its words and these from its size; between two bands; bands in a row.
CHECK, BETWEEN, MOST_ACROSS = 24.0, 12.0, 4
#: Yards are bought to the eighth.
EIGHTHS = 8
#: Of the need, as of everything that is bought by the metre.
NEED_PLACES = 2


@dataclass(frozen=True)
class Tape:
    """The measure that lengths are cut and added up with.

    Lengths are told in the unit `small`, their sums in `sums`, which has `in_small` small ones; and `in_sums` sums make
    a `big` unit, in which is bought. Every sum is exact. A tape with `steps` has no decimals: its lengths are rounded
    to that many steps of the small unit.
    """

    small: str
    sums: str
    big: str
    steps: int = 0

    @property
    def small_mm(self) -> Decimal:
        """Millimetres in a small unit."""
        return mm_in(self.small)

    @property
    def in_small(self) -> int:
        """Small units in one of the sums."""
        return int(mm_in(self.sums) / mm_in(self.small))

    @property
    def in_sums(self) -> int:
        """Units of sums in a big one."""
        return int(mm_in(self.big) / mm_in(self.sums))

    def short(self, mm: float, places: int) -> Decimal:
        """A length in the small unit as it is printed."""
        exact = nearest(mm, 6) / self.small_mm
        return nearest(exact * self.steps, 0) / self.steps if self.steps else nearest(exact, places)

    def as_cut(self, row: LengthRow) -> LengthRow:
        """A row as it is measured with a tape that has steps, so that what is cut alike is told once."""
        if not self.steps:
            return row
        width = None if row.width_mm is None else float(self.short(row.width_mm, 0) * self.small_mm)
        return replace(row, length_mm=float(self.short(row.length_mm, 0) * self.small_mm), width_mm=width)

    def long(self, short: Decimal) -> Decimal:
        """Small units told in the unit of sums."""
        return (short / self.in_small).normalize()

    def told(self, value: Decimal, unit: str = "", least: int = 0) -> str:
        """A length or a sum as it is printed; of a tape with steps always with its unit."""
        if self.steps:
            return format_length(value * self.small_mm, "imperial", "small")
        return figure(value, unit, least=least)

    def needed(self, sums: Decimal, factor: Decimal) -> Decimal:
        """The amount to buy by for such a sum with waste, rounded up as it is printed."""
        big = sums / self.in_sums * factor
        return up(big * EIGHTHS, 0) / EIGHTHS if self.steps else up(big, NEED_PLACES)


METRIC = Tape("mm", "m", "m")
IMPERIAL = Tape("in", "in", "yd", SIXTEENTHS)


def draw_lengths(
    sheet: Sheet, rows: Sequence[LengthRow], totals: Sequence[LengthTotal], *, imperial: bool
) -> None:
    """One table for each thing that is cut by length, with its sums; then the bands with length and width."""
    tape = IMPERIAL if imperial else METRIC
    of_thing: dict[str, list[LengthRow]] = defaultdict(list)
    bands: list[LengthRow] = []
    for row in map(tape.as_cut, rows):
        if row.width_mm is None:
            of_thing[row.what].append(row)
        else:
            bands.append(row)
    if of_thing:
        sheet.section("Elastic and tape to cut", keep=90)
    known = {total.what: total for total in totals}
    for n, what in enumerate(sorted(of_thing)):
        if n:
            sheet.joint(90)
        _thing(sheet, of_thing[what], known.get(what, LengthTotal(what, 0.0, None)), tape)
    if bands:
        sheet.section("Bands: cut size", keep=70)
        _bands(sheet, bands, tape)


def equal_lengths(
    lengths: Iterable[LengthRow], places: int = 1
) -> list[tuple[tuple[str, float | None, float], list[LengthRow]]]:
    """Rows of the same thing, width and length (to 0.1 mm) together, shortest first within a thing."""
    groups: dict[tuple[str, float | None, float], list[LengthRow]] = {}
    for row in lengths:
        width = None if row.width_mm is None else round(row.width_mm, 1)
        groups.setdefault((row.what, width, round(row.length_mm, places)), []).append(row)
    return sorted(groups.items(), key=lambda item: (item[0][0], item[0][1] or 0.0, item[0][2]))


@dataclass(frozen=True)
class Sums:
    """The sums of one thing, from lengths as they are printed. `need` is the amount to buy by, waste included; where
    the sum `is_of_exact` lengths it does not follow from the steps of a tape.
    """

    places: int
    by_size: tuple[tuple[str, Decimal], ...]
    together: Decimal
    factor: Decimal
    need: Decimal
    is_of_exact: bool = False


def sums_of(rows: Sequence[LengthRow], total: LengthTotal, tape: Tape = METRIC) -> Sums:
    """Sums with as many places in a length as it takes for the need to follow from what is printed."""
    factor = percent_factor(total.waste_share)
    wanted = None
    if total.need_m is not None:
        exact = nearest(total.need_m * 1000, 6) / (tape.small_mm * tape.in_small)
        wanted = tape.needed(exact, Decimal(1))

    def together(places: int) -> Decimal:
        return tape.long(sum((r.count * tape.short(r.length_mm, places) for r in rows), Decimal(0)))

    def follows(places: int) -> bool:
        return wanted is None or tape.needed(together(places), factor) == wanted

    places = 0 if tape.steps else places_for(follows)
    sizes: dict[str, list[LengthRow]] = defaultdict(list)
    for row in rows:
        sizes[" ".join(part for part in (row.style, row.size) if part)].append(row)
    by_size = tuple(
        (
            name,
            tape.long(sum((r.count * tape.short(r.length_mm, places) for r in same), Decimal(0))),
        )
        for name, same in sizes.items()
    )
    whole = together(places)
    if wanted is not None and tape.steps and not follows(places):
        return Sums(places, by_size, whole, factor, wanted, is_of_exact=True)
    return Sums(places, by_size, whole, factor, tape.needed(whole, factor))


def _thing(sheet: Sheet, rows: Sequence[LengthRow], total: LengthTotal, tape: Tape) -> None:
    sums = sums_of(rows, total, tape)
    width = sheet.inner_width
    sheet.place(text_block(total.what, width, 11, bold=True, after=2))
    columns = (
        Column("count", 1.0, "right", bold=True),
        Column("length", 1.6, "right", bold=True),
        Column("together", 1.6, "right"),
        Column("for", 6.0),
    )
    places = sums.places if tape is METRIC else 1
    cells = []
    for (_, _, _), same in equal_lengths(rows, places):
        count = sum(row.count for row in same)
        short = tape.short(same[0].length_mm, sums.places)
        # How a length comes about is reckoned in millimetres: in sixteenths it would not follow.
        uses = "; ".join(_use(row, with_how=not tape.steps) for row in same)
        cells.append(
            (
                f"{count}\u2009×",
                tape.told(short, tape.small),
                f"= {tape.told(tape.long(count * short), tape.sums, least=3)}",
                uses,
            )
        )
    sheet.table(columns, cells)
    sheet.gap(3)
    if len(sums.by_size) > 1:
        sizes = " + ".join(f"{name}\u00a0{tape.told(metres, least=3)}" for name, metres in sums.by_size)
        whole = tape.told(sums.together, tape.sums, least=3)
        sheet.place(run_in_block("By size", f"{sizes} = {whole}", width, 9.5))
    sheet.place(run_in_block("In all", _in_all(rows, sums, tape), width, 9.5, after=9))


def _in_all(rows: Sequence[LengthRow], sums: Sums, tape: Tape) -> str:
    count = sum(row.count for row in rows)
    words = f"{counted(count, 'length')} = {tape.told(sums.together, tape.sums, least=3)}"
    need = yards_as_printed(sums.need) if tape.steps else figure(sums.need, tape.big, least=NEED_PLACES)
    if sums.is_of_exact:
        waste = f" and {figure(sums.factor)} for waste" if sums.factor != 1 else ""
        return f"{words}; with lengths as they are before they are rounded{waste}, {need}, rounded up"
    if sums.factor != 1 or tape.steps:
        by = f" ÷ {tape.in_sums}" if tape.in_sums != 1 else ""
        by += f" × {figure(sums.factor)} for waste" if sums.factor != 1 else ""
        words += f"; {tape.told(sums.together, least=3)}{by} = {need}, rounded up"
    return words


def _use(row: LengthRow, *, with_how: bool) -> str:
    named = " ".join(part for part in (row.style, row.size, row.where) if part)
    return f"{row.count} × {named}" + (f" ({row.how})" if row.how and with_how else "")


def _bands(sheet: Sheet, rows: Sequence[LengthRow], tape: Tape) -> None:
    """Each band with its sizes side by side, as many as go beside each other: they are many, and their words few."""
    of_band: dict[tuple[str, str], list[LengthRow]] = defaultdict(list)
    for row in rows:
        of_band[row.what, row.where].append(row)
    cells: dict[tuple[str, str], list[tuple[str, str]]] = defaultdict(list)
    for band, own in of_band.items():
        for (_, width_mm, _), same in equal_lengths(own, 0):
            long, wide = (tape.short(mm, 0) for mm in (same[0].length_mm, width_mm or 0.0))
            count = sum(row.count for row in same)
            uses = _sizes(same) if len(same) == 1 else f"{_sizes(same)} = {count}\u2009×"
            cells[band].append((uses, f"{tape.told(long)} × {tape.told(wide, tape.small)}"))
    room = max(
        CHECK + width_of(uses, 9) + width_of(size, 9, bold=True)
        for own in cells.values()
        for uses, size in own
    )
    across = max(1, min(MOST_ACROSS, int(sheet.inner_width // (room + BETWEEN))))
    width = sheet.inner_width / across
    for (what, where), own in sorted(cells.items()):
        title = text_block(" · ".join(filter(None, (what, where))), sheet.inner_width, 10, bold=True, after=2)
        blocks = [ticked_block(uses, width - BETWEEN, 9, right=size) for uses, size in own]
        sheet.need(title.height + 2 * blocks[0].height)
        sheet.place(title)
        for start in range(0, len(blocks), across):
            sheet.place_row(blocks[start : start + across], [width] * across)
        sheet.gap(2)
    note = "How many, for which size, length × width. Length is the longer side; both measured on the outline as it is "
    note += f"cut, to the {'millimetre' if tape is METRIC else 'sixteenth of an inch'}."
    sheet.place(text_block(note, sheet.inner_width, 8.5, soft=True))


def _sizes(rows: Sequence[LengthRow]) -> str:
    """ "2 × 110 XS; 4 × 130 M"."""
    return "; ".join(f"{row.count} × {' '.join(filter(None, (row.style, row.size)))}" for row in rows)
