"""Several things in one sentence."""

import pytest

from planner.core.listed import lays_listed, listed


@pytest.mark.parametrize(
    ("words", "told"),
    [((), ""), (("S",), "S"), (("S", "M"), "S and M"), (("S", "M", "L"), "S, M and L")],
)
def test_the_last_stands_behind_and(words, told):
    assert listed(words) == told


def test_one_lay_and_several():
    assert lays_listed([3]) == "lay 3"
    assert lays_listed([3, 4, 7]) == "lays 3, 4 and 7"
