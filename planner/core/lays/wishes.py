"""What the maker wants of a cut plan, and what the plan says of itself. Plain data, no reckoning.

Lengths mm, minutes, money Decimal in the workroom's currency. A kind is a style number with a size.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any, Literal

from planner.core.lays.model import PlannedLay

Kind = tuple[str, str]
Aim = Literal["money", "fewest_lays", "least_cloth"]
#: "counting": too few garments fit a marker and too few plies the tool; "proven": every plan was looked at, none has
#: fewer; "one": there is only one lay; "dearer": fewer can be had, see the other outcomes; "open": nobody knows.
WhyNot = Literal["counting", "proven", "one", "dearer", "open"]


@dataclass(frozen=True, slots=True)
class Wishes:
    """Wishes for the lays of one fabric.

    `most_plies` is the maker's own limit, never more than her tool cuts. Of kinds that belong `together` every marker
    holds all or none; of kinds kept `apart` none holds two. `keep` are lays to leave as they are.
    """

    aim: Aim = "money"
    most_plies: int | None = None
    together: tuple[frozenset[Kind], ...] = ()
    apart: tuple[frozenset[Kind], ...] = ()
    keep: tuple[PlannedLay, ...] = ()


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a plan of one fabric takes: lays, spreads, cloth on the table, minutes at it, and both in money.

    `is_proven` where no plan is better by its own aim. `nested` of the lays have lengths that were nested; those of the
    others are estimates.
    """

    aim: str
    lays: int
    spreads: int
    cloth_mm: float
    minutes: float
    cost: Decimal
    is_proven: bool
    nested: int = 0


@dataclass(frozen=True, slots=True)
class PriceOfWish:
    """What one wish costs: the outcome without it. `wish` is "together", "apart", "plies" or "keep"."""

    wish: str
    kinds: tuple[Kind, ...]
    without: Outcome


@dataclass(frozen=True, slots=True)
class PlanFacts:
    """What the plan of a fabric says of itself.

    `single` is every size in lays of its own. `others` are what the other aims would come to, be it the
    same; an aim that is missing was not looked at, for want of time. `fewer` says why there
    are not fewer lays than `best.lays`, with what the reason rests on: garments in all, the most garments that one
    marker on the table can hold, the most layers the tool cuts. `nested` of `best.lays` lays have lengths
    that were nested, the others are estimates. `gap_share` is how far the plan can be from the best, None where it is
    the best.
    """

    best: Outcome
    single: Outcome
    others: tuple[Outcome, ...]
    fewer: WhyNot
    garments: int
    most_garments: int
    most_layers: int
    prices: tuple[PriceOfWish, ...]
    nested: int
    gap_share: float | None
    least_lays: int
    method: str
    how_lengths: str


def facts_to_json(facts: PlanFacts) -> dict[str, Any]:
    """The facts as data for `json.dump`; money as text."""
    return {
        **asdict(facts),
        "best": _outcome(facts.best),
        "single": _outcome(facts.single),
        "others": [_outcome(one) for one in facts.others],
        "prices": [
            {"wish": one.wish, "kinds": [list(kind) for kind in one.kinds], "without": _outcome(one.without)}
            for one in facts.prices
        ],
    }


def facts_from_json(data: Mapping[str, Any]) -> PlanFacts:
    """Reads what :func:`facts_to_json` wrote. Raises KeyError where a field is missing."""
    return PlanFacts(
        **{
            **data,
            "best": _read_outcome(data["best"]),
            "single": _read_outcome(data["single"]),
            "others": tuple(_read_outcome(one) for one in data["others"]),
            "prices": tuple(
                PriceOfWish(
                    one["wish"], tuple((s, z) for s, z in one["kinds"]), _read_outcome(one["without"])
                )
                for one in data["prices"]
            ),
        }
    )


def _outcome(one: Outcome) -> dict[str, Any]:
    return {**asdict(one), "cost": str(one.cost)}


def _read_outcome(data: Mapping[str, Any]) -> Outcome:
    return Outcome(**{**data, "cost": Decimal(data["cost"])})
