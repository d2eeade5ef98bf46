"""Thread of a seam from the best that is known, by hand and by invariants."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.needs import find_missing, work_out_needs
from planner.core.notions.lines import NeedLine, collect_uses
from planner.core.notions.seam_thread import positions_of, thread_of_seam
from planner.core.notions.stitches import threads_at
from planner.core.notions.thread import STITCH_TYPES, cones_on_hand, shares_at
from planner.core.spec import (
    ColourwaySpec,
    MachineSpec,
    NotionKey,
    OperationSpec,
    Position,
    StitchSetting,
    StyleSpec,
    Workshop,
)
from tests.core.makers import (
    JERSEY,
    RIB,
    THREAD,
    make_cloth,
    make_notion,
    make_shop,
    make_tee,
    wanted,
)

NEUTRAL = NotionKey("sewing thread", "grey")
SHOULDERS, NECK, SIDES, PRESS = make_tee().operations
MEASURED = MachineSpec(
    "the old one", "overlock", {"504": StitchSetting("504", 2.5, 5.0, {"needle": 3.0, "looper": 10.0})}
)
SET_UP = MachineSpec("the new one", "overlock", {"504": StitchSetting("504", 2.5, 5.0)})


def in_two_threads(style: StyleSpec, **threads: NotionKey) -> StyleSpec:
    """The style with these threads at needle, looper or cover in its ink colourway."""
    return replace(
        style,
        colourways={"ink": replace(style.colourways["ink"], threads=threads)},  # type: ignore[arg-type]
    )


def shop_of(style: StyleSpec, thickness_mm: float = 0.0, **changes: Any) -> Workshop:
    shop = make_shop(style, jersey=make_cloth(thickness_mm=thickness_mm), **changes)
    return replace(shop, notions={**shop.notions, NEUTRAL: replace(shop.notions[THREAD], key=NEUTRAL)})


def lines_of(shop: Workshop, quantity: int = 1, key: NotionKey = THREAD) -> dict[str, NeedLine]:
    return {line.what: line for line in collect_uses([wanted(quantity)], shop).lines if line.key == key}


# --- which of the three ---


def test_by_the_table_where_nothing_is_known() -> None:
    shoulder = lines_of(shop_of(make_tee()), 3)["seam shoulder"]
    assert shoulder == NeedLine(
        THREAD, "1", wanted(1).garment.options, "M", "seam shoulder", 6, pytest.approx(2.1), pytest.approx(12.6),
        "150 mm × 14.00, 504 by the table", "table",
    )  # fmt: skip


def test_by_the_stitch_where_all_the_formula_needs_is_known() -> None:
    # 504: 3 + 4·(W + T)/p; T = 2 × 0.6, W = 5, p = 2.5 mm: 3 + 24.8/2.5 = 12.92.
    shoulder = lines_of(shop_of(make_tee(), 0.6, machines=(SET_UP,)))["seam shoulder"]
    assert shoulder.source == "geometry"
    assert shoulder.each == pytest.approx(0.150 * 12.92)
    assert shoulder.how == (
        "150 mm × 12.92, 504 by its stitch: 3 + (4 × 2 × 0.60 mm thick + 4 × 5 mm wide) / 2.5 mm long"
    )


def test_the_step_s_own_settings_come_before_the_machine_s() -> None:
    finer = replace(SHOULDERS, stitch_length_mm=2.0, stitch_width_mm=4.0, layers=3)
    found = thread_of_seam(finer, (SET_UP,), 0.5)
    # 3 + 4·(4 + 1.5)/2 = 14.
    assert found is not None
    assert (found.source, found.ratio) == ("geometry", pytest.approx(14.0))


@pytest.mark.parametrize(
    ("operation", "layer_mm"),
    [
        (replace(SHOULDERS, stitch_length_mm=2.5, stitch_width_mm=5.0), None),
        (replace(SHOULDERS, stitch_length_mm=2.5), 0.6),
        (replace(SHOULDERS, stitch_width_mm=5.0), 0.6),
        (replace(SHOULDERS, stitch_type="304", stitch_length_mm=1.5, stitch_width_mm=1.0), 0.6),
    ],
)
def test_one_figure_short_of_the_formula_is_the_table(
    operation: OperationSpec, layer_mm: float | None
) -> None:
    found = thread_of_seam(operation, (), layer_mm)
    assert found is not None
    assert (found.source, found.ratio) == ("table", pytest.approx(STITCH_TYPES[operation.stitch_type].ratio))


def test_a_lockstitch_needs_no_width_for_its_formula() -> None:
    found = thread_of_seam(replace(NECK, stitch_length_mm=2.5), (), 0.5)
    # 2 + 2·T/p = 2 + 2 × 1/2.5 = 2.8.
    assert found is not None
    assert (found.source, found.ratio) == ("geometry", pytest.approx(2.8))
    assert found.how == "301 by its stitch: 2 + (2 × 2 × 0.50 mm thick) / 2.5 mm long"


def test_measured_on_the_machine_comes_before_all_else() -> None:
    shoulder = lines_of(shop_of(make_tee(), 0.6, machines=(SET_UP, MEASURED)))["seam shoulder"]
    assert (shoulder.source, shoulder.each) == ("measured", pytest.approx(0.150 * 13.0))
    assert shoulder.how == "150 mm × 13.00, 504 as measured on the old one"


def test_a_step_s_own_machine_is_the_one_asked() -> None:
    """What was measured on another machine says nothing of this one."""
    own = replace(SHOULDERS, own_machine="the new one")
    found = thread_of_seam(own, (MEASURED, SET_UP), 0.6)
    assert found is not None
    assert (found.source, found.ratio) == ("geometry", pytest.approx(12.92))
    gone = thread_of_seam(replace(SHOULDERS, own_machine="sold"), (MEASURED,), None)
    assert gone is not None
    assert gone.source == "measured", "a machine no longer there is any of its kind"


def test_half_a_measurement_is_none() -> None:
    half = replace(MEASURED, stitches={"504": StitchSetting("504", measured={"needle": 3.0})})
    found = thread_of_seam(SHOULDERS, (half,), None)
    assert found is not None
    assert found.source == "table"


def test_a_machine_of_another_kind_is_not_asked() -> None:
    found = thread_of_seam(SHOULDERS, (replace(MEASURED, kind="coverstitch"),), None)
    assert found is not None
    assert found.source == "table"
    assert thread_of_seam(PRESS, (MEASURED,), None) is None


def test_a_seam_of_two_cloths_is_as_thick_as_their_mean() -> None:
    tee = make_tee()
    rib_neck = replace(tee.seams[2], edges=(replace(tee.seams[2].edges[0], piece="front", edge="neck"),
                                            replace(tee.seams[2].edges[0], side=2)))  # fmt: skip
    tee = replace(tee, seams=(rib_neck,), operations=(replace(NECK, stitch_length_mm=2.5),), notions=())
    shop = shop_of(tee, 0.6)
    half_known = lines_of(shop)["seam rib neck"]
    assert half_known.source == "table", "the rib was not measured"
    shop = replace(shop, cloths={**shop.cloths, RIB: replace(shop.cloths[RIB], thickness_mm=1.0)})
    neck = lines_of(shop)["seam rib neck"]
    # 200 mm of neck at 2 + 2 × (2 × 0.8)/2.5 = 3.28.
    assert (neck.source, neck.each) == ("geometry", pytest.approx(0.200 * 3.28))


# --- by position ---


@pytest.mark.parametrize("number", sorted(STITCH_TYPES))
def test_shares_are_whole_and_every_thread_runs_the_seam_at_least_once(number: str) -> None:
    shares, counts = shares_at(number), threads_at(number)
    assert set(shares) == set(counts)
    assert sum(shares.values()) == pytest.approx(1.0)
    for place, count in counts.items():
        assert STITCH_TYPES[number].ratio * shares[place] >= count


def test_thread_by_position_by_hand() -> None:
    # 504 by the table: needle 20 % of 14 = 2.8, loopers 11.2; 301: half of 2.5 each. 1,700 mm of overlock,
    # 400 mm of lockstitch.
    shop = shop_of(in_two_threads(make_tee(), looper=NEUTRAL))
    uses = collect_uses([wanted(1)], shop)
    assert uses.amounts[THREAD] == pytest.approx(1.7 * 2.8 + 0.4 * 1.25)
    assert uses.amounts[NEUTRAL] == pytest.approx(1.7 * 11.2 + 0.4 * 1.25)
    assert (uses.threads_at_once[THREAD], uses.threads_at_once[NEUTRAL]) == (1, 2)
    assert lines_of(shop)["seam shoulder"].how == "150 mm × 14.00 × 20 % at the needle, 504 by the table"
    assert (
        lines_of(shop, key=NEUTRAL)["seam rib neck"].how
        == "400 mm × 2.50 × 50 % at the bobbin, 301 by the table"
    )
    needs = {need.key: need for need in work_out_needs([wanted(1)], shop).notions}
    assert (needs[THREAD].least_packs, needs[NEUTRAL].least_packs) == (1, 2)
    assert "504 three-thread overedge takes 2 at once" in needs[NEUTRAL].how


def test_measured_threads_keep_their_own_positions() -> None:
    shop = shop_of(in_two_threads(make_tee(), looper=NEUTRAL), machines=(MEASURED,))
    assert lines_of(shop)["seam side"].how == "700 mm × 3.00, needle of 504 as measured on the old one"
    assert lines_of(shop, key=NEUTRAL)["seam side"].each == pytest.approx(7.0)


def test_a_position_without_a_thread_of_its_own_or_another_takes_none() -> None:
    tee = make_tee()
    bare = ColourwaySpec("ink", {"body": JERSEY, "rib": RIB}, None, {"needle": NEUTRAL})
    uses = collect_uses([wanted(1)], shop_of(replace(tee, colourways={"ink": bare})))
    assert THREAD not in uses.amounts
    assert uses.threads_at_once == {NEUTRAL: 1}


def test_a_thread_of_a_position_that_is_not_in_the_workroom_is_missing() -> None:
    shop = make_shop(in_two_threads(make_tee(), cover=NotionKey("floss", "silver")))
    assert [gap.text for gap in find_missing([wanted(1)], shop)] == ["there is no notion floss in silver"]


@pytest.mark.parametrize(
    ("cones", "in_stock", "there"), [(None, 0, 0), (None, 1200, 2), (3, 0, 3), (0, 900, 0)]
)
def test_counted_cones_come_before_those_the_metres_would_fill(
    cones: int | None, in_stock: int, there: int
) -> None:
    thread = make_notion(THREAD, kind="thread", pack_quantity=1000, in_stock=in_stock, cones=cones)
    assert cones_on_hand(thread) == there


def test_started_cones_thread_the_machine_and_metres_are_bought_only_where_short() -> None:
    def to_buy(**stock: Any) -> int:
        thread = make_notion(THREAD, kind="thread", pack_quantity=1000, **stock)
        (need,) = [n for n in work_out_needs([wanted(1)], make_shop(notions={THREAD: thread})).notions
                   if n.key == THREAD]  # fmt: skip
        return need.to_buy_packs

    # 24.8 m on three cones at once.
    assert to_buy(in_stock=100, cones=3) == 0
    assert to_buy(in_stock=100, cones=2) == 1
    assert to_buy(in_stock=100) == 2
    assert to_buy(in_stock=0, cones=3) == 1, "three empty cones hold no thread"


# --- invariants ---

ratios = st.floats(1.0, 20.0)


@given(needle=ratios, looper=ratios, length=st.floats(1, 5), width=st.floats(1, 8), layer=st.floats(0.1, 3))
def test_a_measured_ratio_always_wins(
    needle: float, looper: float, length: float, width: float, layer: float
) -> None:
    measured: Mapping[Position, float] = {"needle": needle, "looper": looper}
    machine = MachineSpec("m", "overlock", {"504": StitchSetting("504", length, width, measured)})
    step = replace(SHOULDERS, stitch_length_mm=length, stitch_width_mm=width)
    for machines in [(machine,), (SET_UP, machine)]:
        found = thread_of_seam(step, machines, layer)
        assert found is not None
        assert (found.source, dict(found.at)) == ("measured", measured)


@given(
    number=st.sampled_from(sorted(STITCH_TYPES)),
    quantity=st.integers(1, 2000),
    split=st.dictionaries(st.sampled_from(["needle", "looper", "cover"]), st.sampled_from([THREAD, NEUTRAL])),
)
def test_there_are_never_fewer_cones_than_positions(
    number: str, quantity: int, split: dict[str, NotionKey]
) -> None:
    tee = make_tee(operations=tuple(replace(step, stitch_type=number) for step in (SHOULDERS, NECK, SIDES)))
    tee = in_two_threads(tee, **split)
    needs = work_out_needs([wanted(quantity)], shop_of(tee)).notions
    cones = {need.key: need.least_packs for need in needs if need.key in {THREAD, NEUTRAL}}
    at_once = positions_of(number, tee.colourways["ink"])
    assert sum(at_once.values()) == STITCH_TYPES[number].threads
    assert all(cones[key] >= count for key, count in at_once.items())
    # Splitting the positions changes neither the metres in all nor which source they are from.
    assert sum(need.need for need in needs if need.key in cones) == pytest.approx(
        quantity * 2.1 * STITCH_TYPES[number].ratio
    )
