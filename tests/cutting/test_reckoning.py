"""The arithmetic on papers gives, from the figures printed, the packs that the exact figures give."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import ROUND_CEILING, Decimal

from hypothesis import given
from hypothesis import strategies as st

from planner.core.cloth import buy_cloth, need_for_lay_m
from planner.core.needs import ClothNeed, NotionNeed
from planner.core.notions.lines import NeedLine
from planner.core.notions.needs import with_waste
from planner.core.notions.thread import cones_needed, cones_on_hand
from planner.core.spec import Cloth, ClothKey, Notion, NotionKey
from planner.cutting.reckoning import cloth_figures, notion_figures
from planner.cutting.wording import cloth_to_buy, cones_in_words
from planner.papers.figures import down, figure, up

ELASTIC = Notion(NotionKey("clear elastic"), "elastic", "m", "25 m roll", Decimal(25), Decimal("6.20"), 0.05)
THREAD = Notion(NotionKey("thread", "ink"), "thread", "m", "5000 m cone", Decimal(5000), Decimal(5), 0.15)
JERSEY = Cloth(ClothKey("jersey", "ink"), 1460.0, 180.0, one_way=True, damage_share=0.02)


def need_of(notion: Notion, amount: float, positions: int = 0) -> NotionNeed:
    """What the core would say of so much before waste."""
    need = with_waste(amount, notion)
    short = max(need - float(notion.in_stock), 0.0)
    packs = max(cones_needed(short, float(notion.pack_quantity), 0), positions - cones_on_hand(notion), 0)
    least = cones_needed(need, float(notion.pack_quantity), positions)
    return NotionNeed(
        notion.key, notion.unit, need, notion.in_stock, packs, least, notion.pack, Decimal(0), ""
    )


def cloth_need(cloth: Cloth, lay_m: float) -> ClothNeed:
    """What the core would say of a cloth laid so long."""
    need = need_for_lay_m(lay_m, cloth)
    buy = buy_cloth(need - cloth.in_stock_m, cloth)
    return ClothNeed(
        cloth.key, 1.0, lay_m, need, cloth.in_stock_m, buy.length_m, buy.sold, buy.cost, False, ""
    )


def test_elastic_by_hand() -> None:
    """8.344 × 1.05 = 8.7612, rounded up 8.77; 8.77 − 2 = 6.77; one roll of 25; 2 + 25 − 8.77 = 18.23."""
    found = notion_figures(need_of(replace(ELASTIC, in_stock=Decimal(2)), 8.344), ELASTIC_WITH_TWO)
    assert (found.before, found.factor, found.need) == (Decimal("8.344"), Decimal("1.05"), Decimal("8.77"))
    assert (found.short, found.packs, found.left) == (Decimal("6.77"), 1, Decimal("18.23"))
    assert found.words.replace("\u2009", " ") == (
        "8.344 × 1.05 with waste = 8.77 m; − 2 in stock = 6.77 m short; 6.77 ÷ 25 = 0.27, so 1 × 25 m roll; "
        "left over 2 + 25 − 8.77 = 18.23 m"
    )


LABELS = Notion(NotionKey("label", ""), "label", "pcs", "100 labels", Decimal(100), Decimal(14), 0.02)


def label_line(count: int, each: float = 1.0) -> NeedLine:
    return NeedLine(LABELS.key, "110", (), "M", "garment", count, each, count * each, "")


def test_labels_by_hand() -> None:
    """23 × 1.02 = 23.46, to the nearest whole 23; 100 × 1.02 = 102; before the waste stand the labels sewn in."""
    found = notion_figures(need_of(LABELS, 23.0), LABELS, [label_line(23)])
    assert (found.before, found.need) == (Decimal(23), Decimal(23))
    assert found.words.startswith("23 × 1.02 with waste = 23\u2009pcs, to the nearest whole; none in stock")
    hundred = notion_figures(need_of(LABELS, 100.0), LABELS, [label_line(100)])
    assert (hundred.before, hundred.need) == (Decimal(100), Decimal(102))
    assert hundred.words.startswith("100 × 1.02 with waste = 102\u2009pcs; none in stock")


def test_labels_of_several_batches_tell_no_waste_of_their_sum() -> None:
    """Each batch rounds its own: of 23 + 23 nobody says what they are with waste."""
    found = notion_figures(replace(need_of(LABELS, 23.0), need=46.0), LABELS)
    assert (found.before, found.need) == (None, Decimal(46))
    assert found.words.startswith("Need 46\u2009pcs; none in stock")


def test_parts_of_a_piece_are_taken_as_whole_ones() -> None:
    """A quarter of a sheet for each of 5: 1.25 × 1.02 = 1.275, but a second sheet is begun."""
    found = notion_figures(need_of(LABELS, 1.25), LABELS, [label_line(5, 0.25)])
    assert (found.before, found.need) == (Decimal("1.25"), Decimal(2))
    assert found.words.startswith("1.25 × 1.02 with waste = 2\u2009pcs, in whole ones")


def test_a_sum_is_that_of_its_lines_as_printed() -> None:
    """3 × 1.2344 = 3.7032, but what is printed is 3 × 1.234 = 3.702; × 1.05 both come to 3.89."""
    line = NeedLine(ELASTIC.key, "110", (), "M", "seam shoulder", 3, 1.2344, 3.7032, "")
    elastic = replace(ELASTIC, in_stock=Decimal(0))
    assert notion_figures(need_of(elastic, 3.7032), elastic, [line]).before == Decimal("3.702")


ELASTIC_WITH_TWO = replace(ELASTIC, in_stock=Decimal(2))


def test_cones_by_hand() -> None:
    """Metres enough for years, but the overlock takes three at once and two are there."""
    thread = replace(THREAD, in_stock=Decimal(9864), cones=2)
    found = notion_figures(need_of(thread, 900.0, positions=3), thread)
    assert (found.short, found.packs) == (0, 1)
    assert "3 are threaded at once − 2 there = 1 × 5000 m cone" in found.words
    assert found.left == 9864 + 5000 - 1035
    need = replace(need_of(thread, 900.0, positions=3), threads_at_once=3)
    why = "not for its metres: 3 cones of this colour are threaded at once, 2 are there"
    assert cones_in_words(need, thread) == why
    uncounted = cones_in_words(need, replace(thread, cones=None))
    assert uncounted == f"{why} as far as its metres tell; nobody counted them"
    one = cones_in_words(replace(need, threads_at_once=1), thread)
    assert one == "not for its metres: 1 cone of this colour is threaded at once, 2 are there"
    # Where the metres ask for as many cones, or cones enough are there, they need no reason.
    assert cones_in_words(replace(need, to_buy_packs=0), thread) == ""
    assert cones_in_words(replace(need, need=14_000.0), thread) == ""


def test_cloth_by_hand() -> None:
    """7.256 ÷ 0.95 × 1.02 = 7.7907, rounded up 7.8; by the half metre, so 8; 8 − 7.8 = 0.2 left over."""
    cloth = replace(
        JERSEY, shrinkage_length=0.05, shrinkage_handling="wash_first", pack_quantity=Decimal("0.5")
    )
    found = cloth_figures(cloth_need(cloth, 7.256), cloth)
    assert (found.need, found.packs, found.left) == (Decimal("7.80"), Decimal("8.0"), Decimal("0.20"))
    assert "÷ 0.95 for washing × 1.02 for flaws = 7.80\u2009m" in found.words


def test_cloth_by_weight_by_hand() -> None:
    """1.5 m wide at 180 g/m² is 0.27 kg/m: 10 m are 2.7 kg, 3 in whole kilograms."""
    cloth = replace(JERSEY, damage_share=0.0, sold_by="kg", pack_quantity=Decimal(1), full_width_mm=1500.0)
    found = cloth_figures(cloth_need(cloth, 10.0), cloth)
    assert "10 m × 1.5 m × 180 g/m² ÷ 1000 = 2.7 kg, sold by 1 kg: 3 kg = 11.12\u2009m" in found.words
    assert found.packs == 3
    # What is to be bought is told by the same rule: 3 ÷ 0.27 = 11.1111, as booked 11.12 m.
    need = cloth_need(cloth, 10.0)
    assert cloth_to_buy(need, cloth, "metric") == "3.00\u2009kg (11.12\u2009m)"


def test_cloth_sold_in_half_yards_is_told_in_half_yards() -> None:
    """2.9 m are 3.17 yd: seven half yards, which steps of 0.46 m made 3 5/8."""
    cloth = replace(JERSEY, damage_share=0.0, sold_by="metre", pack_quantity=Decimal("0.4572"))
    told = cloth_to_buy(cloth_need(cloth, 2.9), cloth, "imperial")
    assert told.replace("\u2009", " ").replace("\u00a0", " ") == "3 ½ yd"


amounts = st.floats(0.001, 20_000, allow_nan=False)
shares = st.sampled_from([0.0, 0.02, 0.05, 0.1, 0.125, 0.15])
stocks = st.decimals(0, 500, places=3)
packs = st.sampled_from([Decimal(1), Decimal("12.5"), Decimal(25), Decimal(100), Decimal(5000)])


@given(amounts, shares, stocks, packs)
def test_packs_follow_from_printed_figures(
    amount: float, share: float, stock: Decimal, pack: Decimal
) -> None:
    notion = replace(ELASTIC, waste_share=share, in_stock=stock, pack_quantity=pack)
    need = need_of(notion, amount)
    found = notion_figures(need, notion)
    assert found.short == max(found.need - found.in_stock, 0)
    assert (found.short / pack).to_integral_value(ROUND_CEILING) == need.to_buy_packs == found.packs
    assert found.left == found.in_stock + found.packs * pack - found.need
    assert found.need >= Decimal(repr(need.need)) - Decimal("0.00001")
    assert found.left >= 0


@given(amounts, shares)
def test_the_need_follows_from_what_stands_before_it(amount: float, share: float) -> None:
    notion = replace(ELASTIC, waste_share=share)
    found = notion_figures(need_of(notion, amount), notion)
    assert found.before is not None
    places = max(0, -int(found.need.as_tuple().exponent))
    assert up(found.before * found.factor, places) == found.need
    assert math.isclose(float(found.before), amount, rel_tol=0.01, abs_tol=0.01)


@given(st.integers(1, 5_000), shares, stocks, packs)
def test_packs_of_what_is_counted_follow_too(
    amount: int, share: float, stock: Decimal, pack: Decimal
) -> None:
    notion = replace(LABELS, waste_share=share, in_stock=stock, pack_quantity=pack)
    need = need_of(notion, float(amount))
    found = notion_figures(need, notion, [label_line(amount)])
    assert (found.before, found.need) == (amount, need.need)
    assert abs(found.need - amount * (1 + Decimal(repr(share)))) <= Decimal("0.5")
    assert (found.short / pack).to_integral_value(ROUND_CEILING) == need.to_buy_packs == found.packs


@given(st.floats(0.05, 300), stocks, st.sampled_from(["metre", "roll", "kg"]), shares)
def test_cloth_bought_follows_from_printed_figures(
    lay_m: float, stock: Decimal, sold_by: str, share: float
) -> None:
    cloth = replace(
        JERSEY, in_stock_m=float(stock), sold_by=sold_by, damage_share=share, pack_quantity=Decimal("0.5"),
        minimum_quantity=Decimal("0.5"),
    )  # fmt: skip
    need = cloth_need(cloth, lay_m)
    found = cloth_figures(need, cloth)
    assert found.short == max(found.need - found.in_stock, 0)
    assert buy_cloth(float(found.short), cloth).sold == need.to_buy_packs
    assert found.left == found.in_stock + found.bought - found.need


@given(st.floats(0, 1e6), st.integers(0, 4))
def test_up_and_down(value: float, places: int) -> None:
    step = Decimal(1).scaleb(-places)
    exact = Decimal(repr(value))
    noise = Decimal("0.000001")
    assert -noise <= up(value, places) - exact < step
    assert -noise <= exact - down(value, places) < step


def test_figures_leave_out_needless_zeros() -> None:
    assert figure(Decimal("25.00"), "m") == "25\u2009m"
    assert figure(Decimal("5000")) == "5\u2009000"
    assert figure(Decimal("2.1"), "m", least=3) == "2.100\u2009m"
    assert figure(Decimal("1E+2")) == "100"
