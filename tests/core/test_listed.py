"""Several things in one sentence."""

import pytest

from planner.core.listed import counted, lays_listed, listed


@pytest.mark.parametrize(
    ("words", "told"),
    [((), ""), (("S",), "S"), (("S", "M"), "S and M"), (("S", "M", "L"), "S, M and L")],
)
def test_the_last_stands_behind_and(words, told):
    assert listed(words) == told


@pytest.mark.parametrize(
    ("number", "told"), [(0, "0 garments"), (1, "1 garment"), (2, "2 garments"), (1200, "1,200 garments")]
)
def test_what_is_counted_is_one_or_several(number, told):
    assert counted(number, "garment") == told


@pytest.mark.parametrize(
    ("number", "told"), [(1, "1 garment is"), (2, "2 garments are"), (0, "0 garments are")]
)
def test_what_goes_on_behind_it_is_of_one_or_of_several_too(number, told):
    assert counted(number, "garment is", "garments are") == told


def test_one_lay_and_several():
    assert lays_listed([3]) == "lay 3"
    assert lays_listed([3, 4, 7]) == "lays 3, 4 and 7"
