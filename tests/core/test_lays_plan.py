"""Which garments share a marker: demand met exactly, every lay as long as the table at most."""

from collections import Counter, defaultdict
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.core.lays.cut_plans import Lengths
from planner.core.lays.items import items_for
from planner.core.lays.learnt import Learnt
from planner.core.lays.plan import CannotPlan, TooLongForTable, TooWideForCloth, plan_lays
from planner.core.lays.stored import marker_key
from planner.core.outline import make_outline
from planner.core.spec import ClothKey, Demand, Garment, PieceSpec, make_options
from tests.core.makers import JERSEY, RIB, make_cloth, make_shop, make_tee, same_in_all, wanted


def garments_cut(lays):
    """How often each garment is cut from each cloth."""
    cut = defaultdict(Counter)
    for lay in lays:
        for cloth in lay.cloths:
            cut[cloth] += lay.cut_from(cloth)
    return cut


def test_what_fits_the_table_is_one_lay_of_each_cloth():
    """Two tops in M: 2 × 860,000 mm² on 1,400 mm at 78 % × 0.95 is 1,658.0 mm; rib 2 × 24,000 on 1,000: 64.8 mm,
    but no lay is shorter than its longest piece, 400 mm."""
    jersey, rib = plan_lays([wanted(2)], make_shop(most_plies=1))
    assert (jersey.cloths, jersey.section, jersey.spreads, jersey.mode) == ((JERSEY,), 1, 1, "open")
    assert (rib.cloths[0], rib.section, rib.spreads) == (RIB, 2, 1)
    assert jersey.estimated_length_mm == pytest.approx(1658.0, abs=0.1)
    assert rib.estimated_length_mm == 400
    assert Counter(i.piece for i in jersey.job.items) == {"front": 2, "back": 2, "sleeve": 4}
    assert [i.piece for i in rib.job.items] == ["rib band", "rib band"]
    assert {i.garment_no for i in jersey.job.items} == {1, 2}


def test_a_learnt_efficiency_changes_the_estimate():
    learnt = {"jersey": Learnt(((2, 0.92), (2, 0.88), (5, 0.5)), "from three lays")}
    jersey, _ = plan_lays([wanted(2)], make_shop(most_plies=1), lengths=Lengths(learnt=learnt))
    assert jersey.estimated_length_mm == pytest.approx(2 * 860_000 / 1400 / 0.9, abs=0.1)


def test_half_of_a_pair_is_mirrored_and_single_pieces_are_not():
    lopsided = make_outline([(0, 0), (200, 0), (250, 400), (0, 300)])
    sleeve = PieceSpec("sleeve", "body", 2, True, True, None, same_in_all(lopsided))
    tab = PieceSpec("tab", "body", 3, False, False, None, same_in_all(lopsided))
    shop = make_shop(make_tee(pieces=(sleeve, tab)))
    items = items_for((wanted(1).garment,), "open", shop.cloths[JERSEY], shop)
    assert [(i.piece, i.mirrored, i.may_turn) for i in items] == [
        ("sleeve", False, True),
        ("sleeve", True, True),
        ("tab", False, False),
        ("tab", False, False),
        ("tab", False, False),
    ]
    assert items[1].outline == lopsided.mirrored()


def test_pieces_are_cut_larger_by_what_they_will_shrink():
    """5 % along and 2 % across: × 1/0.95 = 1.05263 and 1/0.98 = 1.02041 (ISO 5077 dimensional change)."""
    cloth = make_cloth(shrinkage_length=0.05, shrinkage_width=0.02, shrinkage_handling="cut_larger")
    jersey, _ = plan_lays([wanted(1)], make_shop(jersey=cloth))
    front = next(i for i in jersey.job.items if i.piece == "front")
    assert front.outline.length_mm == pytest.approx(700 * 1.0526316, abs=0.001)
    assert front.outline.width_mm == pytest.approx(500 * 1.0204082, abs=0.001)
    assert jersey.lay_width_mm == 1400


def test_cloth_washed_first_lies_narrower():
    cloth = make_cloth(shrinkage_length=0.05, shrinkage_width=0.02, shrinkage_handling="wash_first")
    jersey, _ = plan_lays([wanted(1)], make_shop(jersey=cloth))
    assert jersey.lay_width_mm == pytest.approx(1372)
    assert next(i for i in jersey.job.items if i.piece == "front").outline.length_mm == 700


