"""Every need of a notion is the sum of lines that say where it comes from."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.needs import CutLength, work_out_needs
from planner.core.spec import Demand, NotionKey, NotionUse, Workshop
from tests.core.makers import ELASTIC, LABEL, SIZES, THREAD, make_notion, make_shop, make_tee, wanted

BUTTON, BAG, CARD, TAPE = (NotionKey(name) for name in ("button", "bag", "size card", "stay tape"))
RIB_ONLY = ("neck", "rib band")


def shop() -> Workshop:
    """The boxy top with two buttons for each sleeve, a bag an order, a card in S only, tape along rib necks."""
    tee = make_tee()
    tee = replace(
        tee,
        notions=(
            *tee.notions,
            NotionUse(BUTTON, None, "piece", 2, piece="sleeve"),
            NotionUse(BUTTON, None, "piece", 1, piece="rib band"),
            NotionUse(BAG, None, "order", 1),
            NotionUse(CARD, None, "garment", 1, size="S"),
            NotionUse(TAPE, RIB_ONLY, "seam", seam="rib neck", ratio=0.95, tail_mm=10),
        ),
    )
    counted = {key: make_notion(key, kind="other", unit="pcs") for key in (BUTTON, BAG, CARD)}
    return make_shop(tee, notions={**counted, TAPE: make_notion(TAPE, kind="tape", waste_share=0.05)})


def told(key: NotionKey, *demand: Demand, **orders: int) -> list[tuple[str, str, int, float, str]]:
    needs = work_out_needs(demand, shop(), orders=orders or None)
    return [(x.what, x.size, x.count, x.each, x.how) for x in needs.lines if x.key == key]


def test_for_each_piece() -> None:
    assert told(BUTTON, wanted(3)) == [
        ("piece sleeve", "M", 6, 2, "2 for each, 2 in a garment"),
        ("piece rib band", "M", 3, 1, "1 for each, 1 in a garment"),
    ]
    assert told(BUTTON, wanted(3, neck="self band")) == [
        ("piece sleeve", "M", 6, 2, "2 for each, 2 in a garment")
    ]


def test_for_each_order_however_many_garments() -> None:
    assert told(BAG, wanted(3), wanted(9, "S")) == [("order", "", 1, 1, "1 an order")]
    assert told(BAG, wanted(3), wanted(9, "S"), **{"1": 4}) == [("order", "", 4, 1, "1 an order")]
    assert told(BAG, wanted(3), **{"1": 0}) == []


def test_only_in_one_size() -> None:
    assert told(CARD, wanted(3), wanted(2, "S")) == [("garment", "S", 2, 1, "1 a garment")]
    assert told(CARD, wanted(3)) == []


def test_along_a_seam_with_waste_and_tails() -> None:
    # 400 mm × 0.95 + 2 × 10 mm = 400 mm; twice, and 5 % for waste: 0.84 m.
    assert told(TAPE, wanted(2)) == [
        ("seam rib neck", "M", 2, pytest.approx(0.4), "400 mm × 0.95 + 2 × 10 mm tails")
    ]
    (need,) = [n for n in work_out_needs([wanted(2)], shop()).notions if n.key == TAPE]
    assert need.need == pytest.approx(0.84)
    assert told(TAPE, wanted(2, neck="self band")) == []


def test_what_is_counted_in_pieces_has_no_length_along_a_seam() -> None:
    """It is cut to length already: one for each seam, and nothing of it in the list of lengths to cut."""
    ready = make_shop(*shop().styles.values(), notions={TAPE: make_notion(TAPE, kind="tape", unit="pcs")})
    ready = replace(ready, notions={**shop().notions, TAPE: ready.notions[TAPE]})
    needs = work_out_needs([wanted(2)], ready)
    lines = [(x.what, x.count, x.each, x.how) for x in needs.lines if x.key == TAPE]
    assert lines == [("seam rib neck", 2, 1.0, "1 for each, 1 in a garment")]
    assert TAPE not in {cut.key for cut in needs.cut_lengths}
    assert ELASTIC in {cut.key for cut in needs.cut_lengths}


def test_how_says_what_a_notion_is_counted_by() -> None:
    how = {need.key: need.how for need in work_out_needs([wanted(1, "S")], shop()).notions}
    assert how[BUTTON] == "counted by the piece"
    assert how[BAG] == "counted by the order"
    assert how[LABEL] == "counted by the garment"
    assert how[TAPE] == "along the seams, 5\N{NO-BREAK SPACE}% for waste"


def test_equal_garments_of_several_lines_are_one_line() -> None:
    once = work_out_needs([wanted(5)], shop()).lines
    assert work_out_needs([wanted(2), wanted(3)], shop()).lines == once


def test_equal_lengths_are_cut_together() -> None:
    """The neck's 400 mm in every size lie beside each other, after the shoulders' 190 mm; never by seam alone."""
    tee = make_tee()
    hem = NotionUse(ELASTIC, None, "seam", seam="side", ratio=0.2, tail_mm=25)  # 700 × 0.2 + 50 = 190
    both = make_shop(
        replace(tee, notions=(*tee.notions, hem, NotionUse(ELASTIC, None, "seam", seam="rib neck")))
    )
    cuts = work_out_needs([wanted(1, "L"), wanted(1, "S")], both).cut_lengths
    assert cuts == (
        CutLength(ELASTIC, "1", "S", "shoulder", 190.0, 2),
        CutLength(ELASTIC, "1", "L", "shoulder", 190.0, 2),
        CutLength(ELASTIC, "1", "S", "side", 190.0, 2),
        CutLength(ELASTIC, "1", "L", "side", 190.0, 2),
        CutLength(ELASTIC, "1", "S", "rib neck", 400.0, 1),
        CutLength(ELASTIC, "1", "L", "rib neck", 400.0, 1),
    )


demands = st.lists(
    st.builds(wanted, st.integers(1, 50), st.sampled_from(SIZES), st.sampled_from(["rib band", "self band"])),
    min_size=1,
    max_size=6,
)


@given(demand=demands)
def test_a_need_before_waste_is_the_sum_of_its_lines(demand: list[Demand]) -> None:
    needs, notions = work_out_needs(demand, shop()), shop().notions
    assert {line.key for line in needs.lines} == {need.key for need in needs.notions}
    for need in needs.notions:
        lines = [line for line in needs.lines if line.key == need.key]
        total = sum(line.amount for line in lines)
        assert need.need == pytest.approx(total * (1 + notions[need.key].waste_share))
        assert all(line.amount == line.count * line.each for line in lines)
        assert all((line.source != "") == (need.key == THREAD) for line in lines)


@given(demand=demands, times=st.integers(2, 9))
def test_needs_are_linear_in_quantity_and_in_orders(demand: list[Demand], times: int) -> None:
    more = [replace(line, quantity=line.quantity * times) for line in demand]
    once = work_out_needs(demand, shop(), orders={"1": 2}).lines
    often = work_out_needs(more, shop(), orders={"1": 2 * times}).lines
    for one, many in zip(once, often, strict=True):
        assert many == replace(one, count=one.count * times, amount=many.amount)
        assert many.amount == pytest.approx(one.amount * times)


@given(quantity=st.integers(1, 60), size=st.sampled_from(SIZES))
def test_swapping_an_option_changes_only_its_own_lines(quantity: int, size: str) -> None:
    def others(neck: str, own: set[str]) -> list[tuple[NotionKey, str, int, float, str, str]]:
        lines = work_out_needs([wanted(quantity, size, neck)], shop()).lines
        assert own <= {line.what for line in lines}
        return [(x.key, x.what, x.count, x.each, x.how, x.source) for x in lines if x.what not in own]

    assert others("rib band", {"seam rib neck", "piece rib band"}) == others("self band", {"seam self neck"})
