"""The buy list as a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from planner.papers.buy_data import BuyLine
from planner.papers.buy_lists import buy_list_csv, csv_heads
from tests.papers import samples


def rows(data: bytes) -> list[list[str]]:
    """The cells as a spreadsheet reads them."""
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def test_it_opens_with_the_byte_order_mark_and_keeps_every_cell() -> None:
    data = samples.buy_list_data()
    made = buy_list_csv(data)
    assert made.startswith(b"\xef\xbb\xbf")
    head, *lines = rows(made)
    assert tuple(head) == csv_heads(data)
    assert len(lines) == len(data.lines)
    assert [cell for cell in lines[0] if cell] == [
        "Millrace Cloth",
        "Cotton jersey 180",
        "ink",
        "7.81 m",
        "0 m",
        "8.0 m",
        "72.00",
        "EUR",
        "for lays 1 and 2",
    ]


def test_what_lies_there_is_called_as_the_page_calls_it() -> None:
    """Of one batch stock is what is there for it, of all of them what lies in stock."""
    assert "in stock" in csv_heads(samples.buy_list_data())
    own = csv_heads(replace(samples.buy_list_data(), for_batch=True))
    assert "there for it" in own
    assert "in stock" not in own


@pytest.mark.parametrize("start", ["=", "+", "-", "@", " =", "\t=", "\r="])
def test_no_cell_is_a_formula(start: str) -> None:
    line = BuyLine(*[f'{start}HYPERLINK("http://x")'] * 8)
    _, cells = rows(buy_list_csv(replace(samples.buy_list_data(), lines=(line,))))
    assert [cell[0] for cell in cells if cell not in ("", "EUR")] == ["'"] * 8


def test_quotes_commas_line_breaks_and_scripts_survive() -> None:
    name = f'a "b", c\nd {samples.JAPANESE} {samples.POLISH}'
    line = replace(samples.buy_list_data().lines[0], item=name)
    _, cells = rows(buy_list_csv(replace(samples.buy_list_data(), lines=(line,))))
    assert cells[1] == name
