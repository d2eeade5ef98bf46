from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.cloth import buy_cloth, lay_width_mm
from planner.core.needs import (
    CannotPlanError,
    ClothNeed,
    CutLength,
    Laid,
    Needs,
    NotionNeed,
    estimate_lay_m,
    find_missing,
    work_out_needs,
)
from planner.core.spec import (
    Cloth,
    ClothKey,
    ColourwaySpec,
    Demand,
    EdgeRef,
    Garment,
    NotionKey,
    NotionUse,
    OperationSpec,
    SeamSpec,
    Workshop,
    make_options,
)
from tests.core.makers import (
    ELASTIC,
    JERSEY,
    LABEL,
    RIB,
    SIZES,
    THREAD,
    make_cloth,
    make_notion,
    make_shop,
    make_tee,
    wanted,
)

AREA_M = 860_000.0  # mm² of jersey in one top of size M
demands = st.lists(
    st.builds(wanted, st.integers(1, 40), st.sampled_from(SIZES), st.sampled_from(["rib band", "self band"])),
    min_size=1,
    max_size=6,
)
cloths = st.builds(
    make_cloth,
    usable_width_mm=st.floats(900, 1800),
    end_allowance_mm=st.floats(0, 60),
    shrinkage_length=st.floats(0, 0.1),
    shrinkage_width=st.floats(0, 0.1),
    shrinkage_handling=st.sampled_from(["in_pattern", "wash_first", "cut_larger"]),
    damage_share=st.floats(0, 0.1),
    sold_by=st.sampled_from(["metre", "roll", "kg"]),
    pack_quantity=st.sampled_from([Decimal("0.1"), Decimal(1), Decimal(25)]),
    minimum_quantity=st.sampled_from([Decimal(0), Decimal(3)]),
    in_stock_m=st.floats(0, 20),
)


def cloth_of(needs: Needs, key: ClothKey = JERSEY) -> ClothNeed:
    return next(need for need in needs.cloths if need.cloth == key)


def notion_of(needs: Needs, key: NotionKey) -> NotionNeed:
    return next(need for need in needs.notions if need.key == key)


# --- cloth ---


def test_ten_tops_by_hand() -> None:
    need = cloth_of(work_out_needs([wanted(10)], make_shop()))
    assert need.area_mm2 == 10 * AREA_M
    assert need.lay_m == pytest.approx(8.6e6 / (1400 * 0.78) / 1000)  # 7.875 m
    assert need.need_m == need.lay_m
    assert need.to_buy_packs == Decimal("7.9")
    assert need.to_buy_m == pytest.approx(7.9)
    assert need.cost == Decimal("79.00")
    assert need.price_per_m == 10
    assert need.is_estimate
    assert need.how == "from piece areas at 78 % efficiency"


def test_nested_lays_replace_the_estimate() -> None:
    needs = work_out_needs([wanted(10)], make_shop(), nested_lay_m={JERSEY: 7.2})
    assert cloth_of(needs).lay_m == 7.2
    assert not cloth_of(needs).is_estimate
    assert cloth_of(needs, RIB).is_estimate


@pytest.mark.parametrize(
    ("laid", "how"),
    [
        (Laid(7.2, 2, 2), "from the nested lays"),
        (Laid(7.2, 1, 0), "from its lay as estimated"),
        (Laid(7.2, 3, 0), "from its 3 lays as estimated"),
        (Laid(7.2, 3, 1), "from its 3 lays, 1 as nested and 2 as estimated"),
    ],
)
def test_lays_that_are_planned_replace_the_estimate_from_areas(laid: Laid, how: str) -> None:
    need = cloth_of(work_out_needs([wanted(10)], make_shop(), laid={JERSEY: laid}))
    assert (need.lay_m, need.how, need.by_lays) == (7.2, how, True)
    assert need.is_estimate is (how != "from the nested lays")


def test_end_allowances_grow_with_the_tables_laid() -> None:
    # 20 mm at either end of 2,000 mm: of every 2 m laid, 1.96 m are marker.
    shop = make_shop(jersey=make_cloth(end_allowance_mm=20.0), table_length_mm=2000.0)
    assert cloth_of(work_out_needs([wanted(10)], shop)).lay_m == pytest.approx(7.8754 * 2000 / 1960, abs=1e-3)


