"""Whether so few lays can do is answered like the optimum answers it, only sooner."""

from __future__ import annotations

import pytest

from planner.core.cut_plan.model import FixedLay, PlannedSection, PlanQuestion, WayToLay
from planner.core.cut_plan.within_lays import plan_within


def question(*demand: int, plies: int, garments: int, **changes: object) -> PlanQuestion:
    """One colour, every garment a metre long."""
    way = WayToLay(
        "open", 1, 1, (1,) * len(demand), lambda counts: 1000.0 * sum(counts), (1000.0,) * len(demand)
    )
    return PlanQuestion(
        demand=tuple((n,) for n in demand),
        ways=(way,),
        most_length_mm=1000.0 * garments,
        most_plies=plies,
        end_mm=0.0,
        price_per_mm=(0.01,),
        **changes,  # type: ignore[arg-type]
    )


def cut(sections: tuple[PlannedSection, ...], kinds: int) -> list[int]:
    return [sum(one.counts[kind] * one.spreads[0] for one in sections) for kind in range(kinds)]


# Least numbers of lays from tests/outside/test_cut_plan_textbook.py, where two solvers agree on them.
@pytest.mark.parametrize(
    ("demand", "garments", "plies", "least"),
    [
        ((5, 0, 5), 4, 10, 1),
        ((7,), 4, 2, 2),
        ((4, 8, 12), 6, 4, 1),
        ((4, 8, 12), 3, 4, 2),
        ((1, 1, 500), 4, 100, 3),
        ((7, 11, 13), 4, 20, 3),
    ],
)
def test_at_the_least_number_there_is_a_plan_and_below_there_is_none(
    demand: tuple[int, ...], garments: int, plies: int, least: int
) -> None:
    asked = question(*demand, plies=plies, garments=garments)
    found = plan_within(asked, least, seconds=20)
    assert found is not None
    assert len(found) <= least
    assert cut(found, len(demand)) == list(demand)
    assert all(one.total_spreads <= plies and one.garments_per_spread <= garments for one in found)
    assert plan_within(asked, least - 1, seconds=20) is None


def test_lays_that_are_kept_count() -> None:
    kept = FixedLay((1, 0), "open", (2,))
    asked = question(4, 2, plies=4, garments=3, keep=(kept,))
    found = plan_within(asked, 2, seconds=20)
    assert found is not None
    assert sum(one.is_kept for one in found) == 1
    assert cut(found, 2) == [4, 2]
    assert plan_within(asked, 1, seconds=20) is None


def test_where_there_is_no_plan_none_is_told() -> None:
    assert plan_within(question(1, plies=1, garments=0), 1, seconds=1.0) is None
