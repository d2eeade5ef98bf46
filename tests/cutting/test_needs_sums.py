"""Every sum on the needs page follows from what is printed there, and batches buy together what they buy one by one."""

from __future__ import annotations

import re
from collections import Counter
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal

import pytest
from django.test import Client

from planner.core.needs import work_out_needs
from planner.core.spec import ClothKey, NotionKey
from planner.cutting.actions.notions_out import take_notions_out
from planner.cutting.bill import BillLine, BillSetting, make_bill
from planner.cutting.bill_parts import piece_parts
from planner.cutting.buying import what_to_buy
from planner.cutting.demand import batch_demand
from planner.cutting.models import Batch, Marker
from planner.cutting.reckoning import cloth_figures
from planner.cutting.stored import PlannedBatch, planned_batch
from planner.materials.models import (
    Fabric,
    FabricColour,
    Notion,
    NotionColour,
    Workroom,
)
from tests.cutting.needs_pages import (
    ELASTIC,
    RIB,
    bill_of,
    facts,
    line_of,
    new_batch,
    number,
    page,
    text_of,
    told,
)
from tests.cutting.once import make_planned_batch
from tests.cutting.table_makers import tell_all_of
from tests.factories import NOON, make_order, stock
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db


# --- every sum on the page ---

_RESULT = re.compile(r"^(?P<left>.*[÷×+−].*?) = (?P<right>[\d.]+)(?P<rest>.*)$")


def check(step: str) -> bool:
    """Whether a printed reckoning is right by its own figures; False where it reckons nothing."""
    plain = step.replace("\N{THIN SPACE}", "").replace("10000", "10_000")
    plain = re.sub(r"B-\d+", "", plain).removesuffix(".")
    found = _RESULT.match(plain)
    if found is None:
        return False
    left = re.sub(r"[^\d.÷×+−()_]", "", re.sub(r"(cm²|in²|g/m²|mm|,)", "", found["left"]))
    numbers = re.sub(r"\d[\d_.]*", lambda m: f"Decimal('{m[0]}')", left)
    value = eval(numbers.replace("÷", "/").replace("×", "*").replace("−", "-"), {"Decimal": Decimal})
    if "mm" in found["left"]:
        value /= 1000
    right = Decimal(found["right"])
    unit = Decimal(1).scaleb(right.as_tuple().exponent)
    ways = [ROUND_HALF_UP]
    if "nearest" in found["rest"]:
        pass
    elif "rounded" in found["rest"]:
        ways = [ROUND_CEILING if "rounded up" in found["rest"] else ROUND_FLOOR]
    elif "÷" not in found["left"]:
        assert value == right, f"{step}: {value}"
        return True
    assert right in [value.quantize(unit, way) for way in ways], f"{step}: {value}"
    return True


@pytest.mark.parametrize(
    ("fabric", "waste"),
    [
        ({"shrinkage_handling": "wash_first", "shrinkage_length_percent": Decimal("7"),
          "shrinkage_width_percent": Decimal("4"), "damage_percent": Decimal("2.5")}, "12.5"),
        ({"shrinkage_handling": "cut_larger", "shrinkage_length_percent": Decimal("6"),
          "shrinkage_width_percent": Decimal("3")}, "0"),
        ({"sold_by": "roll", "pack_quantity": Decimal("12.5"), "price": Decimal("140")}, "7"),
    ],
)  # fmt: skip
def test_every_sum_follows_from_what_is_printed(fabric: dict[str, object], waste: str) -> None:
    style = the_style()
    Fabric.objects.update(**fabric)
    Notion.objects.update(waste_percent=Decimal(waste))
    order = make_order(
        [
            (style, RIB, "ink", {"M": 5, "XXL": 1}),
            (style, {"neck": "self band"}, "ink", {"M": 7}),
            (style, RIB, "moss", {"L": 4}),
        ]
    )
    batch = make_planned_batch(order)
    make_planned_batch(make_order([(style, RIB, "ink", {"S": 1})]))
    second = make_planned_batch(make_order([(style, RIB, "ink", {"S": 6, "XL": 3})]))
    for colour in NotionColour.objects.all():
        stock(colour, "7.31")
    stock(FabricColour.objects.get(fabric__name="jersey", name="ink"), "1.37")
    check_every_sum(batch, second)
    Marker.objects.update(state=Marker.State.WAITING)
    check_every_sum(batch, second)


def check_every_sum(*batches: Batch) -> None:
    for one in batches:
        reckoned = 0
        read = planned_batch(one)
        for line in bill_of(one).lines:
            for group in line.groups:
                assert all(p.count * number(p.each) == number(p.amount) for p in group.parts)
                assert sum(number(p.amount) for p in group.parts) == number(group.total)
            first = line.steps[0].replace("\N{THIN SPACE}", "")
            if len(line.groups) > 1 and not line.lays:
                totals = sum(number(group.total) for group in line.groups)
                assert totals == Decimal(first.rpartition(" = ")[2].rstrip("mpcs²."))
            reckoned += sum(check(part.words) for part in line.lays) + sum(map(check, line.steps))
            there = number(line.there) + besides(line)
            assert number(line.left) == max(there + bought(read, line) - number(line.need), Decimal(0))
        assert reckoned > 15


