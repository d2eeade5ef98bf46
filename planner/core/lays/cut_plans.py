"""The cut plan of each fabric of a batch: from garments to markers, plies and lays, with the reasons."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field

from planner.core.lays.learnt import Learnt
from planner.core.lays.model import PlannedLay
from planner.core.lays.wishes import PlanFacts, Wishes
from planner.core.spec import Demand, Workshop


@dataclass(frozen=True)
class Lengths:
    """What is known of marker lengths: those nested, by `marker_key` (mm), and the efficiencies learnt by fabric."""

    nested: Mapping[str, float] = field(default_factory=dict)
    learnt: Mapping[str, Learnt] = field(default_factory=dict)


@dataclass(frozen=True)
class FabricPlan:
    """The lays of one fabric and what is to be said of them. `extra` are garments cut beyond the demand."""

    fabric: str
    lays: tuple[PlannedLay, ...]
    facts: PlanFacts


def plan_fabrics(
    demand: Sequence[Demand],
    shop: Workshop,
    *,
    wishes: Mapping[str, Wishes] | None = None,
    lengths: Lengths | None = None,
    only: Collection[str] | None = None,
    seconds: float = 10.0,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[FabricPlan, ...]:
    """The best cut plan found for every fabric (or those in `only`) within `seconds` for all of them together."""
    raise NotImplementedError
