"""Questions without a plan, and a solver that is not there."""

import sys
import time
from dataclasses import replace

import pytest

from planner.core import highs
from planner.core.cut_plan.bounds import counting_floor
from planner.core.cut_plan.check import broken_rules
from planner.core.cut_plan.enumerate import every_marker
from planner.core.cut_plan.exact import solve_over
from planner.core.cut_plan.model import FixedLay
from planner.core.cut_plan.prepare import prepare
from planner.core.cut_plan.reasons import (
    DoesNotFitAlone,
    KeptBreaks,
    KeptCutsTooMany,
    NoCombination,
    NoPlan,
    NothingWanted,
    OddNumber,
    TogetherAndApart,
    TogetherDoesNotFit,
    TooManyPliesInSpread,
)
from planner.core.cut_plan.solve import solve
from tests.core.cut_plan_makers import question, way

PAIRED = (way((100.0, 100.0), name="folded", plies=2, step=2),)
PAIR = (frozenset({0, 1}),)


def reasons(asked):
    with pytest.raises(NoPlan) as caught:
        solve(asked, seconds=5.0)
    return caught.value.reasons


@pytest.mark.parametrize(
    ("asked", "reason"),
    [
        pytest.param(question([0, 0]), NothingWanted(), id="demand 0"),
        pytest.param(
            question([1, 2], lengths=(100.0, 400.0), most_length_mm=300.0),
            DoesNotFitAlone(1, 0, 401.0, 300.0),
            id="longer than the table",
        ),
        pytest.param(
            question([(1, 1)], roll_lengths_mm=(None, 90.0)),
            DoesNotFitAlone(0, 1, 101.0, 90.0),
            id="a short roll",
        ),
        pytest.param(
            question([3, 2], ways=PAIRED), OddNumber(0, 0, 3, 2), id="an odd number in a paired way"
        ),
        pytest.param(
            question([2, 2], ways=PAIRED, most_plies=1), TooManyPliesInSpread(1), id="one ply, paired"
        ),
        pytest.param(
            question([1, 1], together=PAIR, apart=PAIR), TogetherAndApart((0, 1)), id="together and apart"
        ),
        pytest.param(
            question([1, 1], together=PAIR, most_length_mm=150.0),
            TogetherDoesNotFit((0, 1), 0, 201.0, 150.0),
            id="together too long",
        ),
        pytest.param(
            question([2, 2], keep=(FixedLay((1, 0), "open", (3,)),)),
            KeptCutsTooMany(0, 0, 3, 2),
            id="a lay kept cuts too many",
        ),
        pytest.param(
            question([30, 2], keep=(FixedLay((1, 0), "open", (21,)),)),
            KeptBreaks(0, "plies"),
            id="too high a stack kept",
        ),
        pytest.param(
            question([2, 2], keep=(FixedLay((1, 1), "open", (1,)),), apart=PAIR),
            KeptBreaks(0, "apart", (0, 1)),
            id="a lay kept against a choice",
        ),
    ],
)
def test_the_reason_is_told(asked, reason):
    assert reason in reasons(asked)


def test_numbers_that_cannot_be_shared_are_proven_so():
    """One of the first must be with up to two of the second on each marker: 1 and 5 cannot be."""
    assert reasons(question([1, 5], together=PAIR, most_garments=3)) == (NoCombination((0, 1)),)


def test_an_odd_number_is_cut_where_the_overcut_allows_one_more():
    asked = question([3, 2], ways=PAIRED, overcut=((1,), (0,)))
    answer = solve(asked)
    assert broken_rules(asked, answer.sections) == []
    assert answer.overcut == 1


@pytest.mark.parametrize(
    "wrong",
    [
        {"overcut": ((1,),)},
        {"demand": ((-1,), (2,))},
        {"most_plies": 0},
        {"end_mm": -1.0},
        {"keep": (FixedLay((1,), "open", (1,)),)},
    ],
)
def test_a_question_that_is_none_is_refused(wrong):
    with pytest.raises(ValueError, match=r"."):
        solve(replace(question([1, 2]), **wrong))


HARD = question([7, 11, 13], most_garments=4)


def test_without_the_solver_the_plan_is_searched_and_says_so(monkeypatch):
    monkeypatch.setitem(sys.modules, "highspy", None)
    answer = solve(HARD, seconds=2.0)
    assert broken_rules(HARD, answer.sections) == []
    assert (answer.method, answer.is_proven) == ("without_solver", False)
    assert answer.lays >= 3


def test_a_solver_that_fails_leaves_the_plan_found_before(monkeypatch):
    def fails(*_args, **_named):
        raise highs.NoSolver("out of order")

    monkeypatch.setattr("planner.core.cut_plan.options.relax", fails)
    monkeypatch.setattr("planner.core.cut_plan.exact.solve", fails)
    asked = question([(5, 7), (6, 4), (9, 2), (1, 8)], most_garments=3, most_plies=4)
    answer = solve(asked, seconds=2.0)
    assert broken_rules(asked, answer.sections) == []
    assert answer.bound <= answer.value


def test_the_solver_itself_can_be_stopped_with_what_it_has():
    """A programme that takes far longer: asked to stop at its fifth question, and at a deadline."""
    prepared = prepare(
        question(
            [(417, 834, 419), (834, 1667, 835), (417, 838, 417), (831, 1667, 834)],
            most_garments=4,
            most_plies=9,
        )
    )
    markers = every_marker(prepared, most=500)
    floor = counting_floor(prepared, markers)
    asked = []

    def should_stop():
        asked.append(1)
        return len(asked) >= 5

    stage = solve_over(
        prepared, markers, floor, "lays", deadline=time.monotonic() + 60, should_stop=should_stop
    )
    assert len(asked) >= 5
    assert not stage.is_proven
    begin = time.monotonic()
    stage = solve_over(prepared, markers, floor, "lays", deadline=begin + 0.5)
    assert not stage.is_proven
    assert time.monotonic() - begin < 3.0  # half a second, and room for a busy machine


def test_the_solver_prints_nothing(capfd):
    highs._quiet.cache_clear()
    solve(HARD)
    out, err = capfd.readouterr()
    assert (out, err) == ("", "")
