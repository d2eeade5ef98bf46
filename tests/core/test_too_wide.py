"""A piece too wide for its cloth: one line for all its sizes and colours, with what can be done."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.lays.items import misfits
from planner.core.lays.nest import PieceTooWide
from planner.core.lays.plan import CannotPlan, plan_lays
from planner.core.lays.problems import too_long_in_words
from planner.core.missing import find_missing
from planner.core.planning import plan_batch
from planner.core.spec import ClothKey, Demand, Garment
from planner.core.too_wide import TooWide, in_words, told_apart, told_once
from planner.core.units import Display, parse_length_mm
from tests.core.makers import JERSEY, RIB, make_cloth, make_shop, wanted


def lines_of(shop, *demand):
    with pytest.raises(CannotPlan) as caught:
        plan_lays(demand, shop)
    return told_once(caught.value.problems)


def test_all_sizes_of_a_piece_stand_in_one_line_with_what_can_be_done():
    shop = make_shop(jersey=make_cloth(usable_width_mm=490))
    told = told_once(find_missing([wanted(1, "M"), wanted(2, "L"), wanted(1, "S")], shop))
    assert told == (
        "front of style 1 is too wide for jersey, ink: 50\u2009cm in M and 52\u2009cm in L, but the cloth lies only "
        "49\u2009cm "
        "wide. Take a cloth that lies at least 52\u2009cm wide, leave out M and L, or change the piece (narrower, or "
        "in "
        "two with a seam).",
        "back of style 1 is too wide for jersey, ink: 50\u2009cm in M and 52\u2009cm in L, but the cloth lies only "
        "49\u2009cm "
        "wide. Take a cloth that lies at least 52\u2009cm wide, leave out M and L, or change the piece (narrower, or "
        "in "
        "two with a seam).",
    )


def test_folded_cloth_that_is_wide_enough_open_is_offered_so():
    shop = make_shop(jersey=make_cloth(usable_width_mm=980, modes=("folded",)))
    front, back = lines_of(shop, wanted(2, "M"), wanted(2, "L"))
    assert front == (
        "front of style 1 is too wide for jersey: 50\u2009cm in M and 52\u2009cm in L, but the cloth lies folded, so "
        "only "
        "49\u2009cm wide. Let the cloth lie open (98\u2009cm wide), take a cloth that lies at least 52\u2009cm wide "
        "when folded, "
        "leave out M and L, or change the piece (narrower, or in two with a seam)."
    )
    assert back.startswith("back of style 1 is too wide for jersey: 50\u2009cm in M and 52\u2009cm in L")
    # Where it may lie either way, it lies open for them.
    shop = make_shop(jersey=make_cloth(usable_width_mm=980, modes=("folded", "open")))
    lays = plan_lays([wanted(2, "M"), wanted(2, "L")], shop)
    assert {lay.mode for lay in lays if lay.fabric == "jersey"} == {"open"}


def test_a_tube_is_not_offered_open():
    shop = make_shop(jersey=make_cloth(usable_width_mm=980, modes=("folded",), is_tube=True))
    front, _ = lines_of(shop, wanted(2, "M"))
    assert (
        "lies folded, so only 49\u2009cm wide. Take a cloth that lies at least 50\u2009cm wide when folded"
        in front
    )


def test_where_it_may_lie_open_that_width_is_told():
    shop = make_shop(jersey=make_cloth(usable_width_mm=499, modes=("folded", "open")))
    front, back = lines_of(shop, wanted(2, "M"))
    assert "the cloth lies only 49.9\u2009cm wide" in front
    assert "folded" not in front + back


def test_the_whole_job_tells_it_the_same_way():
    """What `manage.py plan` prints: garments are looked at before anything is laid."""
    with pytest.raises(CannotPlan) as caught:
        plan_batch(
            [wanted(1, "M"), wanted(1, "L")], make_shop(jersey=make_cloth(usable_width_mm=490)), batch="B-1"
        )
    assert [line[:20] for line in told_once(caught.value.problems)] == [
        "front of style 1 is ", "back of style 1 is t",
    ]  # fmt: skip


def test_what_is_too_wide_is_told_of_every_fabric():
    shop = make_shop(jersey=make_cloth(usable_width_mm=300))
    shop.cloths[RIB] = make_cloth(RIB, usable_width_mm=20)
    told = lines_of(shop, wanted(1, "M", neck="rib band"))
    assert ("jersey" in told[0], "rib" in told[-1]) == (True, True)


def test_colours_are_told_together_and_other_problems_keep_their_place():
    wide = [
        TooWide("1", "front", "M", "jersey", colour, across_mm=500.4, lies_mm=490)
        for colour in ("ink", "moss")
    ]
    assert in_words(wide).startswith(
        "front of style 1 is too wide for jersey, ink and moss: 50.1\u2009cm in M, but the cloth lies only 49\u2009cm "
        "wide. "
        "Take a cloth that lies at least 50.1\u2009cm wide,"
    )
    shop = make_shop(jersey=make_cloth(usable_width_mm=490))
    del shop.cloths[ClothKey("rib", "ink")]
    told = told_once(find_missing([wanted(1, "M"), wanted(1, "L")], shop))
    assert [line.split(" is ")[0] for line in told] == [
        "front of style 1", "back of style 1", "there",
    ]  # fmt: skip


def test_pieces_side_by_side_are_told_as_a_block():
    line = in_words([TooWide("1", "front, back", "M", "jersey", "", 1002, 700, is_block=True)])
    assert (
        "front, back of style 1 must lie side by side, for the cloth shades, and are too wide for jersey: 100.2\u2009cm"
        in line
    )
    assert line.endswith("leave out M, or let them lie apart.")


def test_a_problem_without_a_width_is_told_as_it_is():
    assert told_once(find_missing([Demand(Garment("9", (), "ink", "M"), 1)] * 2, make_shop())) == (
        "there is no style 9",
    )


def test_an_imperial_workroom_is_told_in_inches_what_is_too_long_and_too_wide_for_one_line():
    """The front is 700 mm; with 20 mm at both ends its lay is 740 mm, 29.134 in, so 29 3/16; 739 mm are 29.094 in."""
    shop = make_shop(jersey=make_cloth(end_allowance_mm=20), table_length_mm=739)
    with pytest.raises(CannotPlan) as caught:
        plan_lays([wanted(1)], shop)
    assert told_once(caught.value.problems) == (str(caught.value),)
    assert caught.value.told_in("metric") == str(caught.value)
    (line,) = told_once(caught.value.problems, "imperial")
    assert line.replace("\u2009", " ").replace("\u00a0", " ") == (
        "style 1 in size M needs a lay of 29 3/16 in in jersey ink, but the table is 29 1/8 in long"
    )
    assert caught.value.told_in("imperial") == line
    with pytest.raises(CannotPlan) as caught:
        plan_lays([wanted(1)], make_shop(jersey=make_cloth(usable_width_mm=499)))
    both = caught.value.told_in("imperial").replace("\u2009", " ").replace("\u00a0", " ")
    assert (
        "front of style 1 is too wide for jersey: 19 11/16 in in M, but the cloth lies only 19 5/8 in" in both
    )
    assert "; back of style 1" in both
    assert " mm" not in both


def test_a_roll_shorter_than_the_lay_is_told_in_inches():
    told = too_long_in_words(wanted(1).garment, ClothKey("jersey", "ink"), 2540, 1270, "imperial", of_roll=1)
    assert told.endswith("needs a lay of 100\u2009in in jersey ink, but a roll of it gives only 50\u2009in")


def test_an_imperial_workroom_is_told_inches_and_the_cloth_to_take_is_never_too_narrow():
    # 490 mm is 19.29 in; 500 mm is 19.685 in: 19 11/16 (19.6875) both nearest and enough; 520 mm is 20.472 in, nearest
    # 20 1/2 (20.5).
    shop = make_shop(jersey=make_cloth(usable_width_mm=980, modes=("folded",)))
    with pytest.raises(CannotPlan) as caught:
        plan_lays([wanted(2, "M"), wanted(2, "L")], shop)
    front, _ = told_once(caught.value.problems, "imperial")
    plain = front.replace("\u2009", " ").replace("\u00a0", " ")
    assert "19 11/16 in in M and 20 1/2 in in L, but the cloth lies folded, so only 19 5/16 in wide." in plain
    assert "Let the cloth lie open (38 9/16 in wide), take a cloth that lies at least 20 1/2 in wide" in plain
    assert " mm" not in plain
    # 521 mm is 20.512 in: nearest 20 1/2, but only 20 9/16 is enough.
    wide = TooWide("1", "front", "M", "jersey", "ink", across_mm=521, lies_mm=490)
    assert "at least 20\u00a09/16" in in_words([wide], "imperial")


#: Pieces of 500 mm on a cloth of 499.6 mm, 19.685 in on 19.669 in; both are told to the nearest elsewhere.
HARDLY = 499.6


def test_a_piece_hardly_wider_than_its_cloth_is_not_told_to_be_as_wide():
    shop = make_shop(jersey=make_cloth(usable_width_mm=HARDLY))
    first = find_missing([wanted(1)], shop)[0]
    assert first.text == "front in size M is 50\u2009cm wide, but jersey, ink lies only 49.9\u2009cm wide"
    assert (
        "50\u2009cm in M, but the cloth lies only 49.9\u2009cm wide. Take a cloth that lies at least 50\u2009cm wide"
        in (told_once([first])[0])
    )
    inches = told_once([first], "imperial")[0].replace("\u2009", " ").replace("\u00a0", " ")
    assert "19 11/16 in in M, but the cloth lies only 19 5/8 in wide. Take a cloth" in inches
    (as_laid, *_) = misfits(wanted(1).garment, shop.cloths[JERSEY], "open", shop)
    assert as_laid.text.endswith("is 50\u2009cm wide, but jersey ink lies only 49.9\u2009cm wide")


def test_what_is_less_is_never_told_as_much():
    """Half a millimetre more and less than half are both told as 500 mm: 501 are needed, and 500 there."""
    assert told_apart([500.4, 520.0], 500.2, "metric") == (["50.1\u2009cm", "52\u2009cm"], "50\u2009cm")
    assert told_apart([500.4], 480.2, "metric") == (["50\u2009cm"], "48\u2009cm")
    assert str(PieceTooWide("front", "M", 500.0, HARDLY)) == (
        "front in size M is 50\u2009cm wide, but the cloth lies only 49.9\u2009cm wide"
    )
    garment = wanted(1).garment
    assert too_long_in_words(garment, JERSEY, 740.0, 739.7, "metric", of_roll=0).endswith(
        "needs a lay of 74\u2009cm in jersey ink, but the table is 73.9\u2009cm long"
    )


@given(
    there_mm=st.floats(10, 3000),
    more_mm=st.floats(0.001, 30),
    display=st.sampled_from(["metric", "imperial"]),
)
def test_what_is_too_wide_never_reads_as_wide_as_its_cloth(there_mm: float, more_mm: float, display: Display):
    """Lengths are told in the units of the page: cm to the millimetre, or inches to the sixteenth."""
    (needed,), there = told_apart([there_mm + more_mm], there_mm, display)
    in_mm = [parse_length_mm(told.replace("\u2009", " ").replace("\u00a0", " ")) for told in (needed, there)]
    assert in_mm[0] > in_mm[1]
    assert needed.endswith("\u2009in" if display == "imperial" else "\u2009cm")
