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


def test_very_many_lays_that_follow_one_another_are_told_by_the_first_and_the_last():
    assert lays_listed(range(1, 13)) == "lays 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11 and 12"
    assert lays_listed(range(1, 540)) == "lays 1 to 539"
    numbers = [1, *range(3, 16), 20, 21, 30, 31, 32]
    assert lays_listed(numbers) == "lays 1, 3 to 15, 20, 21 and 30 to 32"
