from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.costing import (
    CostLine,
    CostSheet,
    PriceError,
    make_cost_sheet,
    price_by_margin,
    price_by_markup,
    price_with_fees,
)

costs = st.decimals("0.01", 500, places=2)
shares = st.decimals(0, "0.45", places=2)


def top(**changes: object) -> CostSheet:
    """0.8 m at 12.00, 0.4 m at 0.16; 20 min at 18.00 an hour; 15 % overhead; 60 % margin."""
    lines = [
        CostLine("jersey", Decimal("0.8"), "m", Decimal("12.00")),
        CostLine("clear elastic", Decimal("0.4"), "m", Decimal("0.16")),
    ]
    figures = {
        "minutes": Decimal(20),
        "rate_per_hour": Decimal(18),
        "overhead_share": Decimal("0.15"),
        "margin_share": Decimal("0.60"),
    }
    return make_cost_sheet(lines, **{**figures, **changes})  # type: ignore[arg-type]


def test_a_cost_sheet_by_hand() -> None:
    sheet = top()
    assert sheet.materials_cost == Decimal("9.664")
    assert sheet.labour_cost == 6
    assert sheet.overhead == Decimal("2.3496")
    assert sheet.exact_total == Decimal("18.0136")
    assert sheet.total == Decimal("18.01")
    assert sheet.price == Decimal("45.03")  # 18.0136 / 0.4 = 45.034, not 18.01 / 0.4 = 45.025


def test_fees_are_on_top_of_the_margin() -> None:
    sheet = top(fee_share=Decimal("0.10"), fixed_fee=Decimal("0.30"))
    assert sheet.price == Decimal("61.05")  # (18.0136 + 0.30) / (1 - 0.60 - 0.10)


def test_rounded_to_what_the_currency_has() -> None:
    assert top(currency="JPY").total == 18
    assert top(currency="KWD").total == Decimal("18.014")


def test_nothing_is_left_where_margin_and_fees_take_all() -> None:
    for margin, fee in [("1", "0"), ("0.9", "0.1"), ("1.5", "0")]:
        with pytest.raises(PriceError, match="whole price"):
            price_with_fees(Decimal(20), Decimal(margin), Decimal(fee))
        with pytest.raises(PriceError):
            top(margin_share=Decimal(margin), fee_share=Decimal(fee))
    with pytest.raises(ValueError, match="less than nothing"):
        top(minutes=Decimal(-1))


@given(cost=costs, margin=shares, fee=shares, fixed=st.decimals(0, 5, places=2))
def test_the_price_leaves_the_margin_it_was_made_for(
    cost: Decimal, margin: Decimal, fee: Decimal, fixed: Decimal
) -> None:
    price = price_with_fees(cost, margin, fee, fixed)
    assert abs(price * (1 - fee) - fixed - cost - price * margin) < Decimal("1e-20")


@given(cost=costs, margin=shares)
def test_a_margin_is_the_markup_seen_from_the_price(cost: Decimal, margin: Decimal) -> None:
    markup = margin / (1 - margin)
    assert abs(price_by_margin(cost, margin) - price_by_markup(cost, markup)) < Decimal("1e-20")
