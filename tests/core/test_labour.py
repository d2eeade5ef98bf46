import pytest

from planner.core.labour import batch_minutes, batch_time, garment_minutes, standard_minutes
from tests.core.makers import THREAD, make_shop, make_tee, wanted


def test_standard_minutes_by_hand() -> None:
    assert standard_minutes(2.0, 0.9, 0.2) == pytest.approx(2.16)
    with pytest.raises(ValueError, match="less than nothing"):
        standard_minutes(-1, 1, 0)


def test_setting_up_rules_small_lots() -> None:
    assert batch_minutes(10, 1, 1.5) == 11.5
    assert batch_minutes(10, 100, 1.5) == 160.0


def test_minutes_of_one_garment() -> None:
    assert garment_minutes(make_tee().operations) == 8.0


def test_work_on_one_threaded_machine_is_set_up_once() -> None:
    time = batch_time([wanted(3), wanted(2, "L", "self band")], make_shop(), default_setup_minutes=12.0)
    assert [(m.machine, m.stitch_type, m.thread, m.pieces) for m in time.machines] == [
        ("iron", "", None, 5),
        ("overlock", "504", THREAD, 10),
        ("sewing machine", "301", THREAD, 5),
    ]
    assert [m.setup_minutes for m in time.machines] == [0.0, 12.0, 12.0]
    assert [m.sewing_minutes for m in time.machines] == [5.0, 20.0, 15.0]
    assert (time.setup_minutes, time.sewing_minutes, time.minutes) == (24.0, 40.0, 64.0)


def test_set_up_by_machine() -> None:
    time = batch_time([wanted(1)], make_shop(), setup_minutes={"overlock": 25.0, "iron": 5.0})
    assert [m.setup_minutes for m in time.machines] == [5.0, 25.0, 10.0]
