"""Which garments share a marker, and how many plies it is cut from."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from planner.core.lays.cut_plans import Lengths, plan_fabrics
from planner.core.lays.kinds import cloths_of_garment
from planner.core.lays.model import PlannedLay
from planner.core.lays.problems import CannotPlan as CannotPlan
from planner.core.lays.problems import PlanProblem as PlanProblem
from planner.core.lays.problems import TooLongForTable as TooLongForTable
from planner.core.lays.problems import TooWideForCloth as TooWideForCloth
from planner.core.lays.wishes import Wishes
from planner.core.spec import ClothKey, Demand, Garment, Workshop


def plan_lays(
    demand: Sequence[Demand],
    shop: Workshop,
    *,
    wishes: Mapping[str, Wishes] | None = None,
    lengths: Lengths | None = None,
    seconds: float = 10.0,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[PlannedLay, ...]:
    """The lays of :func:`cut_plans.plan_fabrics`, one fabric after the other, numbered through from 1."""
    plans = plan_fabrics(
        demand, shop, wishes=wishes, lengths=lengths, seconds=seconds, should_stop=should_stop
    )
    return tuple(lay for plan in plans for lay in plan.lays)


def numbered(lays: Sequence[PlannedLay], *, first: int = 1) -> tuple[PlannedLay, ...]:
    """The lays with their sections numbered through."""
    return tuple(replace(lay, section=n) for n, lay in enumerate(lays, first))


def cloths_of(garments: Iterable[Garment], shop: Workshop) -> tuple[ClothKey, ...]:
    """The cloths these garments are cut from, in the order they are met."""
    return tuple(dict.fromkeys(key for garment in garments for key in cloths_of_garment(garment, shop)))