def test_the_rules_of_the_cloth_reach_the_marker():
    shop = make_shop(jersey=make_cloth(one_way=True, end_allowance_mm=20), piece_gap_mm=3.5)
    jersey, _ = plan_lays([wanted(1)], shop)
    assert (jersey.job.one_way, jersey.job.gap_mm, jersey.end_allowance_mm) == (True, 3.5, 20)


def jersey_lays(demand, shop, **more):
    return [lay for lay in plan_lays(demand, shop, **more) if lay.fabric == "jersey"]


#: As if every marker came out at 80 %.
AT_80 = Lengths(learnt={"jersey": Learnt(((1, 0.8), (2, 0.8), (3, 0.8), (4, 0.8)))})


def test_sizes_share_a_marker_cut_in_several_plies():
    """A top is 767.9 mm at 80 %; S, M and L fit a table of 2.5 m, so 3 of each are three plies of one marker."""
    shop = make_shop(table_length_mm=2500, most_plies=3)
    (lay,) = jersey_lays([wanted(3, size) for size in ("L", "S", "M")], shop, lengths=AT_80)
    assert [(g.garment.size, g.per_marker) for g in lay.plies[0].garments] == [("S", 1), ("M", 1), ("L", 1)]
    assert lay.spreads == 3


def test_colours_are_stacked_in_one_lay():
    """Two of each size in white and one in ink: one marker, two plies white and one ink."""
    white = ClothKey("jersey", "white")
    tee = make_tee()
    ink = tee.colourways["ink"]
    pale = replace(ink, name="pale", cloths={"body": white, "rib": RIB})
    shop = make_shop(make_tee(colourways={"ink": ink, "pale": pale}), table_length_mm=2500, most_plies=3)
    shop = replace(shop, cloths={**shop.cloths, white: make_cloth(white)})

    def in_pale(row, quantity):
        return Demand(replace(row.garment, colourway="pale"), quantity)

    rows = [wanted(1, size) for size in ("S", "M", "L")]
    (lay,) = jersey_lays(rows + [in_pale(row, 2) for row in rows], shop, lengths=AT_80)
    assert {cloth: lay.spreads_of(cloth) for cloth in lay.cloths} == {JERSEY: 1, white: 2}
    assert lay.cut_from(white) == {in_pale(row, 2).garment: 2 for row in rows}


def test_garments_cut_alike_share_places_and_plies_marked_unlike_are_told_apart():
    """2 with a rib band and 1 with a self band... the body of both is one kind where only the rib differs."""
    tee = make_tee()
    plain = replace(tee, pieces=tuple(p for p in tee.pieces if p.option != ("neck", "self band")))
    shop = make_shop(plain, table_length_mm=900, most_plies=3)
    (lay,) = jersey_lays([wanted(2), wanted(1, neck="self band")], shop, lengths=AT_80)
    assert [(plies.spreads, plies.garments[0].garment.options) for plies in lay.plies] == [
        (2, (("neck", "rib band"),)),
        (1, (("neck", "self band"),)),
    ] or [(plies.spreads, plies.garments[0].garment.options) for plies in lay.plies] == [
        (1, (("neck", "self band"),)),
        (2, (("neck", "rib band"),)),
    ]


def test_a_size_too_long_for_the_table_is_cut_from_several_plies_with_a_remainder():
    """One top is 767.9 mm at 80 %. On 3,300 mm go 4: 9 tops in two plies at most are no fewer than two lays."""
    shop = make_shop(table_length_mm=3300, most_plies=2)
    lays = jersey_lays([wanted(9)], shop, lengths=AT_80)
    assert len(lays) == 2
    assert sum(lay.spreads * lay.garments_per_marker for lay in lays) == 9


def test_no_more_plies_than_the_knife_cuts_by_number_and_by_thickness():
    """Two tops a marker at most, 8 wanted: a knife for 12 mm takes 3 plies of 4 mm, though 9 are allowed."""
    shop = make_shop(jersey=make_cloth(thickness_mm=4.0), table_length_mm=1600, most_plies=9)
    for limit, most in ((12.0, 3), (0.0, 9), (11.9, 2)):
        lays = jersey_lays([wanted(8)], replace(shop, cut_thickness_mm=limit), lengths=AT_80)
        assert max(lay.spreads for lay in lays) <= most
        assert len(lays) == {3: 2, 9: 1, 2: 2}[most]


def test_several_styles_share_the_lay_of_one_cloth():
    shop = make_shop(make_tee("1"), make_tee("2"))
    jersey, _ = plan_lays([wanted(1, style="1"), wanted(1, style="2")], shop)
    assert {i.style for i in jersey.job.items} == {"1", "2"}
    assert {(i.style, i.garment_no) for i in jersey.job.items} == {("1", 1), ("2", 2)}