def test_cloth_washed_first_is_narrower_and_more_of_it_is_bought() -> None:
    washed = make_cloth(
        shrinkage_length=0.05, shrinkage_width=0.03, shrinkage_handling="wash_first", damage_share=0.02
    )
    need = cloth_of(work_out_needs([wanted(10)], make_shop(jersey=washed)))
    assert need.lay_m == pytest.approx(8.6e6 / (1400 * 0.97 * 0.78) / 1000)
    assert need.need_m == pytest.approx(need.lay_m / 0.95 * 1.02)
    assert need.how.endswith(
        "with 5\N{NO-BREAK SPACE}% shrinkage before cutting and 2\N{NO-BREAK SPACE}% for flaws"
    )


def test_pieces_cut_larger_take_more_cloth() -> None:
    larger = make_cloth(shrinkage_length=0.05, shrinkage_width=0.03, shrinkage_handling="cut_larger")
    need = cloth_of(work_out_needs([wanted(10)], make_shop(jersey=larger)))
    assert need.area_mm2 == pytest.approx(8.6e6 / 0.95 / 0.97)
    assert need.need_m == need.lay_m


def test_cloth_that_grows_in_the_wash_is_not_counted_on() -> None:
    grows = make_cloth(shrinkage_length=-0.02, shrinkage_handling="wash_first")
    need = cloth_of(work_out_needs([wanted(10)], make_shop(jersey=grows)))
    assert need.need_m == need.lay_m


def test_stock_is_used_before_anything_is_bought() -> None:
    some = cloth_of(work_out_needs([wanted(10)], make_shop(jersey=make_cloth(in_stock_m=5.0))))
    assert (some.to_buy_packs, some.in_stock_m) == (Decimal("2.9"), 5.0)
    plenty = cloth_of(work_out_needs([wanted(10)], make_shop(jersey=make_cloth(in_stock_m=50.0))))
    assert (plenty.to_buy_m, plenty.to_buy_packs, plenty.cost) == (0.0, Decimal(0), Decimal(0))


def test_cloth_by_the_roll() -> None:
    cloth = make_cloth(sold_by="roll", pack_quantity=Decimal(25), price=Decimal("180"))
    buy = buy_cloth(26.0, cloth)
    assert (buy.sold, buy.length_m, buy.cost) == (Decimal(2), 50.0, Decimal(360))
    need = cloth_of(work_out_needs([wanted(10)], make_shop(jersey=cloth)))
    assert (need.to_buy_packs, need.to_buy_m, need.price_per_m) == (Decimal(1), 25.0, Decimal("7.2"))


def test_cloth_by_weight_is_weighed_with_its_selvedges() -> None:
    # 1.50 m × 200 g/m² = 0.300 kg a metre; 7.875 m = 2.3626 kg, sold by the half kilogram.
    cloth = make_cloth(
        sold_by="kg",
        weight_gsm=200.0,
        full_width_mm=1500.0,
        pack_quantity=Decimal("0.5"),
        price=Decimal("30"),
    )
    need = cloth_of(work_out_needs([wanted(10)], make_shop(jersey=cloth)))
    assert need.to_buy_packs == Decimal("2.5")
    assert need.to_buy_m == pytest.approx(2.5 / 0.3)
    assert need.cost == 75
    assert float(need.price_per_m) == pytest.approx(9.0)


@given(demand=demands, cloth=cloths, times=st.integers(2, 9))
def test_needs_are_linear_in_the_quantity(demand: list[Demand], cloth: Cloth, times: int) -> None:
    shop = make_shop(jersey=cloth)
    once = work_out_needs(demand, shop)
    often = work_out_needs([replace(line, quantity=line.quantity * times) for line in demand], shop)
    for one, many in zip(once.cloths, often.cloths, strict=True):
        assert many.need_m == pytest.approx(times * one.need_m, rel=1e-9)
    for a, b in zip(once.notions, often.notions, strict=True):
        assert b.need == pytest.approx(times * a.need, rel=1e-9)
    for c, d in zip(once.cutting_counts, often.cutting_counts, strict=True):
        assert d.count == times * c.count


