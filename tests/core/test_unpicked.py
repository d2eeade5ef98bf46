"""Which machine makes what, where threads run, and what unpicking a seam gives."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.notions.stitches import (
    ANY_STITCH,
    STITCHES,
    made_by,
    makers_of,
    place_word,
    stitch_name,
    threads_at,
    threads_in_words,
    why_not,
    why_not_this,
)
from planner.core.notions.thread import STITCH_TYPES
from planner.core.notions.unpicked import measured, unpicked_problems


def test_every_stitch_type_of_a_machine_is_known_with_the_threads_it_takes():
    for number in ANY_STITCH:
        assert sum(threads_at(number).values()) == STITCH_TYPES[number].threads, number
    assert {number: sum(threads_at(number).values()) for number in STITCH_TYPES} == {
        number: stitch.threads for number, stitch in STITCH_TYPES.items()
    }


def test_threads_are_told_by_their_places():
    assert threads_in_words("504") == "1 needle, 2 loopers"
    assert threads_in_words("301") == "1 needle, 1 bobbin"
    assert threads_in_words("602") == "2 needles, 1 looper, 1 cover thread"
    assert place_word("301", "looper") == "bobbin"
    assert place_word("401", "looper") == "looper"


@pytest.mark.parametrize(
    ("kind", "number", "words"),
    [
        ("overlock", "504", ""),
        ("other", "607", ""),
        (
            "overlock",
            "406",
            "406 two-needle coverstitch is not made by an overlock, but by a coverstitch machine.",
        ),
        ("iron", "301", "No stitch is sewn with an iron: choose none."),
        ("sewing machine", "999", "999 is not made by a sewing machine."),
    ],
)
def test_why_a_kind_of_machine_does_not_make_a_stitch(kind, number, words):
    assert why_not(kind, number) == words


def test_a_machine_makes_what_is_noted_of_it():
    assert why_not_this("Goose", {"503", "504"}, "504") == ""
    assert why_not_this("Goose", (), "504") == ""
    assert "noted as making 503, 504, not 514" in why_not_this("Goose", {"504", "503"}, "514")


def test_makers_are_the_usual_kinds():
    assert makers_of("401") == ("sewing machine", "overlock", "coverstitch")
    assert made_by("other") == frozenset().union(*STITCHES.values())
    assert stitch_name("504") == "504 three-thread overedge"


@pytest.mark.parametrize(
    ("seam", "threads", "where", "words"),
    [
        (0, {"needle": 195, "looper": 620}, "seam", "between 30 mm and 3 m"),
        (5000, {"needle": 5000, "looper": 9000}, "seam", "15 cm is a good length"),
        (150, {"needle": 100, "looper": 620}, "needle", "the needle thread is as long as the seam"),
        (150, {"needle": 195, "looper": 6200}, "looper", "41 times the seam"),
    ],
)
def test_lengths_that_cannot_be_are_told_where_they_stand(seam, threads, where, words):
    (problem,) = unpicked_problems("401", seam, threads)
    assert problem.where == where
    assert words in problem.text


def test_several_threads_at_a_place_are_measured_together():
    # Two needles of a 406: less than twice the seam cannot be both of them.
    (problem,) = unpicked_problems("406", 150, {"needle": 200, "looper": 900})
    assert problem.where == "needle"
    assert "2 times as long" in problem.text
    assert "300 mm" in problem.text
    assert unpicked_problems("406", 150, {"needle": 480, "looper": 900}) == ()


def test_nothing_is_measured_without_every_thread():
    with pytest.raises(ValueError, match="not measured"):
        measured("401", 150, {"needle": 195})
    with pytest.raises(ValueError, match="longer than zero"):
        measured("401", 150, {"needle": 195, "looper": 0})


@given(
    seam=st.floats(30, 3000),
    shares=st.tuples(st.floats(1, 30), st.floats(1, 30), st.floats(1, 30)),
    number=st.sampled_from(sorted(STITCH_TYPES)),
)
def test_the_whole_is_the_sum_of_the_places_and_no_unit_matters(seam, shares, number):
    places = threads_at(number)
    lengths = {place: share * seam for place, share in zip(places, shares, strict=False)}
    here = measured(number, seam, lengths)
    assert here.ratio == pytest.approx(sum(here.ratios.values()))
    in_inches = measured(number, seam / 25.4, {place: mm / 25.4 for place, mm in lengths.items()})
    assert in_inches.ratio == pytest.approx(here.ratio)


def test_a_seam_of_the_wrong_length_is_told_in_the_units_of_the_workroom():
    (metric,), (inches,) = (unpicked_problems("401", 5.0, {}, display) for display in ("metric", "imperial"))
    assert metric.text == "Unpick between 30 mm and 3 m of seam; 15 cm is a good length."
    # 30 mm are 1.18 in, 3 m are 3.28 yd, 15 cm are 5.91 in.
    assert inches.text.replace("\N{THIN SPACE}", " ").replace("\N{NO-BREAK SPACE}", " ") == (
        "Unpick between 1 3/16 in and 3 ¼ yd of seam; 5 7/8 in is a good length."
    )
