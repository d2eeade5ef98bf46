"""What to buy for plies that are short: whole plies, in the units the cloth is sold in."""

from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from planner.core.cloth import shrunk
from planner.core.rolls import PliesShort, PliesWanted, RollQuestion, RollThere, assign_plies, what_to_buy
from planner.core.units import parse_length_mm
from planner.cutting.wording import length_to_buy
from tests.core.makers import make_cloth


def short(*pairs):
    return [PliesShort(f"lay {n}", plies, ply_mm) for n, (ply_mm, plies) in enumerate(pairs)]


def test_by_the_metre_the_plies_follow_one_another_in_one_piece():
    cloth = make_cloth(sold_by="metre", pack_quantity=Decimal("0.5"), price=Decimal("12"))
    found = what_to_buy(short((2430.0, 7), (1100.0, 2)), cloth)
    assert found.lay_m == pytest.approx(19.21)
    assert (found.buy.sold, found.buy.length_m, found.buy.cost) == (Decimal("19.5"), 19.5, Decimal("234.0"))


def test_by_the_roll_each_roll_gives_whole_plies():
    """Rolls of 50 m give 20 plies of 2.43 m (48.6 m); 41 plies are 99.63 m and need three rolls, not two."""
    cloth = make_cloth(sold_by="roll", pack_quantity=Decimal("50"), price=Decimal("400"))
    found = what_to_buy(short((2430.0, 41)), cloth)
    assert (found.buy.sold, found.buy.cost) == (Decimal(3), Decimal(1200))
    assert what_to_buy(short((2430.0, 40)), cloth).buy.sold == 2
    assert what_to_buy(short((2500.0, 40)), cloth).buy.sold == 2


def test_by_the_roll_plies_of_several_lengths_are_placed():
    """6 m and 4 m pair up in rolls of 10 m, but 7 m and 4 m do not."""
    cloth = make_cloth(sold_by="roll", pack_quantity=Decimal("10"), price=Decimal("90"))
    assert what_to_buy(short((6000.0, 4), (4000.0, 4)), cloth).buy.sold == 4
    assert what_to_buy(short((7000.0, 4), (4000.0, 4)), cloth).buy.sold == 6
    # The longest first would begin a third roll; 3.2 + 2.4 + 2.4 + 2 and 3.2 + 2.4 + 2 + 2 lie on two.
    assert what_to_buy(short((3200.0, 2), (2400.0, 3), (2000.0, 3)), cloth).buy.sold == 2


def test_washing_and_flaws_shorten_what_a_roll_gives():
    """50 m lose 5 % in the wash: 47.5 m, so 19 plies of 2.5 m and no longer 20."""
    cloth = make_cloth(
        sold_by="roll",
        pack_quantity=Decimal("50"),
        shrinkage_handling="wash_first",
        shrinkage_length=0.05,
    )
    assert [what_to_buy(short((2500.0, plies)), cloth).buy.sold for plies in (19, 20)] == [1, 2]
    metres = make_cloth(
        sold_by="metre", pack_quantity=Decimal("0.1"), shrinkage_handling="wash_first", shrinkage_length=0.05
    )
    assert what_to_buy(short((1900.0, 10)), metres).need_m == pytest.approx(20.0)


def test_by_weight_and_the_minimum():
    """1.50 m × 180 g/m² = 0.270 kg a metre; 10 m are 2.7 kg."""
    cloth = make_cloth(
        usable_width_mm=1500.0,
        weight_gsm=180.0,
        sold_by="kg",
        pack_quantity=Decimal("1"),
        price=Decimal("20"),
    )
    assert what_to_buy(short((2000.0, 5)), cloth).buy.sold == 3
    least = make_cloth(sold_by="roll", pack_quantity=Decimal("50"), minimum_quantity=Decimal(4))
    assert what_to_buy(short((2000.0, 5)), least).buy.sold == 4


def test_nothing_short_is_nothing_to_buy():
    for sold_by in ("metre", "roll", "kg"):
        assert what_to_buy([], make_cloth(sold_by=sold_by, pack_quantity=Decimal(1))).buy.sold == 0


def test_a_ply_longer_than_a_roll_cannot_be_bought():
    cloth = make_cloth(sold_by="roll", pack_quantity=Decimal("2"))
    with pytest.raises(ValueError, match=r"a ply of 2\.43 m is longer than a roll"):
        what_to_buy(short((2430.0, 1)), cloth)


