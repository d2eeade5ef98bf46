"""What a garment costs and must sell for. Money is Decimal; rounded half-up at the end, to the minor unit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from planner.core.units import round_money


class PriceError(ValueError):
    """Margin and fees that leave no price; the message says so."""


@dataclass(frozen=True, slots=True)
class CostLine:
    """One material: so many of a unit at a price each. `amount` is exact, not rounded."""

    name: str
    quantity: Decimal
    unit: str
    unit_price: Decimal

    @property
    def amount(self) -> Decimal:
        """quantity × unit price."""
        return self.quantity * self.unit_price


@dataclass(frozen=True)
class CostSheet:
    """The cost of one garment, line by line, and its price.

    Amounts are exact until `total` and `price`, which are rounded; lines rounded for print may therefore
    differ from the rounded total by a cent.
    """

    materials: tuple[CostLine, ...]
    minutes: Decimal
    rate_per_hour: Decimal
    overhead_share: Decimal
    margin_share: Decimal
    fee_share: Decimal
    fixed_fee: Decimal
    currency: str

    @property
    def materials_cost(self) -> Decimal:
        """All materials."""
        return sum((line.amount for line in self.materials), Decimal(0))

    @property
    def labour_cost(self) -> Decimal:
        """minutes / 60 × rate."""
        return self.minutes * self.rate_per_hour / 60

    @property
    def overhead(self) -> Decimal:
        """A share of materials and labour together."""
        return (self.materials_cost + self.labour_cost) * self.overhead_share

    @property
    def exact_total(self) -> Decimal:
        """Unit cost: materials + labour + overhead, not rounded."""
        return self.materials_cost + self.labour_cost + self.overhead

    @property
    def total(self) -> Decimal:
        """Unit cost to the minor unit."""
        return round_money(self.exact_total, self.currency)

    @property
    def price(self) -> Decimal:
        """Price that leaves the margin after fees, to the minor unit."""
        exact = price_with_fees(self.exact_total, self.margin_share, self.fee_share, self.fixed_fee)
        return round_money(exact, self.currency)


def make_cost_sheet(
    materials: Iterable[CostLine],
    *,
    minutes: Decimal,
    rate_per_hour: Decimal,
    overhead_share: Decimal,
    margin_share: Decimal,
    fee_share: Decimal = Decimal(0),
    fixed_fee: Decimal = Decimal(0),
    currency: str = "EUR",
) -> CostSheet:
    """A cost sheet for one garment; shares are fractions (0.15 = 15 %).

    Raises PriceError where margin and fees leave no price, ValueError for minutes, rate, overhead or fees
    below zero.
    """
    if min(minutes, rate_per_hour, overhead_share, fee_share, fixed_fee) < 0:
        raise ValueError("minutes, rate, overhead and fees cannot be less than nothing")
    sheet = CostSheet(
        tuple(materials),
        minutes,
        rate_per_hour,
        overhead_share,
        margin_share,
        fee_share,
        fixed_fee,
        currency,
    )
    price_with_fees(sheet.exact_total, margin_share, fee_share, fixed_fee)
    return sheet


def price_by_markup(cost: Decimal, markup_share: Decimal) -> Decimal:
    """cost × (1 + m): the markup counts on the cost. Not rounded."""
    return cost * (1 + markup_share)


def price_by_margin(cost: Decimal, margin_share: Decimal) -> Decimal:
    """cost / (1 − g): the margin counts on the price. Not rounded. Raises PriceError from 100 % on."""
    return price_with_fees(cost, margin_share)


def price_with_fees(
    cost: Decimal, margin_share: Decimal, fee_share: Decimal = Decimal(0), fixed_fee: Decimal = Decimal(0)
) -> Decimal:
    """(cost + fixed fee) / (1 − g − fee share), for taxes and fees taken from the price. Not rounded.

    Raises PriceError where margin and fees together take the whole price.
    """
    left = 1 - margin_share - fee_share
    if left <= 0:
        raise PriceError("Margin and fees together take the whole price: lower one of them.")
    return (cost + fixed_fee) / left