def test_areas_are_told_in_square_inches_where_the_workroom_measures_in_inches() -> None:
    batch = make_planned_batch(make_order([(the_style(), RIB, "ink", {"M": 5, "XXL": 1})]))
    Workroom.objects.update(display="imperial")
    bill = make_bill(planned_batch(batch), BillSetting("imperial", "EUR", open=("all",)))
    metric = make_bill(planned_batch(batch), BillSetting("metric", "EUR", open=("all",)))
    groups = [group for line in bill.lines if line.is_cloth for group in line.groups]
    in_cm2 = [group for line in metric.lines if line.is_cloth for group in line.groups]
    assert groups
    for group, other in zip(groups, in_cm2, strict=True):
        assert all(p.count * number(p.each) == number(p.amount) for p in group.parts)
        assert sum(number(p.amount) for p in group.parts) == number(group.total)
        assert group.total.endswith("\N{THIN SPACE}in²")
        # An inch is 2.54 cm exactly (NIST SP 811), so 6.4516 cm² are a square one; each area is rounded by itself.
        assert float(number(group.total)) * 6.4516 == pytest.approx(float(number(other.total)), abs=6)


def test_an_estimate_from_areas_in_square_inches_can_be_followed() -> None:
    batch = make_planned_batch(make_order([(the_style(), RIB, "ink", {"M": 5, "XXL": 1})]))
    read = planned_batch(batch)
    for need in work_out_needs(batch_demand(batch).demand, read.shop).cloths:
        figures = cloth_figures(need, read.shop.cloths[need.cloth])
        _, steps = piece_parts(read, need, figures, "imperial")
        assert " in² × 6.4516 ÷ 10000 ÷ (" in steps[-1]
        assert check(steps[-1])


def besides(line: BillLine) -> Decimal:
    """What counts as there besides what lies on the shelf: cut or taken, or left of what is bought for others."""
    told = [re.match(r"besides ([\d.\N{THIN SPACE}]+)(?:m|pcs) ", one) for one in line.besides]
    return sum((number(found[1]) for found in told if found), Decimal(0))


def bought(read: PlannedBatch, line: BillLine) -> Decimal:
    """What is bought of a line, in metres or pieces, as the core has it."""
    for need in read.needs.cloths:
        if (need.cloth.fabric, need.cloth.colour) == (line.what, line.colour):
            return Decimal(str(need.to_buy_m))
    (one,) = [n for n in read.needs.notions if (n.key.notion, n.key.colour) == (line.what, line.colour)]
    return one.to_buy_packs * read.shop.notions[one.key].pack_quantity


def test_a_wrong_sum_is_found_out() -> None:
    assert check("1.2 + 3.4 = 4.6 m.")
    with pytest.raises(AssertionError):
        check("1.2 + 3.4 = 4.7 m.")
    with pytest.raises(AssertionError):
        check("2.4 × 1.05 with waste = 2.51 m, rounded up.")
    assert not check("3 m on hand.")


# --- several batches ---


def all_packs(batches: list[Batch]) -> Counter[ClothKey | NotionKey]:
    packs: Counter[ClothKey | NotionKey] = Counter()
    for batch in batches:
        needs = planned_batch(batch).needs
        packs += Counter({need.cloth: need.to_buy_packs for need in needs.cloths if need.to_buy_packs})
        packs += Counter({need.key: need.to_buy_packs for need in needs.notions if need.to_buy_packs})
    return packs


def packs_for_all() -> Counter[ClothKey | NotionKey]:
    needs = what_to_buy().needs
    packs: Counter[ClothKey | NotionKey] = Counter({n.cloth: n.to_buy_packs for n in needs.cloths})
    packs.update({need.key: need.to_buy_packs for need in needs.notions})
    return +packs


@pytest.mark.parametrize("first", [0, 2])
def test_bought_batch_by_batch_it_is_as_many_packs_as_for_all_at_once(first: int) -> None:
    """Of one thing nothing is there, of others a little, more, or plenty; and the other way round."""
    batches = [new_batch(**sizes) for sizes in ({"M": 3}, {"S": 1, "XXL": 2}, {"L": 9})]
    Fabric.objects.update(minimum_quantity=Decimal("3"), pack_quantity=Decimal("0.5"))
    # Every end that is left of cloth bought for others is worth keeping, however short.
    Workroom.objects.update(keep_remnant_m=0)
    Notion.objects.filter(kind="thread").update(pack_quantity=Decimal("150"))
    Notion.objects.filter(name=ELASTIC).update(pack_quantity=Decimal("2"))
    on_hand = ("0", "1.5", "4", "40")
    for colours in (FabricColour.objects.order_by("pk"), NotionColour.objects.order_by("pk")):
        for n, colour in enumerate(colours, first):
            if on_hand[n % 4] != "0":
                stock(colour, on_hand[n % 4])
    check_packs_for_cones(batches)
    take_notions_out(batches[0], None, NOON)
    lay = batches[0].lays.first()
    assert lay is not None
    tell_all_of(lay, "2")
    check_packs_for_cones(batches)


def check_packs_for_cones(batches: list[Batch]) -> None:
    for cones in (None, 0, 2, 9):
        NotionColour.objects.filter(notion__kind="thread").update(cones=cones)
        assert all_packs(batches) == packs_for_all(), f"{cones} cones"


def test_what_an_earlier_batch_leaves_of_its_packs_is_there_for_the_next(maker_client: Client) -> None:
    # Elastic by the roll of 25 m: the first batch needs 2.4 m and buys a roll, the second needs none.
    first, second = new_batch(), new_batch()
    line = line_of(second, ELASTIC)
    assert facts(line) == ["2.40 m", "0.00 m", "0.00 m", "", "", "20.20 m"]
    assert told(*line.steps)[0] == (
        f"0 m on hand + 25 to be bought for {first.number} − 2.4 still to be taken for {first.number} = 22.60 m there "
        "once that is bought."
    )
    text = text_of(page(maker_client, second))
    assert f"all else is there once what {first.number} needs is bought." in text
