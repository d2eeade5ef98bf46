"""What follows from the measures of a cloth. Values are worked by hand beside each."""

from decimal import Decimal

import pytest

from planner.materials.facts import cloth_facts

JERSEY = {
    "full_width_mm": Decimal("1500"),
    "selvedge_mm": Decimal("15"),
    "weight_gsm": Decimal("180"),
    "sold_by": "metre",
    "pack_quantity": Decimal("0.1"),
    "price": Decimal("12"),
}


def test_width_and_weight() -> None:
    facts = cloth_facts(JERSEY)
    assert facts.usable_width_mm == 1470
    # 1.5 m × 180 g/m² = 0.270 kg, so 1 kg = 3.704 m: the check value of the trade's formula.
    assert facts.weight_along == ("0.270 kg a metre", "3.704 m a kilogram")
    assert facts.price_per_m == 12
    assert facts.table_width_mm is None
    assert facts.cut_larger is None


def test_cloth_sold_by_weight_has_a_price_by_the_metre() -> None:
    # 0.27 kg × 20.00 = 5.40
    assert cloth_facts({**JERSEY, "sold_by": "kg", "price": Decimal(20)}).price_per_m == pytest.approx(
        Decimal("5.40")
    )


def test_cloth_sold_by_the_roll_has_a_price_by_the_metre() -> None:
    rolls = {**JERSEY, "sold_by": "roll", "pack_quantity": Decimal(25), "price": Decimal(200)}
    assert cloth_facts(rolls).price_per_m == 8


def test_washing_first_narrows_the_cloth_and_needs_more() -> None:
    washed = {
        **JERSEY,
        "shrinkage_handling": "wash_first",
        "shrinkage_length_percent": Decimal(5),
        "shrinkage_width_percent": Decimal(10),
    }
    facts = cloth_facts(washed)
    assert facts.table_width_mm == pytest.approx(1323)  # 1470 × 0.9
    assert facts.bought_m == pytest.approx(10.5263, abs=0.0001)  # 10 / 0.95


def test_cutting_larger_is_told_in_percent() -> None:
    larger = {
        **JERSEY,
        "shrinkage_handling": "cut_larger",
        "shrinkage_length_percent": Decimal(5),
        "shrinkage_width_percent": Decimal(0),
    }
    assert cloth_facts(larger).cut_larger == pytest.approx((5.263, 0), abs=0.001)  # 1 / 0.95


@pytest.mark.parametrize("missing", ["full_width_mm", "selvedge_mm", "weight_gsm", "price", "sold_by"])
def test_a_missing_measure_leaves_out_its_facts(missing: str) -> None:
    facts = cloth_facts({name: value for name, value in JERSEY.items() if name != missing})
    assert (facts.usable_width_mm is None) == (missing in {"full_width_mm", "selvedge_mm"})
    assert (facts.weight_along == ()) == (missing in {"full_width_mm", "weight_gsm"})


def test_nothing_at_all_is_no_error() -> None:
    assert cloth_facts({}).usable_width_mm is None
