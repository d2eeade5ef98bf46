"""Whatever the question: demand met, limits kept, and the bound never above the value."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.core.cut_plan.check import broken_rules
from planner.core.cut_plan.measure import totals_of
from planner.core.cut_plan.model import FixedLay, PlannedSection
from planner.core.cut_plan.reasons import NoPlan
from planner.core.cut_plan.solve import solve
from tests.core.cut_plan_makers import question, way


@st.composite
def questions(draw):
    kinds = draw(st.integers(1, 5))
    columns = draw(st.integers(1, 3))
    demand = [[draw(st.integers(0, 9)) for _ in range(columns)] for _ in range(kinds)]
    lengths = tuple(float(draw(st.integers(50, 150))) for _ in range(kinds))
    each = tuple(float(draw(st.integers(0, 20))) for _ in range(kinds))
    ways = [way(lengths, factors=(1.0, 0.95, 0.93), each=each)]
    if draw(st.booleans()):
        half, shorter = tuple(cost / 2 for cost in each), (1.0, 0.5, 0.48)
        ways.append(way(lengths, name="face_to_face", plies=2, cloth=2, step=2, factors=shorter, each=half))
    pairs = st.frozensets(st.integers(0, kinds - 1), min_size=2, max_size=2) if kinds > 1 else st.nothing()
    return question(
        demand,
        ways=tuple(ways),
        most_garments=draw(st.integers(1, 6)),
        most_plies=draw(st.integers(1, 12)),
        most_length_mm=float(draw(st.integers(200, 900))),
        end_mm=float(draw(st.integers(0, 40))),
        per_lay_cost=float(draw(st.integers(0, 300))),
        per_length_cost=float(draw(st.integers(0, 20))),
        roll_lengths_mm=draw(
            st.none() | st.tuples(*[st.none() | st.integers(150, 600).map(float)] * columns)
        ),
        overcut=tuple(tuple(draw(st.sampled_from([0, 0, 0, 1])) for _ in row) for row in demand),
        overcut_cost=tuple((50.0,) * columns for _ in demand),
        apart=tuple(draw(st.lists(pairs, max_size=1))) if kinds > 1 else (),
        together=tuple(draw(st.lists(pairs, max_size=1))) if kinds > 1 else (),
        objective=draw(st.sampled_from(["money", "fewest_lays", "least_cloth"])),
    )


@settings(max_examples=30, deadline=None)
@given(asked=questions())
def test_every_plan_meets_the_demand_and_keeps_the_rules(asked):
    try:
        answer = solve(asked, seconds=0.4)
    except NoPlan as none:
        if not none.reasons:
            raise
        return
    assert broken_rules(asked, answer.sections) == []
    totals = totals_of(asked, answer.sections)
    assert totals.cost == answer.cost
    assert totals.goals(asked.objective)[0] == answer.value
    assert answer.bound <= answer.value * (1 + 1e-9)
    assert answer.lays_bound <= answer.lays
    assert 0 <= answer.gap_share <= 1
    assert not answer.is_proven or answer.gap_share == 0


def test_what_time_does_not_suffice_for_is_cut_by_kinds_with_full_tables():
    """A thousand garments without any time: each kind by itself, as many on a marker as the table takes."""
    asked = question([[500, 3]] * 2, most_length_mm=451.0, most_plies=2)
    answer = solve(asked, seconds=0.0)
    assert {one.counts for one in answer.sections} <= {(4, 0), (3, 0), (0, 4), (0, 3)}
    assert answer.lays == 2 * (63 + 1), (
        "500 of 4 a marker are 125 spreads of which 2 lie in a lay; 3 are one spread"
    )
    assert answer.gap_share > 0


ASKED = question(
    [[4, 2], [2, 0], [1, 0]],
    ways=(
        way((100.0, 50.0, 100.0)),
        way((100.0, 50.0, 100.0), name="face_to_face", plies=2, cloth=2, step=2),
    ),
    most_garments=4,
    most_plies=3,
    most_length_mm=301.0,
    roll_lengths_mm=(None, 201.0),
    apart=(frozenset({0, 2}),),
    together=(frozenset({0, 1}),),
)
#: It asks for the first two kinds, for the second column, where kind 1 is not wanted, and for the third kind.
LAYS = [
    PlannedSection((2, 1, 0), "open", (2, 0)),
    PlannedSection((1, 0, 0), "open", (0, 2)),
    PlannedSection((0, 0, 1), "open", (1, 0)),
]


@pytest.mark.parametrize(
    ("counts", "way_name", "spreads", "wrong"),
    [
        ((2, 1, 0), "tube", (2, 0), {"way ()"}),
        ((2, 1, 0), "open", (3, 0), set()),
        ((2, 1, 0), "open", (4, 0), {"plies ()"}),
        ((2, 2, 0), "face_to_face", (2, 0), {"plies ()"}),
        ((2, 2, 0), "open", (2, 0), set()),
        ((1, 4, 0), "open", (2, 0), {"garments ()"}),
        ((3, 1, 0), "open", (1, 0), {"length ()"}),
        ((1, 2, 0), "open", (0, 1), set()),
        ((1, 3, 0), "open", (0, 1), {"roll ()"}),
        ((2, 2, 0), "face_to_face", (1, 0), set()),
        ((2, 2, 0), "face_to_face", (0, 1), {"roll ()"}),
        ((1, 2, 0), "face_to_face", (1, 0), {"steps (0,)"}),
        ((1, 1, 1), "open", (1, 0), {"apart (0, 2)"}),
        ((2, 0, 0), "open", (1, 1), {"together (0, 1)"}),
    ],
)
def test_each_rule_that_a_lay_breaks_is_told(counts, way_name, spreads, wrong):
    lays = [PlannedSection(counts, way_name, spreads), *LAYS[1:]]
    told = {line for line in broken_rules(ASKED, lays) if line.startswith("lay")}
    assert told == {f"lay 0: {what}" for what in wrong}


def test_a_plan_that_cuts_other_than_wanted_or_lets_go_of_a_lay_is_told():
    over = replace(ASKED, overcut=((0, 0), (0, 0), (1, 0)))
    again = FixedLay((2, 1, 0), "open", (2, 0))
    assert broken_rules(ASKED, LAYS) == broken_rules(over, LAYS) == []
    assert broken_rules(ASKED, LAYS[:2]) == ["kind 2 column 0: 0 cut, 1 wanted"]
    for spreads, asked, wrong in ((2, over, []), (2, ASKED, ["2"]), (3, over, ["3"])):
        found = broken_rules(asked, [*LAYS[:2], PlannedSection((0, 0, 1), "open", (spreads, 0))])
        assert found == [f"kind 2 column 0: {n} cut, 1 wanted" for n in wrong]
    for empty in (PlannedSection((0, 0, 0), "open", (1, 0)), PlannedSection((0, 0, 1), "open", (0, 0))):
        assert broken_rules(ASKED, [*LAYS, empty]) == ["lay 3: nothing in it"]
    assert broken_rules(replace(ASKED, keep=(again,)), LAYS) == []
    assert broken_rules(replace(ASKED, keep=(again, again)), LAYS) == [
        "lay ((2, 1, 0), 'open', (2, 0)) not kept"
    ]
