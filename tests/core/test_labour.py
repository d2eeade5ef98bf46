from planner.core.labour import garment_minutes
from tests.core.makers import make_tee


def test_minutes_of_one_garment() -> None:
    assert garment_minutes(make_tee().operations) == 8.0
