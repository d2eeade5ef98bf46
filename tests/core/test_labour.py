import pytest

from planner.core.labour import garment_minutes, standard_minutes
from tests.core.makers import make_tee


def test_standard_minutes_by_hand() -> None:
    assert standard_minutes(2.0, 0.9, 0.2) == pytest.approx(2.16)
    with pytest.raises(ValueError, match="less than nothing"):
        standard_minutes(-1, 1, 0)


def test_minutes_of_one_garment() -> None:
    assert garment_minutes(make_tee().operations) == 8.0
