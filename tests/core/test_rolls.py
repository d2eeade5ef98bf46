"""Plies onto rolls: against counting out every choice, and rules that hold for any question."""

import itertools
import math
import random
from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from planner.core.rolls import PliesWanted, RollThere, assign_plies
from planner.core.rolls.simple import assign_simply
from planner.core.rolls.stretches import make_puzzle
from planner.core.rolls.tally import broken_rules
from tests.core.rolls_checks import ask, check, plies_by_lot
from tests.core.rolls_counted import count_out, least_value_of

INF = math.inf


def _random_question(chance):
    """A question small enough to count out: at most 3 lays and 3 rolls, with every rule in play."""
    spreads = [chance.choice((1, 1, 2)) for _ in range(chance.randint(1, 3))]
    wanted = [
        PliesWanted(
            f"lay {n}",
            chance.randint(4, 12) * 250.0,
            chance.randint(1, 3) * each,
            chance.choice((0.0, 1400.0)),
            each,
            chance.random() < 0.2,
        )
        for n, each in enumerate(spreads)
    ]
    rolls = []
    for n in range(chance.randint(1, 3)):
        length = chance.randint(6, 36) * 250.0
        flaws = ()
        if chance.random() < 0.4:
            low = chance.randint(0, int(length / 250)) * 250.0
            flaws = ((low, low + 250.0),)
        width = chance.choice((None, 1300.0, 1500.0))
        rolls.append(RollThere(f"roll {n}", length, chance.choice("ab"), width, flaws, chance.random() < 0.3))
    return ask(wanted, rolls, chance.choice((500.0, 1500.0, INF)))


@pytest.mark.parametrize("seed", range(30))
def test_the_best_of_every_choice_there_is(seed):
    question = _random_question(random.Random(seed))
    answer = assign_plies(question, seconds=20)
    check(question, answer)
    assert answer.is_proven
    assert answer.value_mm == pytest.approx(least_value_of(question), abs=0.02)


def test_counting_out_finds_what_is_plain():
    """The counter the random cases rest on, against a case done by hand: 3 + 2 of 1 m from 3.2 m and 2.1 m."""
    question = ask([(1000.0, 5)], [3200.0, 2100.0], INF)
    best = min(count_out(question), key=lambda found: found[0])
    assert best[1] == {("lay 1", "roll 1", 0): 3, ("lay 1", "roll 2", 0): 2}
    assert best[0] == pytest.approx(300.0 + 2.0 + 0.05 + 0.05 * 2100 / 3200 + 0.5)


@st.composite
def questions(draw):
    n_wanted, n_rolls = draw(st.integers(1, 4)), draw(st.integers(0, 5))
    wanted = []
    for n in range(n_wanted):
        each = draw(st.sampled_from((1, 1, 2, 3)))
        wanted.append(
            PliesWanted(
                f"lay {n}",
                draw(st.floats(300, 6000)),
                draw(st.integers(0, 8)) * each,
                draw(st.sampled_from((0.0, 1400.0))),
                each,
                draw(st.booleans()),
            )
        )
    rolls = [
        RollThere(
            f"roll {n}",
            length := draw(st.floats(0, 30000)),
            draw(st.sampled_from(("", "a", "b"))),
            draw(st.sampled_from((None, 1350.0, 1400.0))),
            tuple(
                draw(
                    st.lists(st.tuples(st.floats(-10, length + 10), st.floats(-10, length + 10)), max_size=2)
                )
            ),
            draw(st.booleans()),
        )
        for n in range(n_rolls)
    ]
    return ask(wanted, rolls, draw(st.sampled_from((0.0, 500.0, 2000.0, INF))))


@settings(max_examples=25, deadline=None)
@given(question=questions())
@example(question=ask([(1000.0, 0)], [3000.0]))
@example(question=ask([(1000.0, 4)], []))
@example(question=ask([(1000.0, 4)], [RollThere("r", 5000.0, flaws=((0, 700), (700, 900), (4900, 5000)))]))
def test_no_roll_is_overused_and_flaws_and_lots_are_kept(question):
    check(question, assign_plies(question, seconds=1.0))
    puzzle = make_puzzle(question)
    assert broken_rules(puzzle, assign_simply(puzzle)) == []


