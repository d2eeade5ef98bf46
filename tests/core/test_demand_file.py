"""Demand read from CSV: what is read, and that every bad row is named by line and column."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.demand_file import read_demand
from planner.core.outline import rectangle
from planner.core.spec import ClothKey, ColourwaySpec, Demand, Garment, PieceSpec, StyleSpec

TEE = StyleSpec(
    number="110",
    name="Tee",
    sizes=("S", "M"),
    base_size="M",
    # Nobody has named an option of the pocket yet, so there is none to choose.
    details={"pocket": (), "neck": ("rib band", "self band")},
    pieces=(
        PieceSpec(
            "front", "body", 1, False, True, None, {"S": rectangle(600, 500), "M": rectangle(620, 520)}
        ),
    ),
    colourways={"ink": ColourwaySpec("ink", {"body": ClothKey("jersey", "ink")}, None)},
)
STYLES = {"110": TEE}
HEAD = "style,options,colourway,size,quantity\n"


def read(text: str) -> list[str]:
    return [str(problem) for problem in read_demand(text.encode(), STYLES).problems]


def test_rows_are_read_and_equal_garments_added_up() -> None:
    text = (
        "\ufeff"
        + HEAD
        + "110,neck=rib band,ink,S,2\n\n110, neck = rib band ,ink,S,1\n110,neck=self band,ink,M,4\n"
    )
    found = read_demand(text.encode(), STYLES)
    assert found.problems == ()
    assert found.demand == (
        Demand(Garment("110", (("neck", "rib band"),), "ink", "S"), 3),
        Demand(Garment("110", (("neck", "self band"),), "ink", "M"), 4),
    )


def test_semicolons_and_any_order_of_columns_are_read() -> None:
    found = read_demand(b"size;quantity;style;colourway;options\nM;1;110;ink;neck=rib band\n", STYLES)
    assert [(row.garment.size, row.quantity) for row in found.demand] == [("M", 1)]


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("999,neck=rib band,ink,S,1", "line 2, column style: there is no style “999”"),
        ("110,,ink,S,1", "line 2, column options: choose a neck: rib band, self band"),
        ("110,neck,ink,S,1", "line 2, column options: “neck” must be written detail=option"),
        (
            "110,neck=bow,ink,S,1",
            "line 2, column options: neck has no option “bow”; there are rib band, self band",
        ),
        ("110,hem=rib band;neck=rib band,ink,S,1", "line 2, column options: style 110 has no detail “hem”"),
        ("110,neck=rib band;neck=self band,ink,S,1", "line 2, column options: neck is chosen twice"),
        (
            "110,neck=rib band,lime,S,1",
            "line 2, column colourway: style 110 has no colourway “lime”; there are ink",
        ),
        ("110,neck=rib band,ink,XXL,1", "line 2, column size: style 110 has no size “XXL”; there are S, M"),
        ("110,neck=rib band,ink,S,-1", "line 2, column quantity: “-1” is not a whole number from 1 to 9999"),
        ("110,neck=rib band,ink,S,0", "line 2, column quantity: “0” is not a whole number from 1 to 9999"),
        (
            "110,neck=rib band,ink,S,1e9",
            "line 2, column quantity: “1e9” is not a whole number from 1 to 9999",
        ),
        ("110,neck=rib band,ink,S,²", "line 2, column quantity: “²” is not a whole number from 1 to 9999"),
        ("110,neck=rib band,ink,S", "line 2, column quantity: “” is not a whole number from 1 to 9999"),
    ],
)
def test_a_bad_row_is_named_by_line_and_column(row: str, said: str) -> None:
    assert read(HEAD + row + "\n") == [said]


def test_every_bad_row_is_named_and_nothing_is_kept() -> None:
    found = read_demand(
        (HEAD + "110,neck=rib band,ink,S,1\nx,,,,\n110,neck=rib band,ink,S,y\n").encode(), STYLES
    )
    assert [(p.line, p.column) for p in found.problems] == [(3, "style"), (4, "quantity")]
    assert found.demand == ()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "the file is empty"),
        (b"\xff\xfe\x00", "not text in UTF-8"),
        (b"style,options,colourway,size\n110,,ink,S\n", "has no column quantity"),
        (HEAD.encode(), "no row under the head"),
        (b"x" * 2_000_001, "larger than 2 MB"),
    ],
)
def test_a_file_that_is_none_is_said(data: bytes, said: str) -> None:
    assert said in str(read_demand(data, STYLES).problems[0])


@given(
    st.binary(max_size=300) | st.text(max_size=300).map(lambda text: (HEAD + text).encode("utf-8", "replace"))
)
def test_no_bytes_make_it_fail(data: bytes) -> None:
    found = read_demand(data, STYLES)
    assert bool(found.problems) != bool(found.demand)