@given(demand=demands, other=demands, cloth=cloths)
def test_two_demands_need_together_what_each_needs(
    demand: list[Demand], other: list[Demand], cloth: Cloth
) -> None:
    shop = make_shop(jersey=cloth)
    apart = [work_out_needs(part, shop) for part in (demand, other)]
    together = work_out_needs(demand + other, shop)
    assert sum(cloth_of(n).need_m for n in apart) == pytest.approx(cloth_of(together).need_m, rel=1e-9)
    for key in (THREAD, ELASTIC, LABEL):
        assert sum(notion_of(n, key).need for n in apart) == pytest.approx(notion_of(together, key).need)


@given(demand=demands, cloth=cloths)
def test_no_lay_is_shorter_than_its_area_and_what_is_bought_covers_the_need(
    demand: list[Demand], cloth: Cloth
) -> None:
    need = cloth_of(work_out_needs(demand, make_shop(jersey=cloth)))
    bound_mm = need.area_mm2 / lay_width_mm(cloth)
    assert need.lay_m * 1000 >= bound_mm
    assert need.need_m >= need.lay_m
    assert need.to_buy_m + need.in_stock_m >= need.need_m - 1e-4
    assert need.to_buy_m >= 0


def test_an_efficiency_that_is_none_or_a_table_that_is_too_short() -> None:
    for share in (0.0, -1.0, 1.01, float("nan")):
        with pytest.raises(ValueError, match="efficiency"):
            estimate_lay_m(1e6, make_cloth(), share, 4000.0)
    short = make_shop(jersey=make_cloth(end_allowance_mm=20.0), table_length_mm=40.0)
    with pytest.raises(ValueError, match="table"):
        work_out_needs([wanted(1)], short)


def test_nothing_wanted_needs_nothing() -> None:
    assert work_out_needs([], make_shop()) == Needs((), (), (), ())


# --- counts and notions ---


def test_cutting_counts_follow_the_options() -> None:
    counts = work_out_needs([wanted(3), wanted(2, "S", "self band"), wanted(1)], make_shop()).cutting_counts
    assert [(c.garment.size, c.piece, c.cloth, c.count) for c in counts] == [
        ("M", "front", JERSEY, 4),
        ("M", "back", JERSEY, 4),
        ("M", "sleeve", JERSEY, 8),
        ("M", "rib band", RIB, 4),
        ("S", "front", JERSEY, 2),
        ("S", "back", JERSEY, 2),
        ("S", "sleeve", JERSEY, 4),
        ("S", "self band", JERSEY, 2),
    ]


def test_elastic_and_labels_by_hand() -> None:
    shop = make_shop(
        notions={ELASTIC: make_notion(ELASTIC, waste_share=0.05, in_stock=Decimal(2))},
    )
    needs = work_out_needs([wanted(100)], shop)
    tape = notion_of(needs, ELASTIC)
    assert tape.need == pytest.approx(100 * 0.38 * 1.05)  # 39.9 m
    assert (tape.to_buy_packs, tape.least_packs, tape.cost) == (2, 2, Decimal("8.00"))
    assert tape.how == "along the seams, 5\N{NO-BREAK SPACE}% for waste"
    label = notion_of(needs, LABEL)
    assert (label.need, label.to_buy_packs, label.unit) == (100.0, 1, "pcs")
    assert label.how == "counted by the garment"


@pytest.mark.parametrize(
    ("garments", "percent", "need"),
    # Common practice: waste of what is counted is whole pieces, to the nearest: 2 % of 24 is 0.48, of 25 half a label.
    [
        (1, 2, 1),
        (5, 2, 5),
        (10, 2, 10),
        (24, 2, 24),
        (25, 2, 26),
        (100, 2, 102),
        (10, 5, 11),
        (9, 5, 9),
        (3, 0, 3),
    ],
)
def test_waste_of_what_is_counted_is_whole_pieces(garments: int, percent: int, need: int) -> None:
    label = make_notion(LABEL, kind="label", unit="pcs", waste_share=percent / 100, pack_quantity=Decimal(1))
    found = notion_of(work_out_needs([wanted(garments)], make_shop(notions={LABEL: label})), LABEL)
    assert (found.need, found.to_buy_packs) == (need, need)
    assert found.cost == need * label.pack_price


