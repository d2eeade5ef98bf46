"""Which rule stands against a plan with a lay less: the one that has to give way least for there to be such a plan.

One rule at a time is given up, or made looser step by step, all others being kept; a plan found then is the proof that
it is this rule. What is not found in time is not told.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from planner.core.cut_plan.known import Sections, keeps_rules
from planner.core.cut_plan.model import Counts, PlannedSection, PlanQuestion, WayToLay
from planner.core.cut_plan.within_lays import plan_within
from planner.core.lays.kinds import FabricTable
from planner.core.lays.wishes import Kind, Reason, Rule, Wishes
from planner.core.lays.without import each_taken_back

#: One trial takes no longer than this (s): what has a plan is mostly found in a hundredth of it.
ONE_TRIAL = 0.3
#: The table is tried longer by these factors, and the plies under the knife more by these.
TABLE_FACTORS = (1.1, 1.25, 1.5, 2.0, 3.0)
PLY_FACTORS = (1.01, 1.25, 1.5, 2.0, 3.0, 5.0)
#: That other pieces are cut from a colour weighs as much as a rule that has to give way by so much.
COLOURS_SHARE = 0.25
#: When it is tried whether cutting more would save a lay, at most so many more of each garment in each colour are
#: allowed.
MOST_EXTRA = 2


def reason_against(
    table: FabricTable,
    wish: Wishes,
    question: PlanQuestion,
    lays: int,
    until: float,
    should_stop: Callable[[], bool] | None = None,
    *,
    tool_plies: int,
    known: Sequence[Sections] = (),
    own_only: bool = False,
    answer: Sequence[PlannedSection] = (),
) -> Reason | None:
    """The rule of this question that stands against a plan of so many `lays`; None where no such rule was found.

    The maker's own wishes are looked at first, for she can change them at once. Of the other rules (none of them with
    `own_only`) it is the one that would have to give way by the smallest share. `until` is a moment of the monotonic
    clock; whether one of the `known` plans would do takes no time. `tool_plies`: the most layers of this cloth that the
    tool cuts. `answer` is a plan of a lay more: where colours share no lay, it tells how many each of them needs.
    """
    search = _Search(table, wish, question, lays, until, should_stop, known)
    own = next(search.wishes(tool_plies), None)
    if own is not None or own_only:
        return own
    least = search.least_of(search.colours, search.table_length, search.exact, search.plies, search.rolls)
    if least is not None:
        reason = least.reason
        return search.of_each_colour(reason, answer) if reason.rule == "colours" else reason
    return Reason("same_in_all_colours") if lays == 1 and _colours_differ(question) else None


@dataclass(frozen=True)
class _Found:
    """A rule, and by what share it has to give way."""

    share: float
    reason: Reason


class _Search:
    """Looks for plans of so many lays under looser rules, as long as there is time."""

    def __init__(
        self,
        table: FabricTable,
        wish: Wishes,
        question: PlanQuestion,
        lays: int,
        until: float,
        should_stop: Callable[[], bool] | None,
        known: Sequence[Sections],
    ) -> None:
        self.table, self.wish, self.lays = table, wish, lays
        self.known = [plan for plan in known if len(plan) <= lays]
        self.question = replace(question, objective="fewest_lays")
        self.until, self.should_stop = until, should_stop
        #: A rule was found that has to give way by this share: what needs more is looked for no longer.
        self.within = math.inf
        #: Whether the last trial came to its end, so that there is no plan where it found none.
        self._was_whole = False

    def least_of(self, *trials: Callable[[], _Found | None]) -> _Found | None:
        """The rule that has to give way by the smallest share."""
        least = None
        for trial in trials:
            found = trial()
            if found is not None and found.share < self.within:
                least, self.within = found, found.share
        return least

    def _try(self, looser: PlanQuestion) -> tuple[PlannedSection, ...] | None:
        """A plan with few enough lays, from those known or searched for; None where none was found."""
        for plan in self.known:
            if keeps_rules(looser, plan):
                return plan
        left = self.until - time.monotonic()
        if left <= 0 or (self.should_stop is not None and self.should_stop()):
            return None
        began, seconds = time.monotonic(), min(ONE_TRIAL, left)
        found = plan_within(looser, self.lays, seconds=seconds, should_stop=self.should_stop)
        self._was_whole = found is not None or time.monotonic() - began < seconds
        return found

    def wishes(self, tool_plies: int) -> Iterator[Reason]:
        """The maker's wishes without which it could be done, each by itself."""
        for one in each_taken_back(self.table, self.wish, self.question, tool_plies):
            if one.wish == "plies":
                if plies := self._more_plies(tool_plies):
                    yield Reason("own_plies", self.question.most_plies, plies)
            elif self._try(one.question):
                yield Reason("keep") if one.wish == "keep" else self._of_kinds(one.wish, one.kinds)

    def _more_plies(self, most: int) -> int:
        """The number of plies, up to `most`, with which there is such a plan; 0 where none was found."""
        has = self.question.most_plies
        steps = sorted({min(most, math.ceil(has * factor)) for factor in PLY_FACTORS})
        ruled_out = has
        for plies in (plies for plies in steps if plies > has):
            if ruled_out / has - 1 >= self.within:
                break
            plan = self._try(replace(self.question, most_plies=plies))
            if plan is not None:
                layers = {way.name: way.plies_per_spread for way in self.question.ways}
                return max(layers[one.way] * one.total_spreads for one in plan)
            ruled_out = plies if self._was_whole else ruled_out
        return 0

    def plies(self) -> _Found | None:
        """More plies under the knife than the tool cuts."""
        has = self.question.most_plies
        would = self._more_plies(sum(map(sum, self.question.demand)))
        return _Found(would / has - 1, Reason("plies", has, would)) if would else None

    def table_length(self) -> _Found | None:
        """A longer table."""
        question = self.question
        has = question.most_length_mm
        ruled_out = 1.0
        for factor in TABLE_FACTORS:
            if ruled_out - 1 >= self.within:
                break
            plan = self._try(replace(question, most_length_mm=has * factor))
            if plan is not None:
                lengths = {way.name: way.length_mm for way in question.ways}
                would = max(lengths[one.way](one.counts) + question.end_mm for one in plan)
                return _Found(would / has - 1, Reason("table", has, would))
            ruled_out = factor if self._was_whole else ruled_out
        return None

    def rolls(self) -> _Found | None:
        """Rolls longer than those the cloth is sold on."""
        question = self.question
        rolls = [length for length in question.roll_lengths_mm or () if length is not None]
        # A roll gives all lengths of a spread; in the way that takes fewest of them it need be longest by least.
        needed = question.most_length_mm * min(way.cloth_lengths_per_spread for way in question.ways)
        if not rolls or min(rolls) >= needed:
            return None
        share = needed / min(rolls) - 1
        if share >= self.within or self._try(replace(question, roll_lengths_mm=None)) is None:
            return None
        return _Found(share, Reason("rolls", min(rolls)))

    def exact(self) -> _Found | None:
        """A garment or two more than are wanted."""
        question = self.question
        allowed = question.overcut or tuple((0,) * question.columns for _ in question.demand)
        for extra in range(1, MOST_EXTRA + 1):
            over = tuple(
                tuple(more + (extra if wanted else 0) for wanted, more in zip(row, own, strict=True))
                for row, own in zip(question.demand, allowed, strict=True)
            )
            # Nothing but cloth and lays counts here: the fewest lays, and of those the least cloth.
            plan = self._try(replace(question, overcut=over, overcut_cost=()))
            if plan is not None:
                kinds = tuple(self._beyond(plan))
                share = len(kinds) / sum(map(sum, question.demand))
                return _Found(share, self._of_kinds("exact", kinds, len(kinds)))
        return None

    def colours(self) -> _Found | None:
        """The same pieces in every colour, so that all colours could share a lay.

        The maker's wishes bind none of that: what cannot be done without them cannot be done with them either, so
        they are left out, as long as no plan of so few lays is found then.
        """
        groups = share_no_lay(self.question)
        question = replace(self.question, together=(), apart=(), keep=())
        if len(groups) < 2 or (question != self.question and self._try(question) is not None):
            return None
        rows: dict[Kind, list[int]] = {}
        for row, kind in enumerate(self.table.kinds):
            rows.setdefault(kind.name, []).append(row)
        same = list(rows.values())
        if len(same) == question.kinds or self._try(_merged(question, same)) is None:
            return None
        names = [self.table.columns[column].key.colour for group in groups for column in group]
        two = len(groups) == len(names) == 2
        return _Found(COLOURS_SHARE, Reason("colours", colours=tuple(names) if two else ()))

    def of_each_colour(self, reason: Reason, answer: Sequence[PlannedSection]) -> Reason:
        """That colours share no lay explains one lay for each; where one of them needs more, how many, and why.

        Every lay of the plan is of one group of colours. As there is no plan with a lay less, no group has one either:
        each has as few lays as it can.
        """
        groups = share_no_lay(self.question)
        lays = tuple(sum(any(one.spreads[c] for c in group) for one in answer) for group in groups)
        if max(lays, default=0) < 2 or sum(lays) != self.lays + 1:
            return reason
        reason = replace(reason, lays=lays)
        for group, least in sorted(zip(groups, lays, strict=True), key=lambda one: one[1] < 2):
            if least < 2:
                break
            alone = self._alone(group, least - 1)
            if alone is not None:
                colours = tuple(self.table.columns[column].key.colour for column in group)
                return replace(reason, alone=alone, of=colours)
        return reason

    def _alone(self, group: Sequence[int], lays: int) -> Reason | None:
        """The rule that stands against cutting these colours by themselves in so many lays."""
        question = self.question
        part = replace(
            question,
            keep=(),
            demand=tuple(
                tuple(count if column in group else 0 for column, count in enumerate(row))
                for row in question.demand
            ),
            overcut=(),
            overcut_cost=(),
        )
        search = _Search(self.table, self.wish, part, lays, self.until, self.should_stop, ())
        least = search.least_of(search.table_length, search.exact, search.plies, search.rolls)
        return None if least is None else least.reason

    def _beyond(self, plan: Sequence[PlannedSection]) -> Iterator[Kind]:
        """What a plan cuts beyond the demand, one by one."""
        for row, kind in enumerate(self.table.kinds):
            cut = sum(one.counts[row] * one.total_spreads for one in plan)
            yield from (kind.name for _ in range(cut - sum(self.question.demand[row])))

    def _of_kinds(self, rule: Rule, kinds: tuple[Kind, ...], would: float = 0.0) -> Reason:
        with_style = len({kind.name[0] for kind in self.table.kinds}) > 1
        return Reason(rule, would=would, kinds=kinds, with_style=with_style)


