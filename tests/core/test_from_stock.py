"""What a plan buys for want of long pieces in stock, and the plan of plies that fit there."""

from dataclasses import replace

import pytest

from planner.core.lays import fabric_planner
from planner.core.lays.cut_plans import Lengths, plan_fabrics
from planner.core.lays.learnt import Learnt
from planner.core.lays.standing import as_it_stands
from planner.core.lays.wishes import Wishes, facts_from_json, facts_to_json
from planner.core.rolls import RollThere
from tests.core.makers import JERSEY, make_cloth, make_shop, wanted

AT_80 = Lengths(learnt={"jersey": Learnt(((1, 0.8),), "")})


def jersey_plan(*pieces_mm, from_stock=False, aim="money", **options):
    """One top of each size, from jersey of which such pieces lie there."""
    rolls = {JERSEY: tuple(RollThere(f"{n}", mm) for n, mm in enumerate(pieces_mm))}
    plans = plan_fabrics(
        [wanted(1, size) for size in "SML"], make_shop(), wishes={"jersey": Wishes(aim, from_stock=from_stock)},
        lengths=AT_80, only=["jersey"], **{"stock": rolls, "seconds": 3} | options,
    )  # fmt: skip
    return plans[0]


def plies_of(plan):
    return [round(lay.estimated_length_mm) for lay in plan.lays]


def test_a_plan_that_buys_while_cloth_stays_on_the_shelf_has_one_from_stock_beside_it():
    """One marker of S, M and L is 3 × 860,000 mm² on 1,400 mm, at 83.4 % 2,210 mm: 2.3 m are bought, by 0.1 m. With
    2.0 m in stock two of them fit there, and the third takes 0.8 m that are bought."""
    plan = jersey_plan(2000.0)
    assert plies_of(plan) == [2210]
    stock = plan.facts.stock
    assert (stock.buys_mm, stock.unused_mm, stock.is_open) == (pytest.approx(2300), 2000, False)
    assert (stock.other.lays, stock.other_buys_mm) == (2, pytest.approx(800))
    assert stock.other.cost > plan.facts.best.cost
    assert facts_from_json(facts_to_json(plan.facts)) == plan.facts


def test_what_lies_there_is_told_in_full_with_its_flaws():
    """3 m with a flaw from 1.0 to 1.3 m and an end of 0.3 m are 3.0 m of cloth and 0.3 m of flaws."""
    rolls = (RollThere("R13", 3000.0, flaws=((1000.0, 1300.0),)), RollThere("R14", 300.0))
    stock = jersey_plan(stock={JERSEY: rolls}).facts.stock
    assert (stock.unused_mm, stock.flaws_mm) == (pytest.approx(3000), pytest.approx(300))


def test_made_from_stock_no_ply_is_longer_than_what_lies_there():
    offered = jersey_plan(2000.0).facts.stock.other
    plan = jersey_plan(2000.0, from_stock=True)
    assert max(plies_of(plan)) <= 2000
    assert (plan.facts.best.cost, plan.facts.best.lays) == (offered.cost, 2)
    assert plan.facts.gap_share is None, "the cheapest of these, though there are cheaper ones"
    assert {one.aim: one.lays for one in plan.facts.others} == {
        "money": 1,
        "fewest_lays": 1,
        "least_cloth": 1,
    }
    stock = plan.facts.stock
    assert (stock.is_aim, stock.buys_mm) == (True, pytest.approx(800))
    # Beside it the one that was made without looking there.
    assert (stock.other.aim, stock.other.lays, stock.other_buys_mm) == ("money", 1, pytest.approx(2300))


def test_where_stock_does_or_is_not_there_nothing_is_asked_or_told(monkeypatch):
    asked = []
    plain = fabric_planner.StockLook.within
    monkeypatch.setattr(
        fabric_planner.StockLook, "within", lambda self, question: asked.append(1) or plain(self, question)
    )
    assert [jersey_plan(*pieces).facts.stock for pieces in ((5000.0,), (2211.0, 100.0), ())] == [None] * 3
    assert not asked


