"""What a garment costs and must sell for. Money is Decimal; rounded half-up at the end, to the minor unit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from planner.core.units import round_money


class PriceError(ValueError):
    """A margin that leaves no price; the message says so."""


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
        """Price that leaves the margin, to the minor unit."""
        return round_money(price_by_margin(self.exact_total, self.margin_share), self.currency)


def make_cost_sheet(
    materials: Iterable[CostLine],
    *,
    minutes: Decimal,
    rate_per_hour: Decimal,
    overhead_share: Decimal,
    margin_share: Decimal,
    currency: str = "EUR",
) -> CostSheet:
    """A cost sheet for one garment; shares are fractions (0.15 = 15 %).

    Raises PriceError where the margin leaves no price, ValueError for minutes, rate or overhead below zero.
    """
    if min(minutes, rate_per_hour, overhead_share) < 0:
        raise ValueError("minutes, rate and overhead cannot be less than nothing")
    sheet = CostSheet(tuple(materials), minutes, rate_per_hour, overhead_share, margin_share, currency)
    price_by_margin(sheet.exact_total, margin_share)
    return sheet


def price_by_margin(cost: Decimal, margin_share: Decimal) -> Decimal:
    """cost / (1 − g): the margin counts on the price. Not rounded. Raises PriceError from 100 % on."""
    left = 1 - margin_share
    if left <= 0:
        raise PriceError("The margin takes the whole price: lower it.")
    return cost / left