def _colours_differ(question: PlanQuestion) -> bool:
    """Whether the colours want the kinds in different proportions, so that no single lay can cut them all.

    With g the common divisor of a colour, one lay cuts demand / g of each kind times a number that is the same for all
    colours (`cut_plan.bounds.one_lay_plans`).
    """
    if any(map(any, question.overcut)):
        return False
    columns = [column for column in zip(*question.demand, strict=True) if any(column)]
    return len({tuple(n // math.gcd(*column) for n in column) for column in columns}) > 1


def share_no_lay(question: PlanQuestion) -> list[tuple[int, ...]]:
    """The colours in groups of which none shares a lay with another: no kind is wanted in both.

    What a lay cuts is wanted in each of its colours, as long as no more is cut than that.
    """
    groups: list[set[int]] = []
    for row in question.demand:
        own = {column for column, count in enumerate(row) if count}
        touching = [group for group in groups if group & own]
        groups = [group for group in groups if not group & own] + ([own.union(*touching)] if own else [])
    return sorted(tuple(sorted(group)) for group in groups)


def _merged(question: PlanQuestion, same: Sequence[Sequence[int]]) -> PlanQuestion:
    """The question where all kinds of a set are laid like the first of them."""

    def length_of(way: WayToLay) -> Callable[[Counts], float]:
        def length_mm(counts: Counts) -> float:
            spread = [0] * question.kinds
            for rows, count in zip(same, counts, strict=True):
                spread[rows[0]] = count
            return way.length_mm(tuple(spread))

        return length_mm

    def sums(grid: Sequence[Sequence[int]]) -> tuple[tuple[int, ...], ...]:
        return tuple(tuple(map(sum, zip(*(grid[row] for row in rows), strict=True))) for rows in same)

    return replace(
        question,
        demand=sums(question.demand),
        overcut=sums(question.overcut) if question.overcut else (),
        overcut_cost=(),
        ways=tuple(
            replace(
                way,
                steps=tuple(way.steps[rows[0]] for rows in same),
                length_mm=length_of(way),
                least_mm_each=None,
                cost_each=(),
            )
            for way in question.ways
        ),
    )