def test_a_cloth_is_laid_only_for_the_garments_cut_from_it():
    lays = plan_lays([wanted(2, neck="self band"), wanted(1, neck="rib band")], make_shop())
    assert garments_cut(lays)[RIB] == {wanted(1).garment: 1}


def test_equal_rows_are_one_garment():
    jersey, _ = plan_lays([wanted(2), wanted(3)], make_shop(table_length_mm=9000))
    assert [g.per_marker for g in jersey.plies[0].garments] == [5]


def test_a_piece_wider_than_its_cloth_is_named():
    with pytest.raises(CannotPlan) as caught:
        plan_lays([wanted(1)], make_shop(jersey=make_cloth(usable_width_mm=499)))
    problem, other = caught.value.problems
    assert isinstance(problem, TooWideForCloth)
    assert isinstance(other, TooWideForCloth)
    assert other.piece == "back"
    assert (problem.piece, problem.width_mm, problem.lay_width_mm) == ("front", 500, 499)
    assert (
        problem.text
        == "front of style 1 in size M is 50\u2009cm wide, but jersey ink lies only 49.9\u2009cm wide"
    )


def test_a_garment_longer_than_the_table_is_named():
    """The front is 700 mm; with 20 mm at both ends a table of 739 does not do."""
    shop = make_shop(jersey=make_cloth(end_allowance_mm=20), table_length_mm=739)
    with pytest.raises(CannotPlan) as caught:
        plan_lays([wanted(1)], shop)
    (problem,) = caught.value.problems
    assert isinstance(problem, TooLongForTable)
    assert problem.text == (
        "style 1 in size M needs a lay of 74\u2009cm in jersey ink, but the table is 73.9\u2009cm long"
    )
    assert plan_lays([wanted(1)], replace(shop, table_length_mm=740))


def test_a_marker_that_came_out_too_long_is_not_planned_again():
    shop = make_shop(table_length_mm=5000, most_plies=1)
    (lay,) = jersey_lays([wanted(3, "S"), wanted(3, "M")], shop, lengths=AT_80)
    nested = {marker_key(lay.job): 5001.0}
    lays = jersey_lays([wanted(3, "S"), wanted(3, "M")], shop, lengths=replace(AT_80, nested=nested))
    assert len(lays) == 2
    assert garments_cut(lays)[JERSEY] == {wanted(1, "S").garment: 3, wanted(1, "M").garment: 3}


def test_a_single_garment_that_came_out_too_long_is_told():
    shop = make_shop(table_length_mm=1000)
    (lay,) = jersey_lays([wanted(1)], shop)
    with pytest.raises(CannotPlan, match="needs a lay of 120\u2009cm"):
        plan_lays([wanted(1)], shop, lengths=Lengths(nested={marker_key(lay.job): 1200.0}))


rows = st.builds(
    lambda q, size, neck, style: Demand(Garment(style, make_options({"neck": neck}), "ink", size), q),
    st.integers(1, 12),
    st.sampled_from(["S", "M", "L"]),
    st.sampled_from(["rib band", "self band"]),
    st.sampled_from(["1", "2"]),
)


@settings(max_examples=20, deadline=None)
@given(
    demand=st.lists(rows, min_size=1, max_size=8),
    table=st.floats(1300, 9000),
    plies=st.integers(1, 6),
    efficiency=st.floats(0.5, 0.95),
)
def test_demand_is_met_exactly_whatever_is_asked(demand, table, plies, efficiency):
    shop = make_shop(make_tee("1"), make_tee("2"), table_length_mm=table, most_plies=plies)
    learnt = {"jersey": Learnt(tuple((n, efficiency) for n in range(1, 40)))}
    lays = plan_lays(demand, shop, lengths=Lengths(learnt=learnt), seconds=0.1)
    wanted_of = Counter()
    for row in demand:
        wanted_of[row.garment] += row.quantity
    cut = garments_cut(lays)
    assert cut[JERSEY] == wanted_of
    assert cut[RIB] == {g: n for g, n in wanted_of.items() if ("neck", "rib band") in g.options}
    assert [lay.section for lay in lays] == list(range(1, len(lays) + 1))
    for lay in lays:
        assert 1 <= lay.spreads <= plies
        held = sum(g.per_marker for g in lay.plies[0].garments)
        assert {i.garment_no for i in lay.job.items} == set(range(1, held + 1))
        assert lay.estimated_length_mm <= table
