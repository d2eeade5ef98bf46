"""Why a plan has no fewer lays, in the maker's words: the rule, its number, and the number that would do."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.core.lays.wishes import PriceOfWish, Reason
from planner.cutting.why import OTHERS, why_not_fewer
from tests.cutting.test_plan_choices import facts, outcome

S, M = ("110", "S"), ("110", "M")


def words(reason: Reason, display: str = "metric") -> str:
    told = facts(fewer="proven", reason=reason, best=outcome(4, 9, 11_700.0, 60.0, "158.40"))
    return why_not_fewer(told, display).replace("\N{THIN SPACE}", " ")


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        (Reason("keep"), "with the lays you keep; without keeping them it could."),
        (Reason("apart", kinds=(S, M)), "with S and M never together; without that it could."),
        (Reason("together", kinds=(S, M)), "with S and M always together; without that it could."),
        (Reason("own_plies", 4, 6), "with at most 4 plies, as you chose; with 6 it could."),
        (Reason("plies", 1, 3), "with 1 ply, the most your tool cuts; with 3 it could."),
        (Reason("table", 3000.0, 4201.3), "on a table of 3.0 m; on one of 4.21 m it could."),
        (Reason("rolls", 25_000.0), "from rolls that give 25.0 m; from longer ones it could."),
        (Reason("exact", kinds=(S,), would=1), "with just the garments wanted; with 1 × S more it could."),
        (
            Reason("exact", kinds=(S, M, M), would=3, with_style=True),
            "with just the garments wanted; with 1 × 110 S and 2 × 110 M more it could.",
        ),
    ],
)
def test_the_rule_that_stands_against_it(reason: Reason, said: str) -> None:
    assert words(reason) == f"It cannot be done in 3 {said.removesuffix('.')}, {OTHERS}."


def test_colours_that_need_other_sizes() -> None:
    assert words(Reason("same_in_all_colours")) == (
        "It cannot be done in 3: one lay cuts the same sizes from every colour, and here each colour needs others."
    )


def test_colours_that_are_cut_to_other_pieces() -> None:
    told = "It cannot be done in 3: ink and moss are cut to different pieces and cannot share a lay."
    assert words(Reason("colours", colours=("ink", "moss"))) == told
    assert words(Reason("colours")) == told.replace("ink and moss", "some colours")


def test_where_each_of_those_colours_needs_several_lays_it_says_so_and_why() -> None:
    """That ink and moss share no lay explains two; for four it takes that a lay of each does not hold all of it."""
    table = Reason("table", 4200.0, 5261.0)
    each = Reason("colours", colours=("ink", "moss"), lays=(2, 2), alone=table, of=("ink",))
    head = "It cannot be done in 3: ink and moss are cut to different pieces and cannot share a lay, and "
    assert words(each) == (
        f"{head}each needs 2: ink cannot be cut in 1 on a table of 4.2 m; on one of 5.27 m it could, {OTHERS}."
    )
    unlike = replace(each, lays=(3, 1), alone=None, of=())
    assert words(unlike) == f"{head}ink needs 3 and moss needs 1, {OTHERS}."
    many = replace(unlike, colours=(), lays=(2, 1, 1))
    assert "some colours are cut to different pieces and cannot share a lay, and by themselves" in words(many)


def test_a_longer_table_is_never_told_too_short() -> None:
    assert "4.01 m" in words(Reason("table", 3000.0, 4000.01))
    assert "yd" in words(Reason("table", 3000.0, 4000.0), "imperial")


def test_where_no_single_rule_stands_against_it_the_nearest_plans_miss_the_numbers() -> None:
    told = facts(fewer="proven", best=outcome(4, 9, 11_700.0, 60.0, "158.40"))
    assert why_not_fewer(told) == (
        f"It cannot be done in 3: any 3 lays that could be cut leave garments over or cut too many, {OTHERS}."
    )
    price = PriceOfWish("apart", (S, M), told.best)
    assert why_not_fewer(replace(told, prices=(price,))).startswith(
        "It cannot be done in 3 with all that you chose: any 3 lays"
    )


def test_her_own_wish_is_told_where_counting_rules_out_a_lay_less_too() -> None:
    told = facts(reason=Reason("own_plies", 4, 9))
    assert told.fewer == "counting"
    assert why_not_fewer(told) == (
        f"It cannot be done in 1 with at most 4 plies, as you chose; with 9 it could, {OTHERS}."
    )


def test_where_all_garments_fit_the_table_no_length_is_in_doubt() -> None:
    assert why_not_fewer(facts(most_garments=36)).endswith("the table takes 36.")


def test_what_could_be_done_with_fewer_lays_says_what_speaks_against_it() -> None:
    told = facts(fewer="dearer", others=(outcome(1, 3, 1.0, 1.0, "1", "fewest_lays"),))
    assert why_not_fewer(told) == "It could be done in 1, but that costs more."
    least = facts(fewer="dearer", best=outcome(2, 5, 11_700.0, 60.0, "158.40", "least_cloth"))
    assert why_not_fewer(least) == "It could be done in 1, but that takes more cloth."
