"""Plans that were found for another question, told as plans of this one: with its kept lays, and by all its goals."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.core.cut_plan.known import as_kept, better_of, keeps_rules
from planner.core.cut_plan.model import Answer, FixedLay, PlannedSection
from planner.core.cut_plan.solve import solve
from planner.core.lays import fabric_planner
from planner.core.lays.cut_plans import plan_fabrics
from planner.core.lays.wishes import Wishes
from tests.core.cut_plan_makers import question
from tests.core.makers import make_shop, wanted

TWO = FixedLay((2,), "open", (2,))
ASKED = question([10], keep=(TWO, TWO), most_plies=3)


def test_of_two_kept_lays_alike_a_plan_with_one_does_not_keep_both() -> None:
    kept, other = PlannedSection((2,), "open", (2,)), PlannedSection((3,), "open", (2,))
    assert not keeps_rules(ASKED, (kept, other))
    assert keeps_rules(ASKED, (kept, kept, PlannedSection((2,), "open", (1,))))


def test_lays_are_told_as_kept_as_often_as_they_are_kept() -> None:
    one = PlannedSection((2,), "open", (2,))
    asked = replace(ASKED, keep=(TWO,))
    assert [lay.is_kept for lay in as_kept(asked, (one, one))] == [True, False]
    assert [lay.is_kept for lay in as_kept(replace(asked, keep=()), (replace(one, is_kept=True),))] == [False]


def hurried(answer: Answer, **goals: float) -> Answer:
    return replace(answer, is_proven=False, **goals)


def test_a_better_plan_found_without_the_wish_has_the_kept_lay_as_kept() -> None:
    free = solve(
        replace(ASKED, keep=(), objective="money"), known=[(PlannedSection((2,), "open", (2,)),) * 2]
    )
    asked = replace(ASKED, keep=(FixedLay(*_told(free.sections[0])),), objective="money")
    found = solve(asked)
    taken = better_of(asked, hurried(found, value=2 * found.value, cost=2 * found.cost), [free])
    assert taken.sections != ()
    assert [lay.is_kept for lay in taken.sections].count(True) == 1


def _told(one: PlannedSection) -> tuple[tuple[int, ...], str, tuple[int, ...]]:
    return one.counts, one.way, one.spreads


def test_a_plan_with_as_few_lays_and_less_cloth_is_the_better_one() -> None:
    found = solve(question([4, 4]))
    wasteful = hurried(found, cloth_mm=2 * found.cloth_mm, second_value=2 * found.cloth_mm)
    taken = better_of(question([4, 4]), wasteful, [found])
    assert (taken.cloth_mm, taken.second_value) == (found.cloth_mm, found.cloth_mm)
    assert better_of(question([4, 4]), found, [wasteful]) is found


def test_a_plan_of_other_garments_is_none() -> None:
    found = solve(question([4, 4]))
    fewer = solve(question([4, 2]))
    assert (
        better_of(question([4, 4]), hurried(found, cloth_mm=2 * found.cloth_mm), [fewer]).lays == found.lays
    )
    assert better_of(question([4, 4]), hurried(found, cloth_mm=1e9), [fewer]).cloth_mm == 1e9


def test_a_lay_that_is_kept_is_cut_once_where_another_plan_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """With an answer found in a hurry a better one without the wish was taken, its lay beside the kept one: more
    garments were shared out than there are."""
    shop = make_shop(table_length_mm=4000.0, most_plies=4)
    demand = [wanted(7, "S"), wanted(11, "M"), wanted(6, "L")]
    first = plan_fabrics(demand, shop, only={"jersey"}, seconds=3, compare=False)[0]

    def in_a_hurry(*args: object, **options: object) -> Answer:
        found = solve(*args, **options)  # type: ignore[arg-type]
        # The plan itself is found after the first look; what comes without a wish is found well.
        return hurried(found, value=1.05 * found.value, cost=1.05 * found.cost)

    monkeypatch.setattr(fabric_planner, "solve", in_a_hurry)
    wishes = {"jersey": Wishes(keep=(first.lays[0],))}
    again = plan_fabrics(demand, shop, only={"jersey"}, seconds=3, wishes=wishes, compare=True)[0]
    assert sum(lay.garments_per_marker * lay.spreads for lay in again.lays) == 24
    assert again.lays[0] == first.lays[0]
