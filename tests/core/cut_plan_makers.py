"""Small cut plan questions for tests: lengths in any unit, one price for all columns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from planner.core.cut_plan.model import Counts, PlanQuestion, WayToLay


def grid(demand: Sequence[Any]) -> tuple[tuple[int, ...], ...]:
    """Rows of kinds; a plain number is a row of one column."""
    return tuple((row,) if isinstance(row, int) else tuple(row) for row in demand)


def way(
    lengths: Sequence[float],
    *,
    name: str = "open",
    plies: int = 1,
    cloth: int = 1,
    step: int = 1,
    factors: Sequence[float] = (1.0,),
    each: Sequence[float] = (),
) -> WayToLay:
    """Marker length = sum of the lengths × the factor for so many garments, the last one from there on. `each` is the
    money for a garment of each kind in a marker."""

    def length_mm(counts: Counts) -> float:
        factor = factors[min(sum(counts), len(factors)) - 1]
        return factor * sum(n * each for n, each in zip(counts, lengths, strict=True))

    least = tuple(min(factors) * each for each in lengths)
    return WayToLay(name, plies, cloth, (step,) * len(lengths), length_mm, least, tuple(each))


def question(demand: Sequence[Any], **changes: Any) -> PlanQuestion:
    """A question with fewest lays wanted, lengths of 100 a garment, end allowances 1, price 1, 20 plies.

    Each garment in a marker costs `per_garment`.
    """
    rows = grid(demand)
    lengths = changes.pop("lengths", (100.0,) * len(rows))
    factors = changes.pop("factors", (1.0,))
    each = (changes.pop("per_garment", 0.0),) * len(rows)
    price = changes.pop("price", 1.0)
    settings: dict[str, Any] = {
        "demand": rows,
        "ways": (way(lengths, factors=factors, each=each),),
        "most_length_mm": 1e9,
        "most_plies": 20,
        "end_mm": 1.0,
        "price_per_mm": (price,) * len(rows[0]),
        "objective": "fewest_lays",
    }
    return PlanQuestion(**(settings | changes))