def test_no_plan_from_stock_is_told_where_it_buys_no_less():
    """Not a single top fits on 0.5 m: it all has to be bought whatever is laid."""
    stock = jersey_plan(500.0).facts.stock
    assert (stock.buys_mm, stock.other, stock.is_open) == (pytest.approx(2300), None, False)


def test_without_time_it_is_open(monkeypatch):
    monkeypatch.setattr(fabric_planner, "_MOST_FOR_ONE", 0.0)
    stock = jersey_plan(2000.0).facts.stock
    assert (stock.buys_mm, stock.other, stock.is_open) == (pytest.approx(2300), None, True)


def test_where_the_piece_was_used_up_meanwhile_the_plan_is_that_without():
    plan = jersey_plan(500.0, from_stock=True)
    assert plies_of(plan) == [2210]
    assert not plan.facts.stock.is_aim


def test_a_plan_from_stock_that_stands_is_told_though_its_piece_is_shorter_by_now():
    """Two tops beside each other on the 2.0 m there were; on 1.0 m only single ones fit, and the lay kept is bought."""
    there = jersey_plan(2000.0, from_stock=True).lays
    longest = max(lay.estimated_length_mm + 2 * lay.end_allowance_mm for lay in there)
    assert longest > 1000
    rolls = (RollThere("0", 1000.0),)
    (kept,) = plan_fabrics(
        [wanted(1, size) for size in "SML"], make_shop(), stock={JERSEY: rolls}, only=["jersey"], lengths=AT_80,
        wishes={"jersey": Wishes(keep=there, from_stock=True)}, seconds=3, compare=False,
    )  # fmt: skip
    assert sorted(plies_of(kept)) == sorted(round(lay.estimated_length_mm) for lay in there)
    assert (kept.facts.stock.is_aim, kept.facts.stock.is_too_long) == (True, True)
    assert kept.facts.stock.buys_mm >= longest
    assert not jersey_plan(2000.0, from_stock=True).facts.stock.is_too_long
    assert max(plies_of(jersey_plan(1000.0, from_stock=True))) <= 1000


def test_a_plan_that_stands_buys_its_own_metres():
    """Told of the lays that are there, not of those that could be; what is offered must buy less than they do."""
    could = jersey_plan(2000.0).facts
    kept = jersey_plan(2000.0, compare=False).facts
    assert kept.stock.is_open
    told = as_it_stands(kept, could).stock
    assert (told.other, told.is_open) == (could.stock.other, False)
    small = replace(kept, stock=replace(kept.stock, buys_mm=700.0))
    assert as_it_stands(small, could).stock.other is None


def test_plies_that_fit_the_longest_piece_but_find_none_are_tried_shorter():
    """Two S and two M, both together 1,511 mm: of two such plies one finds a piece of 1,600 mm, the other none. Plies
    no longer than the next piece, 768 and 743 mm, two of each, all find one: nothing is bought, for a lay more."""
    rolls = tuple(RollThere(f"{n}", mm) for n, mm in enumerate((1600.0, 1450.0, 800.0)))
    (plan,) = plan_fabrics(
        [wanted(2, size) for size in "SM"], make_shop(), wishes={"jersey": Wishes("money", from_stock=True)},
        lengths=AT_80, only=["jersey"], stock={JERSEY: rolls}, seconds=3,
    )  # fmt: skip
    assert plies_of(plan) == [768, 743]
    assert plan.facts.stock.buys_mm == 0
    # Among all plans of plies that fit the longest piece a cheaper one is known, which would buy.
    assert plan.facts.gap_share == pytest.approx(1 - 37.15 / 40.75, abs=1e-3)
    assert not plan.facts.best.is_proven


def test_what_each_plan_spends_is_what_it_buys_and_the_work():
    """2.3 m at 10.00 and its minutes at the rate of the workroom; from stock 0.8 m and a lay more of work."""
    facts = jersey_plan(2000.0).facts
    rate = make_shop().times.rate_per_hour / 60
    for outcome, metres, spends in (
        (facts.best, 2.3, facts.stock.spends),
        (facts.stock.other, 0.8, facts.stock.other_spends),
    ):
        assert float(spends) == pytest.approx(metres * 10 + outcome.minutes * float(rate))
    assert facts.stock.other_spends < facts.stock.spends


