"""How many seams the edges of a garment make."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.outline import rectangle
from planner.core.seam_counts import Count, counted, missed_times, occurs, often, times_there
from planner.core.spec import EdgeRef, PieceSpec, SeamSpec

SHAPE = rectangle(300, 100, ("hem", "shoulder", "neckline", "shoulder"))


def piece(name: str, **changes: object) -> PieceSpec:
    plain = PieceSpec(name, "body", 1, pair=False, may_turn=True, option=None, outlines={"M": SHAPE})
    return replace(plain, **changes)


PIECES = {one.name: one for one in (piece("front"), piece("back"), piece("half", count=2, pair=True))}


def seam(*edges: EdgeRef, times: int = 1) -> SeamSpec:
    return SeamSpec("seam", None, edges, times, "sew")


def test_an_edge_occurs_on_every_piece_as_often_as_it_is_drawn() -> None:
    assert [occurs(PIECES["front"], edge) for edge in ("hem", "shoulder", "side")] == [1, 2, 0]
    assert occurs(PIECES["half"], "shoulder") == 4
    assert occurs(piece("none", outlines={}), "hem") == 0
    # A slip in the first size is none of the piece; where it is a draw, the larger number counts.
    slip = rectangle(290, 100, ("edge 9", "shoulder", "neckline", "shoulder"))
    assert [occurs(piece("front", outlines={"S": slip, "M": SHAPE}), e) for e in ("hem", "edge 9")] == [1, 1]
    three = piece("front", outlines={"S": slip, "M": SHAPE, "L": SHAPE})
    assert [occurs(three, edge) for edge in ("hem", "shoulder", "edge 9")] == [1, 2, 0]


@pytest.mark.parametrize(
    ("there", "times", "takes"),
    [((2, 2), 2, (1, 1)), ((2, 1, 2), 1, (2, 1, 2)), ((4, 2, 2), 2, (2, 1, 1)), ((1,), 1, (1,))],
)
def test_edges_that_are_all_used_up(there, times, takes) -> None:
    found = counted(there)
    assert found is not None
    assert (found.times, found.takes) == (times, takes)


@given(st.lists(st.integers(1, 24), min_size=1, max_size=5))
def test_times_and_takes_use_up_every_edge(there) -> None:
    found = counted(there)
    assert found is not None
    assert [found.times * takes for takes in found.takes] == there


def test_an_edge_that_is_not_there_makes_no_seam() -> None:
    assert counted((2, 0)) is None
    assert counted(()) is None


SHOULDER = (EdgeRef("front", "shoulder"), EdgeRef("back", "shoulder", 2))


def test_a_shoulder_that_is_sewn_once_though_there_are_two() -> None:
    assert missed_times(seam(*SHOULDER), PIECES) == Count("front", "shoulder", 2)
    assert missed_times(seam(*SHOULDER, times=2), PIECES) is None
    assert times_there(seam(*SHOULDER), PIECES) == (2, Count("front", "shoulder", 2))


def test_an_edge_that_another_uses_up_is_not_missed() -> None:
    """Two fronts and one back: the seam takes both fronts; with one it would still be one seam."""
    neck = (EdgeRef("half", "neckline", takes=2), EdgeRef("back", "neckline"))
    assert missed_times(seam(*neck), PIECES) is None
    # Of a collar in two layers only one is set.
    assert (
        missed_times(seam(EdgeRef("front", "hem"), EdgeRef("half", "shoulder", 2, takes=2)), PIECES) is None
    )


def test_two_bands_joined_at_the_centre_make_one_seam_however_it_is_written() -> None:
    band = piece("band", count=2, outlines={"M": rectangle(300, 60, ("edge", "join", "fold", "join back"))})
    pieces = {"band": band}
    assert missed_times(seam(EdgeRef("band", "join")), pieces) is None
    assert missed_times(seam(EdgeRef("band", "join"), EdgeRef("band", "join", 2)), pieces) is None
    assert missed_times(seam(EdgeRef("band", "edge")), pieces) == Count("band", "edge", 2)


def test_what_is_not_drawn_says_nothing() -> None:
    assert missed_times(seam(EdgeRef("front", "side")), PIECES) is None
    assert missed_times(seam(EdgeRef("gone", "hem")), PIECES) is None
    assert times_there(seam(), PIECES) is None


def test_in_words() -> None:
    assert [often(n) for n in (1, 2, 3)] == ["once", "twice", "3 times"]
