"""Clear elastic in shoulder seams."""

import pytest

from planner.core.notions.elastic import DEFAULT_TAIL_MM, elastic_length_mm, elastic_per_garment_mm
from planner.core.units import round_up_to_pack


def test_shoulders_of_one_garment() -> None:
    # Common practice: cut 1 : 1 to the pattern's shoulder seam, 20 mm of tail to hold at either end;
    # a garment takes 2 × (shoulder seam × ratio + 2 × tail).
    assert DEFAULT_TAIL_MM == 20.0
    assert elastic_length_mm(120.0) == 160.0
    assert elastic_per_garment_mm(120.0, times=2) == 2 * (120 + 40)
    assert elastic_per_garment_mm(120.0, times=2, ratio=0.9, tail_mm=0) == pytest.approx(216.0)


def test_elastic_is_bought_by_the_roll() -> None:
    # Common practice: buy = need × (1 + waste), rounded up to the pack. 100 garments: 32 m × 1.05 = 33.6 m.
    need_m = 100 * elastic_per_garment_mm(120.0, times=2) / 1000 * 1.05
    assert need_m == pytest.approx(33.6)
    assert round_up_to_pack(need_m, 25) == 50
