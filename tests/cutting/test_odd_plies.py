"""Face to face: both plies of a pair come from one roll. An odd ply's length is left over, and that is said."""

from __future__ import annotations

from types import SimpleNamespace

from planner.core.ply_list import RollSpreads
from planner.core.rolls import PliesShort, RollThere
from planner.cutting.papers import _may_leave_odd_ply
from planner.cutting.short_cloth import in_words
from planner.cutting.wording import ODD_PLY
from tests.cutting.test_rolls_of_lays import taken


def test_two_ends_of_three_plies_give_one_pair_each_and_the_third_is_to_be_bought() -> None:
    ends = [RollThere("7", 6300.0, "A"), RollThere("8", 6300.0, "A")]
    assert sorted(taken(3, *ends), key=str) == [(7, 1), (8, 1), (None, 1)]
    # As one length of cloth they would have done.
    assert taken(3, RollThere("9", 12600.0, "A")) == [(9, 3)]


def test_where_a_pair_does_not_fit_it_is_said_why() -> None:
    assert in_words([PliesShort("lay 1", 2, 2000.0, 2)], "metric").endswith(
        f"what is free in stock ({ODD_PLY})"
    )
    assert ODD_PLY not in in_words([PliesShort("lay 1", 2, 2000.0)], "metric")
    assert ODD_PLY in in_words((short for short in [PliesShort("lay 1", 2, 2000.0, 2)]), "metric")


def test_the_cut_sheet_says_it_of_lays_face_to_face_that_change_rolls_or_lack_one() -> None:
    def said(mode: str, *parts: RollSpreads) -> bool:
        lay = SimpleNamespace(number=4, planned=SimpleNamespace(mode=mode))
        return _may_leave_odd_ply(lay, {4: [parts]})  # type: ignore[arg-type]

    one, other, none = RollSpreads("R1", "A", 2), RollSpreads("R2", "A", 1), RollSpreads("", "", 1)
    assert said("face_to_face", one, other)
    assert said("face_to_face", none)
    assert not said("face_to_face", one)
    assert not said("open", one, other)
