"""What a plan takes is told in the words of who spreads: a pair face to face is spread twice."""

from __future__ import annotations

import pytest

from planner.core.lays.outcomes import Laid, outcome_of
from tests.core.makers import JERSEY, make_shop


@pytest.mark.parametrize(("mode", "often"), [("open", 3), ("folded", 3), ("face_to_face", 6)])
def test_spreads_are_how_often_cloth_is_spread(mode: str, often: int) -> None:
    laid = Laid(1000.0, mode, {JERSEY: 3}, 4, True)
    found = outcome_of("money", [laid], make_shop(), end_mm=40.0)
    assert found.spreads == often
    assert found.cloth_mm == pytest.approx(often * 1040.0)
