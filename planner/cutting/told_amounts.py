"""What is needed, there, short, bought and left over of one thing, as it is told: in yards too these add up."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal

from planner.core.units import PACK_NOISE, format_length, yards_as_printed, yards_of
from planner.papers.buy_data import BuyFigures
from planner.papers.figures import figure, printed_places


@dataclass(frozen=True)
class ToldAmounts:
    """The figures with their units: short = need − in stock, left = in stock + bought − need, as they are printed.

    `on_shelf` is what of the stock lies there.
    """

    need: str
    in_stock: str
    short: str
    bought: str
    left: str
    on_shelf: str


@dataclass(frozen=True)
class _Amounts:
    """The same as numbers, in yards."""

    need: Decimal
    in_stock: Decimal
    short: Decimal
    bought: Decimal

    @property
    def left(self) -> Decimal:
        return self.in_stock + self.bought - self.need


#: Yards are told to the eighth; only where what follows would be untrue with these, in hundredths, and so on.
_STEPS = (8, 100, 1_000, 10_000)


def told_amounts(figures: BuyFigures, display: str, *, in_packs: bool = False) -> ToldAmounts:
    """The figures of one thing as they are told. In yards needs are rounded up and stock down before they are added.

    What is bought is told rounded up, as what to buy is; of what comes `in_packs` no more than these hold.
    """
    if figures.unit != "m" or display != "imperial":
        least, unit = printed_places(figures.need), figures.unit
        rows = (
            figures.need, figures.in_stock, figures.short, figures.bought, figures.left, figures.on_shelf,
        )  # fmt: skip
        return ToldAmounts(*(figure(one, unit, least=least) for one in rows))
    yards = _in_yards(figures, in_packs=in_packs)
    rows = (yards.need, yards.in_stock, yards.short, yards.bought, yards.left)
    need, stock, *others = (yards_as_printed(one) for one in rows)
    is_all = not figures.met and not figures.coming
    on_shelf = stock if is_all else format_length(figures.on_shelf * 1000, display, "cloth", at_most=True)
    return ToldAmounts(need, stock, *others, on_shelf)


def _in_yards(figures: BuyFigures, *, in_packs: bool) -> _Amounts:
    bought = _round(figures.bought, _STEPS[0], ROUND_FLOOR if in_packs else ROUND_CEILING)
    # Plies that no roll or end holds are short although there may be metres enough.
    by_pieces = figures.short > max(figures.need - figures.in_stock, Decimal(0))
    for steps, up, down in (
        *((steps, ROUND_CEILING, ROUND_FLOOR) for steps in _STEPS),
        # What is there is what is needed, to less than a tape tells.
        (_STEPS[1], ROUND_HALF_UP, ROUND_HALF_UP),
    ):
        need, stock = _round(figures.need, steps, up), _round(figures.in_stock, steps, down)
        short = _round(figures.short, steps, up) if by_pieces else max(need - stock, Decimal(0))
        found = _Amounts(need, stock, short, bought)
        if (short > 0) == (figures.short > 0) and short <= bought and (found.left >= 0 or figures.left < 0):
            break
    return found


def _round(metres: Decimal, steps: int, rounding: str) -> Decimal:
    """Yards to so many steps of one; less than a millionth of a step is noise."""
    noise = {ROUND_CEILING: -PACK_NOISE, ROUND_FLOOR: PACK_NOISE}.get(rounding, Decimal(0))
    return (yards_of(metres) * steps + noise).to_integral_value(rounding) / steps + Decimal(0)