@pytest.mark.parametrize("extra", [0, 1])
def test_only_what_finds_no_piece_is_tried_shorter_where_that_is_cheaper(extra):
    """Four unlike tops in two plies of two, some 1.55 m each. On 1,600, 1,450 and 830 mm one of them finds a piece;
    what the other cuts lies by itself on the others: three lays, where each top by itself would be four. So it is where
    more may be cut than is wanted, and where a long piece is left that is too narrow."""
    rolls = tuple(RollThere(f"{n}", mm) for n, mm in enumerate((1600.0, 1450.0, 830.0)))
    rolls = (*rolls, RollThere("narrow", 5000.0, usable_width_mm=1399.0))
    tops = [*(wanted(1, size) for size in "SML"), wanted(1, "M", neck="self band")]
    tops = [replace(top, extra_allowed=extra) for top in tops]
    (plan,) = plan_fabrics(
        tops, make_shop(), wishes={"jersey": Wishes("money", from_stock=True)},
        lengths=AT_80, only=["jersey"], stock={JERSEY: rolls}, seconds=3,
    )  # fmt: skip
    assert sorted(lay.garments_per_marker for lay in plan.lays) == [1, 1, 2]
    assert plan.facts.stock.buys_mm == 0


@pytest.mark.parametrize(("usable_mm", "buys_mm"), [(1399.0, 1600), (1400.0, 0), (None, 0)])
def test_a_roll_too_narrow_folded_does_not_count_as_stock(usable_mm, buys_mm):
    """Cloth of 1,400 mm lies 700 mm wide folded: a roll of 1,399 mm is wider than the lay, but not folded."""
    (plan,) = plan_fabrics(
        [wanted(2)], make_shop(jersey=make_cloth(modes=("folded",))), wishes={"jersey": Wishes(from_stock=True)},
        lengths=AT_80, only=["jersey"], seconds=3,
        stock={JERSEY: (RollThere("E-1", 20_000.0, usable_width_mm=usable_mm),)},
    )  # fmt: skip
    assert plan.facts.stock.buys_mm == pytest.approx(buys_mm)


def face_to_face(count, *rolls, from_stock=True):
    """So many tops of size M in pairs, from jersey of which such rolls lie there: plies and what is told."""
    shop = make_shop(jersey=make_cloth(modes=("face_to_face",)))
    (plan,) = plan_fabrics(
        [wanted(count)], shop, wishes={"jersey": Wishes("money", from_stock=from_stock)}, lengths=AT_80, seconds=3,
        only=["jersey"], stock={JERSEY: rolls},
    )  # fmt: skip
    return [lay.estimated_length_mm + 2 * lay.end_allowance_mm for lay in plan.lays], plan.facts.stock


def test_face_to_face_a_roll_must_give_both_plies():
    """Four tops as one pair of plies; of a roll a hair shorter than both they are cut as two pairs, half as long."""
    (long_mm,), _ = face_to_face(4)
    (pair_mm,), _ = face_to_face(2)
    assert 2 * pair_mm < 1.5 * long_mm
    plies, stock = face_to_face(4, RollThere("0", 2 * long_mm))
    assert (plies, stock.buys_mm) == ([long_mm], 0)
    # Formerly any roll as long as one ply was taken to do.
    plies, stock = face_to_face(4, RollThere("0", 2 * long_mm - 1.0), RollThere("1", 2 * pair_mm))
    assert plies == [pair_mm, pair_mm], "a lay each, for the knife takes two layers"
    assert stock.buys_mm == 0
    assert stock.other_buys_mm >= 2 * long_mm


def test_face_to_face_both_plies_may_lie_either_side_of_a_flaw():
    (ply_mm,), _ = face_to_face(2)
    plies, stock = face_to_face(2, RollThere("0", 2 * ply_mm + 1.0, flaws=((ply_mm, ply_mm + 1.0),)))
    assert (plies, stock.buys_mm) == ([ply_mm], 0)
    # Of two rolls that give one ply each nothing can be cut: all is to be bought.
    half = (RollThere("0", ply_mm + 100.0), RollThere("1", ply_mm + 100.0))
    assert face_to_face(2, *half, from_stock=False)[1].buys_mm >= 2 * ply_mm
