"""Work measurement and prices against published rules."""

from decimal import Decimal

import pytest

from planner.core.costing import make_cost_sheet, price_by_margin, price_by_markup, price_with_fees
from planner.core.labour import batch_minutes, standard_minutes
from planner.core.units import round_money


def test_standard_minutes() -> None:
    # ILO, Introduction to Work Study: observed × rating × (1 + allowances).
    # 0.50 min observed, rating 110 %, allowances 15 % → 0.6325 min.
    assert standard_minutes(0.50, 1.10, 0.15) == pytest.approx(0.6325)


def test_batch_time_of_an_operation() -> None:
    # Set-up + pieces × standard minutes (work study; common practice). 10 + 24 × 0.6325 = 25.18 min.
    assert batch_minutes(10.0, 24, 0.6325) == pytest.approx(25.18)


def test_margin_and_markup() -> None:
    # Retail arithmetic by definition: markup counts on the cost, margin on the price.
    # Cost 20, margin 60 % → 50; markup 150 % → 50.
    assert price_by_margin(Decimal(20), Decimal("0.60")) == 50
    assert price_by_markup(Decimal(20), Decimal("1.50")) == 50


def test_fees_taken_from_the_price() -> None:
    # By definition: price = (cost + fixed fee) / (1 − g − fee share). (20 + 0.40) / (1 − 0.60 − 0.06) = 60.
    price = price_with_fees(Decimal(20), Decimal("0.60"), Decimal("0.06"), Decimal("0.40"))
    assert price == 60
    # What is kept: 60 less 6 % less 0.40 less the cost of 20 = 36 = 60 % of the price.
    assert price - price * Decimal("0.06") - Decimal("0.40") - 20 == price * Decimal("0.60")


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
