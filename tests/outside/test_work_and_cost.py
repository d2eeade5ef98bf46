"""Prices against published rules."""

from decimal import Decimal

from planner.core.costing import make_cost_sheet, price_by_margin
from planner.core.units import round_money


def test_the_margin_counts_on_the_price() -> None:
    # Retail arithmetic by definition: markup counts on the cost, margin on the price. Cost 20, margin 60 % → 50.
    assert price_by_margin(Decimal(20), Decimal("0.60")) == 50


def test_unit_cost_is_materials_labour_and_overhead() -> None:
    # Common practice: materials + minutes × rate + overhead. 12 min at 30.00 an hour = 6.00, + 10 %.
    sheet = make_cost_sheet(
        [],
        minutes=Decimal(12),
        rate_per_hour=Decimal(30),
        overhead_share=Decimal("0.10"),
        margin_share=Decimal(0),
    )
    assert sheet.total == Decimal("6.60")


def test_money_is_rounded_half_up() -> None:
    # Commercial rounding (common practice); minor units of ISO 4217 (from memory): 2, 0, 3 digits.
    assert round_money(Decimal("2.675"), "EUR") == Decimal("2.68")
    assert round_money(Decimal("2.665"), "EUR") == Decimal("2.67")
    assert round_money(Decimal("0.5"), "JPY") == 1
    assert round_money(Decimal("1.0005"), "KWD") == Decimal("1.001")