def test_a_share_of_a_carton_stays_a_share() -> None:
    # A twelfth of a carton for each garment: one garment takes no whole one, and 2 % of it are none.
    use = NotionUse(LABEL, None, "garment", 1 / 12)
    label = make_notion(LABEL, kind="other", unit="pcs", waste_share=0.02)
    shop = make_shop(make_tee(notions=(use,)), notions={LABEL: label})
    assert notion_of(work_out_needs([wanted(1)], shop), LABEL).need == pytest.approx(1 / 12)
    assert notion_of(work_out_needs([wanted(300)], shop), LABEL).need == pytest.approx(26)


def test_lengths_to_cut_go_from_small_to_large() -> None:
    needs = work_out_needs([wanted(2, "L"), wanted(1, "S"), wanted(1, "L", "self band")], make_shop())
    assert needs.cut_lengths == (
        CutLength(ELASTIC, "1", "S", "shoulder", 190.0, 2),
        CutLength(ELASTIC, "1", "L", "shoulder", 190.0, 6),
    )


def test_a_small_lot_is_governed_by_cones() -> None:
    need = notion_of(work_out_needs([wanted(1)], make_shop()), THREAD)
    assert need.need == pytest.approx(24.8)
    assert (need.least_packs, need.to_buy_packs, need.cost) == (3, 3, Decimal("9.00"))
    assert "504 three-thread overedge takes 3 at once" in need.how


def test_a_large_lot_is_governed_by_metres() -> None:
    need = notion_of(work_out_needs([wanted(200)], make_shop()), THREAD)
    assert need.need == pytest.approx(4960.0)
    assert (need.least_packs, need.to_buy_packs) == (5, 5)


@pytest.mark.parametrize(
    ("in_stock", "to_buy"),
    # 24.8 m are enough in metres, but each position needs a cone: 200 m stand on one cone, 2,100 m on three.
    [("0", 3), ("200", 2), ("1000", 2), ("1001", 1), ("2100", 0), ("9000", 0)],
)
def test_cones_on_hand_are_taken_off(in_stock: str, to_buy: int) -> None:
    thread = make_notion(THREAD, kind="thread", pack_quantity=Decimal(1000), in_stock=Decimal(in_stock))
    need = notion_of(work_out_needs([wanted(1)], make_shop(notions={THREAD: thread})), THREAD)
    assert need.to_buy_packs == to_buy


@given(demand=demands, stock=st.decimals(-100, 50_000, places=1))
def test_what_is_bought_is_never_less_than_nothing(demand: list[Demand], stock: Decimal) -> None:
    notions = {key: make_notion(key, in_stock=stock) for key in (THREAD, ELASTIC, LABEL)}
    for need in work_out_needs(demand, make_shop(notions=notions)).notions:
        assert need.to_buy_packs >= 0
        assert need.to_buy_packs * 25 + max(stock, Decimal(0)) >= Decimal(repr(need.need)) - Decimal(
            "0.000001"
        )


def test_thread_that_nothing_is_sewn_with_is_not_on_the_list() -> None:
    needs = work_out_needs([wanted(1)], make_shop(make_tee(seams=(), operations=(), notions=())))
    assert needs.notions == ()


# --- what is missing ---


def texts(shop: Workshop, *demand: Demand) -> list[str]:
    return [missing.text for missing in find_missing(demand, shop)]


def test_nothing_is_missing_where_all_is_there() -> None:
    assert find_missing([wanted(1), wanted(2, "S", "self band")], make_shop()) == ()


def test_a_size_without_an_outline_is_named_once_with_its_piece() -> None:
    tee = make_tee()
    front = replace(tee.pieces[0], outlines={"M": tee.pieces[0].outlines["M"]})
    shop = make_shop(replace(tee, pieces=(front, *tee.pieces[1:])))
    assert texts(shop, wanted(1, "S"), wanted(1, "M"), wanted(1, "S")) == ["front has no outline in size S"]
    with pytest.raises(CannotPlanError, match="front has no outline in size S") as stopped:
        work_out_needs([wanted(1, "S")], shop)
    assert stopped.value.missing[0].garment.size == "S"