@settings(max_examples=12, deadline=None)
@given(pairs=st.lists(st.tuples(st.integers(5, 100), st.integers(1, 6)), min_size=1, max_size=3))
def test_rolls_bought_always_hold_the_plies_and_a_ply_each_is_enough(pairs):
    cloth = make_cloth(sold_by="roll", pack_quantity=Decimal("10"))
    items = [(length * 100.0, plies) for length, plies in pairs]
    found = what_to_buy(short(*items), cloth, seconds=0.5)
    assert found.buy.sold * 10 >= Decimal(repr(found.lay_m)).quantize(Decimal("0.001"))
    assert found.buy.sold <= sum(plies for _, plies in items)


def booked_m(told: str, *, yards: bool) -> float:
    """Metres of a length typed as told, as stock books it: to the centimetre."""
    mm = parse_length_mm(told, "yd" if yards else "m")
    return float((Decimal(mm) / 1000).quantize(Decimal("0.01"), ROUND_HALF_UP))


@settings(max_examples=60, deadline=None)
@given(
    pairs=st.lists(st.tuples(st.floats(50.0, 4000.0), st.integers(1, 7)), min_size=1, max_size=4),
    damage=st.sampled_from([0.0, 0.02, 0.035]),
    shrinkage=st.sampled_from([0.0, 0.04, 0.07]),
    sold=st.sampled_from(
        [("metre", "0.01"), ("metre", "0.1"), ("metre", "0.25"), ("kg", "0.01"), ("kg", "0.5")]
    ),
    display=st.sampled_from(["metric", "imperial"]),
)
@example([(1000.0 / 7, 7)], 0.0, 0.0, ("metre", "0.1"), "metric")
@example([(2000.0 / 7, 7)], 0.0, 0.0, ("metre", "0.1"), "imperial")
@example([(3365.735 + 40, 1), (2237.813 + 40, 1)], 0.02, 0.0, ("metre", "0.1"), "metric")
@example([(1185.2, 1), (1000.0, 1)], 0.0, 0.0, ("kg", "0.01"), "imperial")
def test_what_is_told_to_be_bought_suffices_as_one_roll(pairs, damage, shrinkage, sold, display):
    sold_by, step = sold
    cloth = make_cloth(
        sold_by=sold_by, pack_quantity=Decimal(step), damage_share=damage, usable_width_mm=1500.0,
        weight_gsm=180.0, shrinkage_handling="wash_first", shrinkage_length=shrinkage,
    )  # fmt: skip
    plies = short(*pairs)
    bought = what_to_buy(plies, cloth).buy
    told = length_to_buy(bought.length_m, display)
    on_table = shrunk(booked_m(told, yards=display == "imperial") * 1000.0, shrinkage)
    wanted = tuple(PliesWanted(one.wanted, one.ply_mm, one.plies) for one in plies)
    question = RollQuestion(wanted, (RollThere("bought", on_table),), keep_from_mm=500.0)
    assert assign_plies(question, seconds=1.0).short == ()


def test_both_plies_of_a_pair_come_from_one_of_the_rolls_bought():
    """Rolls of 7.5 m give three plies of 2.43 m laid open, but one pair: six plies take two rolls, or three."""
    cloth = make_cloth(sold_by="roll", pack_quantity=Decimal("7.5"))
    pairs = [PliesShort("lay 1", 6, 2430.0, 2)]
    assert what_to_buy(short((2430.0, 6)), cloth).buy.sold == 2
    assert what_to_buy(pairs, cloth).buy.sold == 3
    # Beside a pair of 2.43 m (4.86 m) a single ply of 2.6 m lies on 7.5 m, and none of 2.7 m.
    for ply_mm, rolls in ((2600.0, 1), (2700.0, 2)):
        found = what_to_buy([PliesShort("lay 1", 2, 2430.0, 2), PliesShort("lay 2", 1, ply_mm)], cloth)
        assert found.buy.sold == rolls


def test_a_pair_longer_than_a_roll_cannot_be_bought():
    cloth = make_cloth(sold_by="roll", pack_quantity=Decimal("4"))
    with pytest.raises(
        ValueError, match=r"a pair of plies of 2\.43 m is longer than a roll, which gives 4\.00 m"
    ):
        what_to_buy([PliesShort("lay 1", 2, 2430.0, 2)], cloth)
    by_metre = make_cloth(sold_by="metre", pack_quantity=Decimal("0.1"))
    assert what_to_buy([PliesShort("lay 1", 2, 2430.0, 2)], by_metre).lay_m == pytest.approx(4.86)