def test_a_ply_never_lies_across_a_flaw():
    """5 m with a flaw in the middle give 4 plies of 1.1 m, not the one ply more that lies across it."""
    question = ask([(1100.0, 4)], [RollThere("r", 5000.0, flaws=((2400.0, 2500.0),))])
    answer = assign_plies(question)
    assert not answer.short
    assert [(c.from_mm, c.to_mm) for c in answer.cuts] == [(0.0, 2200.0), (2500.0, 4700.0)]
    assert answer.flawed_mm == 100.0
    assert answer.waste_mm == 200.0 + 300.0
    one_more = assign_plies(ask([(1150.0, 4)], [RollThere("r", 4700.0, flaws=((2300.0, 2350.0),))]))
    assert [(s.wanted, s.plies) for s in one_more.short] == []
    lost = assign_plies(ask([(1150.0, 4)], [RollThere("r", 4700.0, flaws=((2200.0, 2250.0),))]))
    assert [(s.wanted, s.plies) for s in lost.short] == [("lay 1", 1)]


def test_what_lies_beyond_the_last_ply_stays_on_the_roll_with_its_flaws():
    roll = RollThere("r", 9200.0, flaws=((3000.0, 3100.0), (6100.0, 6200.0)))
    answer = assign_plies(ask([(1200.0, 2)], [roll]))
    assert [(r.from_mm, r.length_mm, r.is_kept) for r in answer.remnants] == [(2400.0, 6800.0, True)]
    assert answer.remnants[0].flaws == ((600.0, 700.0), (3700.0, 3800.0))
    assert answer.waste_mm == answer.flawed_mm == 0.0
    # 400 mm before the flaw are too short to keep and are cut off; further in it would be no less.
    answer = assign_plies(ask([(2600.0, 1)], [roll]))
    pieces = [(r.from_mm, r.length_mm, r.is_kept, r.flaws[:1]) for r in answer.remnants]
    assert pieces == [(2600.0, 400.0, False, ()), (3000.0, 6200.0, True, ((0.0, 100.0),))]
    assert answer.waste_mm == 400.0


def test_outer_stretches_are_cut_off_as_ends_where_that_wastes_less():
    """Only the innermost stretch leaves enough to keep: the two before it become ends."""
    roll = RollThere("r", 9600.0, flaws=((3000.0, 3100.0), (6100.0, 6200.0)))
    answer = assign_plies(ask([(2600.0, 1)], [roll]))
    assert [(c.from_mm, c.to_mm) for c in answer.cuts] == [(6200.0, 8800.0)]
    assert [(r.from_mm, r.length_mm) for r in answer.remnants] == [(0, 3000), (3100, 3000), (8800, 800)]
    assert (answer.waste_mm, answer.flawed_mm) == (0.0, 200.0)


def test_a_roll_narrower_than_the_lay_is_not_used_for_it():
    wide = PliesWanted("wide", 1000.0, 3, 1500.0)
    slim = PliesWanted("slim", 1000.0, 3, 1300.0)
    rolls = [RollThere("1400", 9000.0, "", 1400.0), RollThere("1500", 3000.0, "", 1500.0)]
    answer = assign_plies(ask([wide, slim], rolls))
    assert {(c.wanted, c.roll) for c in answer.cuts} == {("wide", "1500"), ("slim", "1400")}
    assert not answer.short


def test_the_plies_of_a_spread_come_from_one_roll():
    """Two rolls of 3 plies make a spread face to face each, of whichever lot; one of 6 plies makes 3."""
    face_to_face = PliesWanted("lay", 1000.0, 6, plies_per_spread=2)
    for lots in ("aa", "ab"):
        answer = assign_plies(
            ask([face_to_face], [RollThere(f"{n}", 3000.0, lot) for n, lot in enumerate(lots)])
        )
        assert [s.plies for s in answer.short] == [2]
        assert [(c.roll, c.plies) for c in answer.cuts] == [("0", 2), ("1", 2)]
    assert not assign_plies(ask([face_to_face], [RollThere("1", 6000.0)])).short


def test_the_plies_of_a_spread_may_lie_either_side_of_a_flaw():
    """A flaw at 1 m to 1.1 m of 2.6 m: a ply before it and one behind; of three plies in 3.6 m one is left over."""
    pair = PliesWanted("lay", 1000.0, 4, plies_per_spread=2)
    answer = assign_plies(ask([pair], [RollThere("1", 2600.0, "", None, ((1000.0, 1100.0),))]))
    assert [(c.from_mm, c.to_mm) for c in answer.cuts] == [(0.0, 1000.0), (1100.0, 2100.0)]
    answer = assign_plies(ask([pair], [RollThere("1", 3600.0, "", None, ((1000.0, 1100.0),))]))
    assert (sum(c.plies for c in answer.cuts), [s.plies for s in answer.short]) == (2, [2])


