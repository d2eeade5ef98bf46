"""The measured ratio against a published worked example."""

import pytest

from planner.core.notions.unpicked import measured, unpicked_problems


def test_the_published_example_of_a_401():
    # Published worked example of thread consumption: 15 cm of a 401 seam unpicked gave 19.5 cm of needle and
    # 62.0 cm of looper thread; 100 cm of seam then take 130 cm and 413.3 cm. The source rounds their sum to
    # 540 cm; what it comes to with waste is held in test_thread_sources.
    lengths = {"needle": 195.0, "looper": 620.0}
    assert unpicked_problems("401", 150.0, lengths) == ()
    found = measured("401", 150.0, lengths)
    assert found.ratios["needle"] * 100 == pytest.approx(130.0)
    assert found.ratios["looper"] * 100 == pytest.approx(413.3, abs=0.05)
    assert found.ratio * 100 == pytest.approx(543.3, abs=0.05)
    assert round(found.ratio * 100, -1) == 540
