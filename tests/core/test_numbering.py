"""Numbers of the pieces of a marker: they follow from the marker, in whatever order its pieces come."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.core.lays.model import Placement
from planner.core.lays.numbering import in_order


def laid(piece, size, garment_no, x, y=0.0, *, mirrored=False):
    outline = ((x, y), (x + 300.0, y), (x + 300.0, y + 200.0), (x, y + 200.0))
    return Placement("110", piece, size, garment_no, mirrored, 0, outline)


#: Garment 1 is an S, as is 4, 2 and 3 are L; their pieces by their numbers.
LAID = (
    laid("back", "S", 1, 900),
    laid("back", "S", 4, 1500),
    laid("front", "S", 1, 300),
    laid("back", "L", 3, 0, 200),
    laid("back", "L", 2, 1200),
    laid("front", "L", 2, 0),
    laid("front", "L", 3, 600),
    laid("sleeve", "L", 3, 0, 400),
    laid("sleeve", "L", 2, 300, 400),
    laid("sleeve", "L", 2, 0, 600, mirrored=True),
    laid("sleeve", "L", 3, 300, 600, mirrored=True),
)


@settings(max_examples=40)
@given(st.permutations(LAID))
def test_the_numbers_are_the_same_in_whatever_order_the_pieces_come(given_in):
    assert in_order(given_in) == LAID


def test_other_garments_letters_change_no_number():
    swapped = {2: 3, 3: 2, 1: 1, 4: 4}
    found = in_order([replace(one, garment_no=swapped[one.garment_no]) for one in LAID])
    assert [(one.piece, one.outline) for one in found] == [(one.piece, one.outline) for one in LAID]


@given(st.permutations(LAID), st.lists(st.floats(-0.002, 0.002), min_size=20, max_size=20))
@settings(max_examples=40)
def test_what_was_rounded_changes_no_number(given_in, off):
    moved = [
        replace(one, outline=tuple((x + off[n], y + off[-1 - n]) for x, y in one.outline))
        for n, one in enumerate(given_in)
    ]
    assert [(one.piece, one.size, one.garment_no, one.mirrored) for one in in_order(moved)] == [
        (one.piece, one.size, one.garment_no, one.mirrored) for one in LAID
    ]
