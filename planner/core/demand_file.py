"""Demand as a CSV file: one garment kind and size a row, under the heads style,options,colourway,size,quantity."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass

from planner.core.missing import clash_in_words
from planner.core.spec import Demand, Garment, Options, StyleSpec, make_options

COLUMNS = ("style", "options", "colourway", "size", "quantity")
MOST_ROWS = 5_000
MOST_BYTES = 2_000_000
MOST_OF_ONE = 9_999


@dataclass(frozen=True, slots=True)
class RowProblem:
    """A row that cannot be read: line (the head is line 1) and column say where."""

    line: int
    column: str
    text: str

    def __str__(self) -> str:
        where = f"line {self.line}" + (f", column {self.column}" if self.column else "")
        return f"{where}: {self.text}"


@dataclass(frozen=True)
class DemandFile:
    """What a file asks for; with problems the demand is empty."""

    demand: tuple[Demand, ...]
    problems: tuple[RowProblem, ...]


def read_demand(data: bytes, styles: Mapping[str, StyleSpec]) -> DemandFile:
    """Reads demand from CSV bytes (UTF-8, comma or semicolon between the columns).

    `styles` are the known styles by number. Options are written `neck=rib band;sleeve=short`, blank for none. Rows for
    the same garment are added up. Every bad row is named by its line and column.
    """
    if len(data) > MOST_BYTES:
        return _refused(1, "", f"the file is larger than {MOST_BYTES // 1_000_000} MB")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return _refused(1, "", "the file is not text in UTF-8")
    lines = text.splitlines()
    if not lines:
        return _refused(1, "", "the file is empty")
    delimiter = ";" if lines[0].count(";") > lines[0].count(",") else ","
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    try:
        head = [name.strip().lower() for name in next(reader)]
        absent = [name for name in COLUMNS if name not in head]
        if absent:
            return _refused(
                1, absent[0], f"the head has no column {absent[0]}; it must be {','.join(COLUMNS)}"
            )
        rows = [(reader.line_num, row) for row in reader if any(cell.strip() for cell in row)]
    except csv.Error as fault:
        return _refused(reader.line_num, "", f"this is no CSV ({fault})")
    if not rows:
        return _refused(2, "", "there is no row under the head")
    if len(rows) > MOST_ROWS:
        return _refused(MOST_ROWS + 2, "", f"there are more than {MOST_ROWS} rows")
    totals: dict[Garment, int] = {}
    problems: list[RowProblem] = []
    for line, cells in rows:
        row = dict(zip(head, (cell.strip() for cell in cells), strict=False))
        found = _read_row(line, {name: row.get(name, "") for name in COLUMNS}, styles)
        if isinstance(found, Demand):
            totals[found.garment] = totals.get(found.garment, 0) + found.quantity
        else:
            problems.append(found)
    if problems:
        return DemandFile((), tuple(problems))
    return DemandFile(tuple(Demand(garment, n) for garment, n in totals.items()), ())


def read_options(text: str) -> Options:
    """`neck=rib band;sleeve=short` as options. Raises ValueError for a part without `=`, or a detail twice."""
    pairs: dict[str, str] = {}
    for part in filter(None, (part.strip() for part in text.split(";"))):
        detail, equals, option = (piece.strip() for piece in part.partition("="))
        if not equals or not detail or not option:
            raise ValueError(f"“{part}” must be written detail=option")
        if detail in pairs:
            raise ValueError(f"{detail} is chosen twice")
        pairs[detail] = option
    return make_options(pairs)


def _refused(line: int, column: str, text: str) -> DemandFile:
    return DemandFile((), (RowProblem(line, column, text),))


def _read_row(line: int, row: Mapping[str, str], styles: Mapping[str, StyleSpec]) -> Demand | RowProblem:
    """One row as demand, or the first thing wrong with it."""
    style = styles.get(row["style"])
    if style is None:
        return RowProblem(line, "style", f"there is no style “{row['style'][:40]}”")
    try:
        options = read_options(row["options"])
    except ValueError as fault:
        return RowProblem(line, "options", str(fault))
    chosen = dict(options)
    for detail, option in options:
        if detail not in style.details:
            return RowProblem(line, "options", f"style {style.number} has no detail “{detail[:40]}”")
        if option not in style.details[detail]:
            known = ", ".join(style.details[detail])
            return RowProblem(line, "options", f"{detail} has no option “{option[:40]}”; there are {known}")
    for detail, offered in style.details.items():
        if offered and detail not in chosen:
            return RowProblem(line, "options", f"choose a {detail}: {', '.join(offered)}")
    for one, other in style.clashes_in(options):
        return RowProblem(line, "options", clash_in_words(one, other))
    if row["colourway"] not in style.colourways:
        known = ", ".join(style.colourways) or "none"
        text = f"style {style.number} has no colourway “{row['colourway'][:40]}”; there are {known}"
        return RowProblem(line, "colourway", text)
    if row["size"] not in style.sizes:
        text = f"style {style.number} has no size “{row['size'][:40]}”; there are {', '.join(style.sizes)}"
        return RowProblem(line, "size", text)
    quantity = row["quantity"]
    if not (
        quantity.isascii()
        and quantity.isdigit()
        and 0 < int(quantity[:9]) <= MOST_OF_ONE
        and len(quantity) < 10
    ):
        return RowProblem(
            line, "quantity", f"“{quantity[:40]}” is not a whole number from 1 to {MOST_OF_ONE}"
        )
    garment = Garment(style.number, options, row["colourway"], row["size"])
    return Demand(garment, int(quantity))
