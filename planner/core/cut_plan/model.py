"""The question a cut plan answers, and the answer, without garments, cloth names or money units.

A **kind** is a row of the demand (a garment in a size), a **column** a cloth colour. A **marker** holds so many of each
kind; a **lay** is a marker and its spreads in every column, all stacked and cut together. With a[k] the counts of the
marker for one spread, p[c] the spreads of column c, w the plies and q the lengths of cloth of a spread, l(a) the length
of the marker and e both end allowances, a lay

    cuts         a[k] · p[c]   of kind k in column c
    takes        q · (l(a) + e) · p[c]   of cloth in column c
    must keep    w · Σ_c p[c] ≤ most plies,  Σ_k a[k] ≤ most garments,  l(a) + e ≤ table,  a spread ≤ every roll used
    costs        Σ_c price[c] · cloth[c] + per length · q · Σ_c p[c] + per lay + Σ_k each[k] · a[k]

The sum of all lays must lie between the demand and the demand plus the overcut allowed. (Model and figures: apparel
cut-order planning as an integer programme.)
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

#: How many of each kind one spread of a marker cuts, in the order of the demand's rows.
Counts = tuple[int, ...]

#: What is to be least: money; the number of lays, then cloth; cloth, then lays.
Objective = Literal["money", "fewest_lays", "least_cloth"]

#: How a plan was found: "counted", it meets what counting allows; "enumerated", number of lays by number of lays or in
#: one programme over every marker; "search", round the best there was; "without_solver", that search with no solver at
#: hand.
Method = Literal["counted", "enumerated", "search", "without_solver"]


@dataclass(frozen=True, slots=True)
class WayToLay:
    """One way to spread the cloth (a mode), as the mathematics sees it.

    `plies_per_spread`: layers under the knife of one spread, 1 (open) or 2 (face to face, folded).
    `cloth_lengths_per_spread`: lengths of cloth one spread takes, 2 for face to face.
    `steps`: the counts of kind k must be multiples of steps[k]: 1, or 2 where its pieces only come out in twos, or 0
    where the kind may not be laid this way at all.
    `length_mm`: the length of a marker without end allowances, any number > 0, estimated or nested. Called often with
    the same counts, so it must be cheap or remember.
    `least_mm_each`: for each kind a length such that always length_mm(a) ≥ Σ a[k] · least[k], as area over width (or
    area over width at the best efficiency that length_mm knows). It says which markers need not be looked at, and how
    good a plan is where there are too many to go through. Without it a marker of more garments is taken never to be
    shorter: where one is too long, those that hold more are not asked for.
    `cost_each[kind]` is money for each garment of it that one spread of a marker cuts, whatever is spread: marking and
    cutting its pieces, of which a pair of layers has half as many; empty for none.
    """

    name: str
    plies_per_spread: int
    cloth_lengths_per_spread: int
    steps: Counts
    length_mm: Callable[[Counts], float]
    least_mm_each: tuple[float, ...] | None = None
    cost_each: tuple[float, ...] = ()

    def garments_cost(self, counts: Counts) -> float:
        """Money for the garments of a marker, whatever is spread of it."""
        return sum(n * cost for n, cost in zip(counts, self.cost_each, strict=False))


@dataclass(frozen=True, slots=True)
class FixedLay:
    """A lay that must be in the plan as it is; `way` is the name of a way, `spreads` one number a column."""

    counts: Counts
    way: str
    spreads: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class PlanQuestion:
    """What is wanted, what the table and the knife allow, and what things cost. See the module for the model.

    `demand[kind][column]` ≥ 0. `overcut` and `overcut_cost` have its shape, or are empty for none. `most_garments`
    limits one spread of a marker; `most_length_mm` is the table, which must hold the marker and both end allowances
    (`end_mm` is both together); `most_plies` are layers of cloth. `roll_lengths_mm`: for each column the longest ply
    any roll allows, None where unknown. All lengths of a spread come from one roll, so of two (face to face) each is at
    most half of that, or `pair_lengths_mm` where it is given: either side of a flaw a roll may give two longer
    plies than one piece of it does. `price_per_mm[column]` is money for a mm of one length of cloth,
    `per_length_cost` for spreading one, however long, `per_lay_cost` for a lay.

    `together`: kinds that, where one is on a marker, must all be on it; a kind that is not wanted in a column does
    not bind there. `apart`: kinds of which no marker may hold two different ones. `keep`: lays that stay as they are.
    """

    demand: tuple[tuple[int, ...], ...]
    ways: tuple[WayToLay, ...]
    most_length_mm: float
    most_plies: int
    end_mm: float
    price_per_mm: tuple[float, ...]
    most_garments: int | None = None
    overcut: tuple[tuple[int, ...], ...] = ()
    overcut_cost: tuple[tuple[float, ...], ...] = ()
    per_length_cost: float = 0.0
    per_lay_cost: float = 0.0
    roll_lengths_mm: tuple[float | None, ...] | None = None
    pair_lengths_mm: tuple[float | None, ...] | None = None
    together: tuple[frozenset[int], ...] = ()
    apart: tuple[frozenset[int], ...] = ()
    keep: tuple[FixedLay, ...] = ()
    objective: Objective = "money"

    @property
    def kinds(self) -> int:
        """How many rows the demand has."""
        return len(self.demand)

    @property
    def columns(self) -> int:
        """How many columns the demand has."""
        return len(self.price_per_mm)

    def longest_of_rolls_mm(self, way: WayToLay, column: int) -> float | None:
        """The longest ply that rolls of a column allow in a way, with its ends; None where unknown."""
        lengths = way.cloth_lengths_per_spread
        if lengths == 2 and self.pair_lengths_mm is not None:
            return self.pair_lengths_mm[column]
        roll_mm = self.roll_lengths_mm[column] if self.roll_lengths_mm is not None else None
        return None if roll_mm is None else roll_mm / lengths


@dataclass(frozen=True, slots=True)
class PlannedSection:
    """One lay of the plan: the counts of its marker, the name of the way, the spreads of each column."""

    counts: Counts
    way: str
    spreads: tuple[int, ...]
    is_kept: bool = False

    @property
    def total_spreads(self) -> int:
        """Spreads of all columns, which lie in one stack."""
        return sum(self.spreads)

    @property
    def garments_per_spread(self) -> int:
        """What one spread cuts, of all kinds."""
        return sum(self.counts)


@dataclass(frozen=True, slots=True)
class Answer:
    """A plan and how good it certainly is.

    `value` is what the objective measures first (money, lays or mm of cloth) and `bound` a proven lower bound of it;
    `second_value` is that of the second goal (cloth after fewest lays, lays after least cloth), None for money.
    `lays_bound` is a lower bound of the lays of any plan. `is_proven` says that no plan is better, in the second
    goal too. `gap_share` = (value − bound) / value of the first goal that is not proven, 0 where all are.
    `method` tells how the plan was found.
    """

    sections: tuple[PlannedSection, ...]
    objective: Objective
    value: float
    bound: float
    second_value: float | None
    cost: float
    cloth_mm: float
    lays: int
    spreads: int
    overcut: int
    lays_bound: int
    is_proven: bool
    gap_share: float
    method: Method
    seconds: float
