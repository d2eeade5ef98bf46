"""Whatever the question: demand met, limits kept, and the bound never above the value."""

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.core.cut_plan.check import broken_rules
from planner.core.cut_plan.measure import totals_of
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
