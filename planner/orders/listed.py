"""Order lines from a list: rows copied from a spreadsheet, or a CSV file, under heads that name the columns."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field

from planner.orders.choices import StyleChoice, StyleName
from planner.orders.drafts import MOST_LINES, LineDraft, match_styles, quantity_or_none

MOST_BYTES = 500_000
MOST_ROWS = 5_000
#: So many commas in an option's own name are looked for.
_MOST_COMMAS = 4
#: Heads that mean the same, without capitals.
_HEADS = {
    "style": "style", "options": "options", "option": "options", "colourway": "colourway", "colour": "colourway",
    "color": "colourway", "size": "size", "quantity": "quantity", "qty": "quantity", "pieces": "quantity",
}  # fmt: skip
_HOW = (
    "The first row must name the columns: style, colourway, size and quantity, or style, colourway and a "
    "column for each size."
)


_NOTHING_THERE = "Paste rows of a list here, or choose a file."


class ListError(ValueError):
    """Why a list cannot be read, for whoever brought it."""


@dataclass
class ListedLine:
    """Garments of a list that are one line of an order, as written there; `quantities` by size."""

    style: str
    options: str
    colourway: str
    quantities: dict[str, str] = field(default_factory=dict)


def text_of_file(data: bytes) -> str:
    """The text of a list that came as a file. Raises ListError."""
    if len(data) > MOST_BYTES:
        raise ListError(f"The file is larger than {MOST_BYTES // 1000} kB.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise ListError("The file is not text in UTF-8. Save the list as CSV in UTF-8.") from fault


def read_list(text: str, details: Collection[str] = ()) -> list[ListedLine]:
    """The lines of a list, one for each style, options and colourway, equal garments added up. Nothing is checked
    against the styles, but a column headed with one of `details` (names, as "neck") holds options, no quantities.
    Columns stand apart by tabs, commas or semicolons. Raises ListError.
    """
    if len(text) > MOST_BYTES:
        raise ListError(f"The list is longer than {MOST_BYTES // 1000:,} thousand characters.")
    rows = _rows(text)
    heads = [_HEADS.get(head.casefold(), head) for head in rows[0]]
    if "style" not in heads or len(heads) < 2:
        raise ListError(_HOW)
    if ("size" in heads) != ("quantity" in heads):
        raise ListError(f"There is a column size or quantity, and not both. {_HOW}")
    if len(rows) == 1:
        raise ListError("There is no row under the heads.")
    known = {_plain(name) for name in details}
    choosing = [head for head in heads if head not in _HEADS.values() and _plain(head) in known]
    lines: dict[tuple[str, str, str], ListedLine] = {}
    for cells in rows[1:]:
        row = {head: cell for head, cell in zip(heads, cells, strict=False) if head}
        chosen = [f"{head}={cell}" for head in choosing if (cell := row.pop(head, ""))]
        options = "; ".join([*filter(None, [row.get("options", "")]), *chosen])
        key = (row.get("style", ""), options, row.get("colourway", ""))
        line = lines.setdefault(key, ListedLine(*key))
        for size, quantity in _quantities(row, each="size" in heads):
            line.quantities[size] = _together(line.quantities.get(size, ""), quantity)
    if len(lines) > MOST_LINES:
        raise ListError(f"The list makes {len(lines):,} lines; one order holds at most {MOST_LINES}.")
    return list(lines.values())


def _rows(text: str) -> list[list[str]]:
    """The rows with anything in them, the heads first; at least one. Raises ListError."""
    lines = text.lstrip("\r\n\ufeff ").splitlines()
    if not lines:
        raise ListError(_NOTHING_THERE)
    delimiter = max("\t;,", key=lines[0].count)
    try:
        rows = [
            [cell.strip() for cell in row]
            for row in csv.reader(io.StringIO("\n".join(lines)), delimiter=delimiter)
        ]
    except csv.Error as fault:
        raise ListError(f"This is no list of rows ({fault}).") from fault
    rows = [row for row in rows if any(row)]
    if not rows:
        raise ListError(_NOTHING_THERE)
    if len(rows) > MOST_ROWS + 1:
        raise ListError(f"There are more than {MOST_ROWS:,} rows.")
    return rows


def _quantities(row: dict[str, str], *, each: bool) -> Iterator[tuple[str, str]]:
    """Size and quantity: one of `each` row, else one for every column of a size that is filled."""
    if each:
        size, quantity = row.get("size", ""), row.get("quantity", "")
        if size or quantity:
            yield size or "?", quantity
        return
    yield from ((head, cell) for head, cell in row.items() if head not in _HEADS.values() and cell)


def _together(before: str, more: str) -> str:
    """The sum of both; what cannot be read as a number stays to be seen and put right."""
    one, other = quantity_or_none(before), quantity_or_none(more)
    if one is None or other is None:
        return before if one is None else more
    return str(one + other) if before else more


def drafts_of_list(
    lines: Sequence[ListedLine], first_key: int, names: Sequence[StyleName]
) -> tuple[list[LineDraft], list[str]]:
    """The lines as the form has them, spelt as their styles spell it, and which options and colourways no style has."""
    drafts = [
        LineDraft(first_key + i, None, line.style, {}, line.colourway, dict(line.quantities))
        for i, line in enumerate(lines)
    ]
    match_styles(drafts, names)
    unknown = []
    for draft, line in zip(drafts, lines, strict=True):
        if draft.style:
            unknown += [
                f"{draft.style} has no option “{part[:40]}”."
                for part in _spell(draft, draft.style, line.options)
            ]
            if draft.colourway and draft.colourway not in {one.name for one in draft.style.colourways}:
                unknown.append(f"{draft.style} has no colourway “{draft.colourway[:40]}”.")
    return drafts, list(dict.fromkeys(unknown))


def _spell(draft: LineDraft, style: StyleChoice, options: str) -> list[str]:
    """Takes the style's own spelling; gives the parts of `options` that name none of its options."""
    draft.colourway = _same(draft.colourway, [c.name for c in style.colourways])
    draft.quantities = {_same(size, list(style.sizes)): text for size, text in draft.quantities.items()}
    parts = list(re.finditer("[^;,]+", options))
    unknown = []
    while parts:
        # Longest first: an option's own name may hold a comma.
        for count in range(min(len(parts), _MOST_COMMAS + 1), 0, -1):
            found = _option(options[parts[0].start() : parts[count - 1].end()], style)
            if found:
                draft.options[found[0]] = found[1]
                parts = parts[count:]
                break
        else:
            unknown += [part] if (part := parts.pop(0)[0].strip()) else []
    return unknown


def _option(text: str, style: StyleChoice) -> tuple[str, str] | None:
    """The detail and option that “neck=rib band”, “neck: rib band” or “rib band” means."""
    detail, _, option = re.sub("[=:]", "=", text, count=1).rpartition("=")
    wanted, within = _plain(option), _plain(detail)
    found = [
        (one.name, name)
        for one in style.details
        for name in one.options
        if name.casefold() == wanted and within in ("", one.name.casefold())
    ]
    return found[0] if len(found) == 1 else None


def _same(typed: str, names: Sequence[str]) -> str:
    """The name that differs from what was typed in capitals and spaces only, else what was typed."""
    return next((name for name in names if _plain(name) == _plain(typed)), typed)


def _plain(name: str) -> str:
    """Without capitals and spare spaces."""
    return " ".join(name.split()).casefold()
