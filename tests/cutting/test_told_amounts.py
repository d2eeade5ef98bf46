"""In yards, too, what is short and left over follows from the figures printed, for one who has only these."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from hypothesis import example, given
from hypothesis import strategies as st

from planner.cutting.reckoning import cloth_figures, notion_figures
from planner.cutting.told_amounts import ToldAmounts, told_amounts
from planner.papers.buy_data import BuyFigures
from tests.cutting.test_reckoning import ELASTIC, JERSEY, cloth_need, need_of

EIGHTHS = dict(zip("⅛¼⅜½⅝¾⅞", range(1, 8), strict=True))
#: A tape is read to the eighth of a yard.
EIGHTH = Decimal("0.125")


def yards(told: str) -> Decimal:
    """ "4 ⅞ yd" as a number, read as somebody reads it."""
    found = Decimal(0)
    for part in told.replace("\N{THIN SPACE}", " ").removesuffix("yd").split():
        found += Decimal(EIGHTHS[part]) / 8 if part in EIGHTHS else Decimal(part)
    return found


def exact_yards(metres: Decimal) -> Decimal:
    # One yard is 0.9144 m: the international yard and pound agreement of 1959.
    return metres / Decimal("0.9144")


def add_up(told: ToldAmounts) -> None:
    need, stock, short, bought, left = map(
        yards, (told.need, told.in_stock, told.short, told.bought, told.left)
    )
    assert short == max(need - stock, Decimal(0))
    assert left == stock + bought - need
    assert left >= 0


def follow_from_metres(told: ToldAmounts, figures: BuyFigures) -> None:
    """Needs are no less and stock is no more than in metres, but for what no tape tells; nothing is off by more."""
    need, stock, short = map(yards, (told.need, told.in_stock, told.short))
    assert -Decimal("0.005") <= need - exact_yards(figures.need) <= EIGHTH
    assert -Decimal("0.005") <= exact_yards(figures.in_stock) - stock <= EIGHTH
    assert (short > 0) == (figures.short > 0)


def test_the_elastic_of_a_buy_list_by_hand() -> None:
    """8.77 m are 9.591 yd, up 9 5/8; 8.51 m are 9.307, down 9 1/4; 25 m are 27.34 yd, no more than 27 1/4."""
    elastic = replace(ELASTIC, in_stock=Decimal("8.51"))
    figures = notion_figures(need_of(elastic, 8.344), elastic)
    told = told_amounts(figures, "imperial", in_packs=True)
    found = [one.replace("\N{THIN SPACE}", " ") for one in (told.need, told.in_stock, told.short, told.left)]
    assert found == ["9 ⅝ yd", "9 ¼ yd", "⅜ yd", "26 ⅞ yd"]


def test_what_is_there_and_just_enough_is_not_told_as_short() -> None:
    """3.4 m are 3.718 yd: up and down to the eighth an eighth would be short that is there."""
    cloth = replace(JERSEY, in_stock_m=3.4, damage_share=0.0)
    figures = cloth_figures(cloth_need(cloth, 3.4), cloth)
    told = told_amounts(figures, "imperial")
    assert yards(told.short) == 0
    add_up(told)


@given(st.decimals("0.05", 60, places=3), st.decimals(0, 60, places=2))
@example(Decimal("8.344"), Decimal("8.51"))
@example(Decimal("20"), Decimal("21"))
def test_notions_add_up(amount: Decimal, there: Decimal) -> None:
    elastic = replace(ELASTIC, in_stock=there)
    figures = notion_figures(need_of(elastic, float(amount)), elastic)
    told = told_amounts(figures, "imperial", in_packs=True)
    add_up(told)
    follow_from_metres(told, figures)


@given(
    st.decimals("0.05", 60, places=3), st.decimals(0, 60, places=2), st.sampled_from(["0.01", "0.1", "0.5"])
)
@example(Decimal("3.31"), Decimal("3.00"), "0.01")
def test_cloths_add_up(laid: Decimal, there: Decimal, step: str) -> None:
    cloth = replace(JERSEY, in_stock_m=float(there), pack_quantity=Decimal(step))
    figures = cloth_figures(cloth_need(cloth, float(laid)), cloth)
    told = told_amounts(figures, "imperial")
    add_up(told)
    follow_from_metres(told, figures)