def test_one_shade_lot_is_preferred_and_can_be_asked_for():
    rolls = [RollThere("1", 2000.0, "a"), RollThere("2", 2000.0, "b"), RollThere("3", 2000.0, "a")]
    answer = assign_plies(ask([(1000.0, 4)], rolls))
    assert plies_by_lot(answer, "lay 1") == {"a": 4}
    # 3 plies of 1 m leave less if lots are mixed; whoever asks for one lot, or values it, pays 0.4 m.
    rolls = [RollThere("1", 2000.0, "a"), RollThere("2", 1000.0, "b"), RollThere("3", 1400.0, "a")]
    mixed = assign_plies(ask([(1000.0, 3)], rolls))
    assert (mixed.waste_mm, len(plies_by_lot(mixed, "lay 1"))) == (0.0, 2)
    for question in (
        ask([(1000.0, 3)], rolls, lot_change_mm=401.0),
        ask([PliesWanted("lay 1", 1000.0, 3, one_lot=True)], rolls),
    ):
        answer = assign_plies(question)
        assert (answer.waste_mm, plies_by_lot(answer, "lay 1")) == (400.0, {"a": 3})


def test_ends_and_short_rolls_go_first_where_all_else_is_equal():
    rolls = [RollThere("long", 9000.0), RollThere("end", 9000.0, is_end=True), RollThere("short", 8000.0)]
    assert {c.roll for c in assign_plies(ask([(1000.0, 3)], rolls)).cuts} == {"end"}
    assert {c.roll for c in assign_plies(ask([(1000.0, 3)], [rolls[0], rolls[2]])).cuts} == {"short"}
    # Fewer rolls before ends: one roll gives what two ends would.
    ends = [RollThere("e1", 2000.0, is_end=True), RollThere("e2", 2000.0, is_end=True)]
    assert {c.roll for c in assign_plies(ask([(1000.0, 4)], [*ends, RollThere("long", 9000.0)])).cuts} == {
        "long"
    }


def test_lays_are_cut_in_their_order_with_a_lot_kept_together():
    rolls = [
        RollThere("1", 4000.0, "a"),
        RollThere("2", 3000.0, "b"),
        RollThere("3", 3000.0, "a", is_end=True),
    ]
    answer = assign_plies(ask([(1000.0, 4), (1000.0, 6)], rolls))
    assert [c.wanted for c in answer.cuts] == sorted(c.wanted for c in answer.cuts)
    assert not answer.short
    for key in ("lay 1", "lay 2"):
        lots = [c.shade_lot for c in answer.cuts if c.wanted == key]
        assert len(list(itertools.groupby(lots))) == len(set(lots))


def test_a_thousandth_of_a_millimetre_of_float_does_not_cost_a_ply():
    """7 plies of 0.7 m and 0.1 + 0.2 m added up are a hair more than the roll in binary numbers."""
    assert not assign_plies(ask([(700.0 * 1.0000000001, 7)], [4900.0])).short
    assert not assign_plies(ask([((0.1 + 0.2) * 1000, 10)], [3000.0])).short
    assert assign_plies(ask([(700.1, 7)], [4900.0])).short


@pytest.mark.parametrize(
    "change",
    [
        {"wanted": (PliesWanted("a", 0.0, 1),)},
        {"wanted": (PliesWanted("a", math.nan, 1),)},
        {"wanted": (PliesWanted("a", 1.0, -1),)},
        {"wanted": (PliesWanted("a", 1.0, 3, plies_per_spread=2),)},
        {"wanted": (PliesWanted("a", 1.0, 1), PliesWanted("a", 1.0, 1))},
        {"rolls": (RollThere("r", INF),)},
        {"rolls": (RollThere("r", 1.0), RollThere("r", 1.0))},
        {"keep_from_mm": -1.0},
        {"keep_from_mm": math.nan},
    ],
)
def test_questions_without_sense_are_refused(change):
    with pytest.raises(ValueError, match=r"\w"):
        replace(ask([(1000.0, 3)], [3000.0]), **change)