def test_words_that_do_not_exist() -> None:
    options = make_options({"neck": "cowl", "pocket": "welt"})
    garment = Garment("1", options, "rust", "XXL")
    assert texts(make_shop(), Demand(garment, 1)) == [
        "neck of style 1 has no option cowl",
        "style 1 has no detail pocket",
        "style 1 has no size XXL",
        "style 1 has no colourway rust",
    ]
    assert texts(make_shop(), wanted(1, style="77")) == ["there is no style 77"]


def test_every_detail_takes_exactly_one_option() -> None:
    none = Demand(Garment("1", (), "ink", "M"), 1)
    assert texts(make_shop(), none) == ["choose one neck for style 1: rib band, self band"]
    both = Demand(Garment("1", make_options([("neck", "rib band"), ("neck", "self band")]), "ink", "M"), 1)
    assert texts(make_shop(), both) == ["choose one neck for style 1: rib band, self band"]


def test_a_quantity_of_nothing_is_refused() -> None:
    assert texts(make_shop(), wanted(0)) == ["the quantity must be more than nothing"]


def test_a_colourway_without_a_cloth_for_a_role_the_options_need() -> None:
    bare = ColourwaySpec("ink", {"body": JERSEY}, THREAD)
    shop = make_shop(make_tee(colourways={"ink": bare}))
    assert texts(shop, wanted(1)) == ["colourway ink has no cloth for rib (rib band)"]
    assert texts(shop, wanted(1, neck="self band")) == []


def test_cloths_and_notions_that_are_not_there() -> None:
    shop = make_shop()
    lost = replace(shop, cloths={JERSEY: shop.cloths[JERSEY]}, notions={ELASTIC: shop.notions[ELASTIC]})
    assert texts(lost, wanted(1)) == [
        "there is no cloth rib in ink",
        "there is no notion sewing thread in ink",
        "there is no notion size label",
    ]


def test_a_piece_wider_than_the_cloth_is_named() -> None:
    assert texts(make_shop(jersey=make_cloth(usable_width_mm=500.0)), wanted(1)) == []
    assert texts(make_shop(jersey=make_cloth(usable_width_mm=500.0)), wanted(1, "L")) == [
        "front in size L is 52\u2009cm wide, but jersey, ink lies only 50\u2009cm wide",
        "back in size L is 52\u2009cm wide, but jersey, ink lies only 50\u2009cm wide",
    ]


@pytest.mark.parametrize("handling", ["cut_larger", "wash_first"])
def test_shrinkage_can_make_a_piece_too_wide(handling: str) -> None:
    # 500 mm of piece on 520 mm of cloth: 500 / 0.95 = 526 mm as cut, or 520 × 0.95 = 494 mm of cloth.
    tight = make_cloth(usable_width_mm=520.0, shrinkage_width=0.05, shrinkage_handling=handling)
    assert len(texts(make_shop(jersey=tight), wanted(1))) == 2


def test_cloth_sold_by_weight_needs_a_weight() -> None:
    by_weight = make_cloth(sold_by="kg", weight_gsm=0.0)
    assert texts(make_shop(jersey=by_weight), wanted(1)) == [
        "jersey, ink is sold by weight, but its own weight is not known"
    ]


def test_half_a_pair_is_refused() -> None:
    tee = make_tee()
    pieces = tuple(replace(p, count=3) if p.name == "sleeve" else p for p in tee.pieces)
    assert texts(make_shop(replace(tee, pieces=pieces)), wanted(1)) == [
        "sleeve is cut as a mirrored pair, but a garment takes 3 of it"
    ]


def test_seams_and_stitches_that_cannot_be_reckoned() -> None:
    tee = make_tee(
        seams=(
            SeamSpec("collar", None, (EdgeRef("front", "collar"),), 1, "neck"),
            SeamSpec("hem", None, (EdgeRef("front", "hem"),), 1, "hem by machine"),
        ),
        operations=(OperationSpec("neck", None, 1, "sewing machine", "999", 1.0),),
        notions=(NotionUse(ELASTIC, None, "seam", seam="waist"),),
    )
    assert texts(make_shop(tee), wanted(1)) == [
        "“neck” names stitch type 999, which is not in the table",
        "front in size M has no edge “collar”, which seam “collar” needs",
        "seam “hem” is sewn by “hem by machine”, which the chosen options do not have",
        "clear elastic 6 mm runs along seam “waist”, which the style does not have",
    ]
