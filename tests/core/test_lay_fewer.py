"""Which rule stands against a lay less, on plans small enough to be gone through with a pencil.

Every marker of jersey comes out at 80 % of the cloth, so a top takes 742.9 (S), 767.9 (M) or 792.9 mm (L).
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from planner.core.cut_plan.model import PlanQuestion
from planner.core.cut_plan.within_lays import plan_within
from planner.core.lays import lay_fewer
from planner.core.lays.cut_plans import Lengths, plan_fabrics
from planner.core.lays.fabric_planner import FabricPlan
from planner.core.lays.learnt import Learnt
from planner.core.lays.wishes import PlanFacts, Reason, Wishes, facts_from_json, facts_to_json
from planner.core.spec import ClothKey, ColourwaySpec, Demand, Garment, LayTimes, make_options
from tests.core.makers import JERSEY, RIB, THREAD, make_cloth, make_shop, make_tee, wanted

AT_80 = Lengths(learnt={"jersey": Learnt(tuple((n, 0.8) for n in range(1, 40)))})
TIMES = LayTimes(setup=10, spread=1, spread_metre=0, mark_piece=0.5, cut_piece=1, rate_per_hour=Decimal("30"))


def facts_for(demand: list[Demand], wish: Wishes | None = None, **shop: object) -> PlanFacts:
    wish = replace(wish or Wishes(), aim="fewest_lays")
    room = make_shop(jersey=make_cloth(end_allowance_mm=20), times=TIMES, **shop)
    plans = plan_fabrics(demand, room, wishes={"jersey": wish}, lengths=AT_80, seconds=20)
    return next(plan.facts for plan in plans if plan.fabric == "jersey")


def sizes(s: int = 0, m: int = 0, l: int = 0) -> list[Demand]:  # noqa: E741
    return [wanted(n, size) for size, n in (("S", s), ("M", m), ("L", l)) if n]


def test_counts_that_do_not_divide_miss_it_by_one_garment() -> None:
    """7, 11 and 13, four in a marker: 3 lays, 8 plies (an optimum of two solvers, see tests/outside).

    With an eighth S two would do: five plies of S, M and two L, and three of S, two M and L.
    """
    facts = facts_for(sizes(7, 11, 13), table_length_mm=3300, most_plies=20)
    assert (facts.best.lays, facts.best.spreads, facts.fewer) == (3, 8, "proven")
    assert facts.reason == Reason("exact", would=1, kinds=(("1", "S"),))
    assert facts_from_json(facts_to_json(facts)) == facts, "as it is stored"


def test_a_table_too_short_for_a_garment_of_each_size() -> None:
    """One of each size: two fit a table of 1.6 m; all three are 2,303.6 mm and 40 mm of ends."""
    facts = facts_for(sizes(1, 1, 1), table_length_mm=1600, most_plies=20)
    assert (facts.best.lays, facts.fewer) == (2, "proven")
    assert facts.reason is not None
    assert (facts.reason.rule, facts.reason.has) == ("table", 1600)
    assert facts.reason.would == pytest.approx(2303.6 + 40, abs=0.2)


def test_a_tool_that_cuts_a_ply_too_few() -> None:
    """7 S and 7 M, at most three in a marker: one of each takes 7 plies; 14 garments would fit 3 × 6."""
    facts = facts_for(sizes(7, 7), table_length_mm=2400, most_plies=6)
    assert (facts.best.lays, facts.fewer) == (2, "proven")
    assert facts.reason == Reason("plies", 6, 7)


def test_her_own_limit_of_plies_is_named_before_all_else() -> None:
    facts = facts_for(sizes(7, 7), Wishes(most_plies=6), table_length_mm=2400, most_plies=10)
    assert (facts.best.lays, facts.reason) == (2, Reason("own_plies", 6, 7))


def test_sizes_kept_apart() -> None:
    kinds = frozenset({("1", "S"), ("1", "M")})
    facts = facts_for(sizes(2, 2), Wishes(apart=(kinds,)), table_length_mm=2500, most_plies=4)
    assert (facts.best.lays, facts.reason) == (2, Reason("apart", kinds=(("1", "M"), ("1", "S"))))


def test_sizes_kept_together() -> None:
    """1 S, 5 M and 2 L, three in a marker and two plies: two plies of two M and an L, and one of S and M.

    With S and L always together the S takes both L along: one ply of them, and five M are two lays more.
    """
    kinds = frozenset({("1", "S"), ("1", "L")})
    assert facts_for(sizes(1, 5, 2), table_length_mm=2430, most_plies=2).best.lays == 2
    facts = facts_for(sizes(1, 5, 2), Wishes(together=(kinds,)), table_length_mm=2430, most_plies=2)
    assert (facts.best.lays, facts.reason) == (3, Reason("together", kinds=(("1", "L"), ("1", "S"))))


def test_colours_in_other_proportions_are_never_one_lay() -> None:
    """Five S and an M in ink, an S and five M in white: no table and no tool makes one lay of them."""
    counts = {("ink", "S"): 5, ("ink", "M"): 1, ("white", "S"): 1, ("white", "M"): 5}
    facts = in_two_colours(counts, table_length_mm=6000, most_plies=40)
    assert (facts.best.lays, facts.fewer, facts.reason) == (2, "proven", Reason("same_in_all_colours"))


def in_two_colours(
    counts: dict[tuple[str, str], int], white_neck: str = "rib band", **shop: object
) -> PlanFacts:
    """Tops with a rib band in ink, with any in white."""
    return plan_in_two_colours(counts, Wishes("fewest_lays"), white_neck, **shop).facts


def plan_in_two_colours(
    counts: dict[tuple[str, str], int], wish: Wishes, white_neck: str = "rib band", **shop: object
) -> FabricPlan:
    white, white_rib = ClothKey("jersey", "white"), ClothKey("rib", "white")
    ways = {
        "ink": ColourwaySpec("ink", {"body": JERSEY, "rib": RIB}, THREAD),
        "white": ColourwaySpec("white", {"body": white, "rib": white_rib}, THREAD),
    }
    room = make_shop(make_tee(colourways=ways), times=TIMES, **shop)
    cloths = {white: make_cloth(white), white_rib: make_cloth(white_rib, usable_width_mm=1000.0)}
    room = replace(room, cloths={**room.cloths, **cloths})
    necks = {"ink": "rib band", "white": white_neck}
    demand = [
        Demand(Garment("1", make_options({"neck": necks[colour]}), colour, size), n)
        for (colour, size), n in counts.items()
    ]
    plans = plan_fabrics(demand, room, wishes={"jersey": wish}, lengths=AT_80, seconds=20)
    return next(plan for plan in plans if plan.fabric == "jersey")


def test_colours_that_are_cut_to_other_pieces_share_no_lay() -> None:
    """2 S and 2 M in ink and in white: one lay, were the white ones without a band of their own in jersey."""
    counts = {(colour, size): 2 for colour in ("ink", "white") for size in ("S", "M")}
    alike = in_two_colours(counts, table_length_mm=1700, most_plies=4)
    assert alike.best.lays == 1
    facts = in_two_colours(counts, "self band", table_length_mm=1700, most_plies=4)
    assert (facts.best.lays, facts.fewer) == (2, "proven")
    assert facts.reason == Reason("colours", colours=("ink", "white"))


def test_what_would_have_to_give_way_more_is_not_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    """Other pieces for a colour weigh a quarter: that a table a quarter longer and a ply more will not do is enough."""
    asked: list[PlanQuestion] = []

    def within(question: PlanQuestion, lays: int, **options: Any) -> object:
        asked.append(question)
        return plan_within(question, lays, **options)

    monkeypatch.setattr(lay_fewer, "plan_within", within)
    counts = {(colour, size): 2 for colour in ("ink", "white") for size in ("S", "M")}
    facts = in_two_colours(counts, "self band", table_length_mm=1700, most_plies=4)
    assert facts.reason == Reason("colours", colours=("ink", "white"))
    lengths = sorted({round(one.most_length_mm) for one in asked})
    assert lengths == [1700, 1870, 2125]
    assert sorted({one.most_plies for one in asked}) == [4, 5]


def test_a_lay_that_is_kept_takes_nothing_from_that_reason() -> None:
    """Two lays, one a colour, one of them kept as it is: what stands against a single one is the same as before."""
    counts = {(colour, size): 2 for colour in ("ink", "white") for size in ("S", "M")}
    shop = {"table_length_mm": 1700, "most_plies": 4}
    plan = plan_in_two_colours(counts, Wishes("fewest_lays"), "self band", **shop)
    kept = Wishes("fewest_lays", keep=(plan.lays[0],))
    facts = plan_in_two_colours(counts, kept, "self band", **shop).facts
    assert (facts.best.lays, facts.fewer) == (2, "proven")
    assert facts.reason == plan.facts.reason == Reason("colours", colours=("ink", "white"))


def test_where_the_kept_lay_itself_takes_one_more_that_is_the_reason() -> None:
    """A lay of S alone is kept, and the others no longer fit one lay beside it."""
    counts = {(colour, size): 2 for colour in ("ink", "white") for size in ("S", "M")}
    shop = {"table_length_mm": 1700, "most_plies": 4}
    small = {("ink", "S"): 2, ("white", "S"): 2, ("white", "M"): 2}
    other = plan_in_two_colours(small, Wishes("fewest_lays"), "self band", **shop)
    lone = next(lay for lay in other.lays if lay.cloths[0].colour == "ink")
    facts = plan_in_two_colours(counts, Wishes("fewest_lays", keep=(lone,)), "self band", **shop).facts
    assert facts.best.lays == 3
    assert facts.reason == Reason("keep")


def test_where_counting_says_it_no_other_reason_is_sought() -> None:
    facts = facts_for(sizes(m=10), table_length_mm=1600, most_plies=2)
    assert (facts.best.lays, facts.fewer, facts.reason) == (3, "counting", None)


def test_without_time_no_reason_is_told() -> None:
    room = make_shop(jersey=make_cloth(end_allowance_mm=20), times=TIMES, table_length_mm=1600, most_plies=20)
    (facts,) = (
        plan.facts
        for plan in plan_fabrics(sizes(1, 1, 1), room, lengths=AT_80, compare=False)
        if plan.fabric == "jersey"
    )
    assert facts.best.lays == 2
    assert facts.reason is None


@pytest.mark.parametrize(("white", "lays"), [(3, (2, 2)), (1, (2, 1))])
def test_where_a_colour_needs_more_than_one_lay_the_reason_tells_that_too(
    white: int, lays: tuple[int, int]
) -> None:
    """3 S in ink on a table for two: a lay of two and one of one; white, of other pieces, shares none of them.

    That alone would explain two lays. Three S are 3 × 742.9 mm, which a longer table takes.
    """
    counts = {("ink", "S"): 3, ("white", "S"): white}
    facts = in_two_colours(counts, "self band", table_length_mm=1700, most_plies=2)
    reason = facts.reason
    assert (facts.best.lays, facts.fewer) == (sum(lays), "proven")
    assert reason is not None
    assert (reason.rule, reason.colours, reason.lays, reason.of) == (
        "colours", ("ink", "white"), lays, ("ink",),
    )  # fmt: skip
    assert reason.alone is not None
    assert (reason.alone.rule, reason.alone.has) == ("table", 1700)
    assert reason.alone.would == pytest.approx(3 * 742.9, abs=0.5)
    assert facts_from_json(facts_to_json(facts)) == facts
