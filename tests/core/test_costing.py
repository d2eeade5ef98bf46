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


def test_rounded_to_what_the_currency_has() -> None:
    assert top(currency="JPY").total == 18
    assert top(currency="KWD").total == Decimal("18.014")


def test_nothing_is_left_where_the_margin_takes_all() -> None:
    for margin in ("1", "1.5"):
        with pytest.raises(PriceError, match="whole price"):
            price_by_margin(Decimal(20), Decimal(margin))
        with pytest.raises(PriceError):
            top(margin_share=Decimal(margin))
    with pytest.raises(ValueError, match="less than nothing"):
        top(minutes=Decimal(-1))


@given(cost=costs, margin=shares)
def test_the_price_leaves_the_margin_it_was_made_for(cost: Decimal, margin: Decimal) -> None:
    price = price_by_margin(cost, margin)
    assert abs(price - cost - price * margin) < Decimal("1e-20")
