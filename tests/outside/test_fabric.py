"""Weight, shrinkage and widths of cloth against published rules and figures."""

from decimal import Decimal

import pytest

from planner.core.cloth import as_cut, before_washing, lay_width_mm, need_for_lay_m, shrunk
from planner.core.needs import estimate_lay_m
from planner.core.outline import rectangle
from planner.core.spec import Cloth, ClothKey
from planner.core.units import kg_per_m


def cloth(**changes: object) -> Cloth:
    figures: dict[str, object] = {
        "key": ClothKey("jersey", "ink"),
        "usable_width_mm": 1460.0,
        "weight_gsm": 180.0,
        "one_way": True,
        "price": Decimal(12),
    }
    return Cloth(**{**figures, **changes})  # type: ignore[arg-type]


def test_weight_of_a_running_metre() -> None:
    # Width [m] × areal weight [g/m²] / 1000, by the definition of areal weight (g/m², SI):
    # 1.50 m × 180 g/m² = 0.270 kg/m, so 1 kg = 3.704 m.
    assert kg_per_m(1500, 180) == pytest.approx(0.270)
    assert 1 / kg_per_m(1500, 180) == pytest.approx(3.704, abs=0.0005)


def test_five_per_cent_shrinkage() -> None:
    # Dimensional change as measured in ISO 5077 after ISO 6330 washing: cut size = finished size / (1 − s).
    # Check: 5 % → × 1.05263.
    assert before_washing(1.0, 0.05) == pytest.approx(1.05263, abs=0.000005)
    assert shrunk(before_washing(700.0, 0.05), 0.05) == pytest.approx(700.0)


def test_pieces_cut_larger_wash_down_to_size() -> None:
    # ISO 5077 gives the dimensional change lengthwise and crosswise apart.
    larger = as_cut(
        rectangle(700, 500),
        cloth(shrinkage_length=0.05, shrinkage_width=0.03, shrinkage_handling="cut_larger"),
    )
    assert shrunk(larger.length_mm, 0.05) == pytest.approx(700.0)
    assert shrunk(larger.width_mm, 0.03) == pytest.approx(500.0)


def test_cloth_washed_first_is_bought_longer_and_lies_narrower() -> None:
    # ISO 5077: bought = needed / (1 − s_length); the usable width shrinks by s_width.
    # By hand: 9.5 / 0.95 = 10 and 1460 × 0.97 = 1416.2.
    washed = cloth(shrinkage_length=0.05, shrinkage_width=0.03, shrinkage_handling="wash_first")
    assert need_for_lay_m(9.5, washed) == pytest.approx(10.0)
    assert lay_width_mm(washed) == pytest.approx(1416.2)


def test_the_usual_end_allowance() -> None:
    # 20 mm at each end of a ply (common practice): a 4 m table laid full holds 3.96 m of marker.
    exact = estimate_lay_m(3960.0 * 1460.0, cloth(end_allowance_mm=20.0), 1.0, 4000.0)
    assert exact == pytest.approx(4.0)


def test_the_lower_bound_of_any_lay() -> None:
    # By definition: efficiency = area of the pieces / (usable width × lay length), so length ≥ area / width.
    assert estimate_lay_m(1460.0 * 1000.0, cloth(end_allowance_mm=0.0), 1.0, 4000.0) == pytest.approx(1.0)
    assert estimate_lay_m(1460.0 * 1000.0, cloth(end_allowance_mm=0.0), 0.8, 4000.0) == pytest.approx(1.25)
