"""Cloth that is washed before it is cut: told at the table in metres as it lies there, kept in stock as it was bought.

What is bought is what is needed by 1 − s (ISO 5077: s as a share of the length before washing): 9 m lie on the table of
10 m that shrink by 10 %.
"""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import table
from planner.cutting.actions.booking import Told
from planner.cutting.claims import claims
from planner.cutting.models import BatchNeed, Lay, LayCloth, LayFact, LayRoll, Marker
from planner.cutting.screens_lay import lay_table
from planner.materials.models import Fabric, Roll, RollFlaw, StockMove
from planner.materials.washed import as_bought_m, left_of_a_metre, on_table_m
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db


@pytest.fixture
def lay(db: None) -> Lay:
    """Five plies of a jersey that shrinks by a tenth and is washed first."""
    the_style()
    Fabric.objects.filter(name="jersey").update(shrinkage_handling="wash_first", shrinkage_length_percent=10)
    return jersey_lay(plies_batch(5))


def tell(lay: Lay, spreads: int, used_m: str, roll: Roll, **more: object) -> table.LayTold:
    told = Told(only_cloth(lay).pk, spreads, Decimal(used_m), roll.pk, **more)  # type: ignore[arg-type]
    return table.tell_lay(lay, [told], None, NOON)


def left_m(roll: Roll) -> Decimal:
    return Roll.objects.with_left().get(pk=roll.pk).left_m


def need_of(lay: Lay) -> BatchNeed:
    return lay.batch.needs.get(fabric_colour=only_cloth(lay).fabric_colour)


def told_form(lay: Lay, spreads: str, used: str, roll: Roll, **more: str) -> dict[str, str]:
    key = f"{only_cloth(lay).pk}-0"
    fields = {"spreads": spreads, "used": used, "roll": str(roll.pk), "note": "", "from": "", "to": ""} | more
    return {f"{name}-{key}": value for name, value in fields.items()}


def plain(answer: object) -> str:
    return answer.content.decode().replace("\N{THIN SPACE}", " ").replace("\N{WORD JOINER}", "")  # type: ignore[attr-defined]


@pytest.mark.parametrize("handling", ["in_pattern", "cut_larger"])
def test_cloth_that_is_not_washed_first_lies_as_it_was_bought(handling: str) -> None:
    fabric = Fabric(shrinkage_handling=handling, shrinkage_length_percent=Decimal(10))
    assert (as_bought_m(Decimal("9.00"), fabric), on_table_m(Decimal(10), fabric)) == (
        Decimal(9),
        Decimal(10),
    )


def test_nine_metres_on_the_table_were_ten_when_bought() -> None:
    fabric = Fabric(shrinkage_handling="wash_first", shrinkage_length_percent=Decimal("10.0"))
    assert left_of_a_metre(fabric) == Decimal("0.9")
    assert (as_bought_m(Decimal("9.00"), fabric), on_table_m(Decimal(10), fabric)) == (
        Decimal(10),
        Decimal(9),
    )
    assert as_bought_m(Decimal("3.35"), fabric) == Decimal("3.72")


def test_what_leaves_the_stock_is_as_much_as_was_bought_for_it(lay: Lay) -> None:
    roll = roll_of(only_cloth(lay))
    done = tell(lay, 5, "4.50", roll)
    assert (done.used_m, done.booked_m) == (Decimal("4.50"), Decimal("5.00"))
    assert left_m(roll) == 15
    assert need_of(lay).taken == 5
    assert only_cloth(lay).used_m == Decimal("4.50")


def test_all_cut_as_planned_the_need_is_what_it_was(lay: Lay) -> None:
    """What was needed as bought is what left the stock, but for the allowance for flaws and hundredths."""
    roll, planned = roll_of(only_cloth(lay)), need_of(lay)
    length_mm = lay.marker.length_mm + 2 * lay.end_allowance_mm
    laid_m = Decimal(repr(5 * length_mm / 1000)).quantize(Decimal("0.01"))
    flaws = 1 + Fabric.objects.get(name="jersey").damage_percent / 100
    tell(lay, 5, str(laid_m), roll)
    assert need_of(lay).taken * flaws == pytest.approx(planned.need, abs=Decimal("0.02"))
    key = next(key for key in claims(lay.batch).met if getattr(key, "fabric", "") == "jersey")
    assert claims(lay.batch).met[key] == need_of(lay).taken


def test_taken_back_just_as_much_is_in_the_stock_again_though_the_cloth_is_said_to_shrink_less(
    lay: Lay,
) -> None:
    roll = roll_of(only_cloth(lay))
    tell(lay, 5, "3.35", roll)
    assert left_m(roll) == Decimal("16.28")
    Fabric.objects.update(shrinkage_length_percent=5)
    back = table.take_fact_back(LayFact.objects.get(), None, NOON)
    assert (back.used_m, back.booked_m) == (Decimal("3.35"), Decimal("3.72"))
    assert (left_m(roll), need_of(lay).taken) == (20, 0)


def test_what_was_told_before_that_was_kept_is_put_back_as_it_was_booked(lay: Lay) -> None:
    roll = roll_of(only_cloth(lay))
    tell(lay, 5, "4.50", roll)
    LayFact.objects.update(booked_m=None)
    StockMove.objects.filter(reason=StockMove.Reason.CUT).update(quantity=Decimal("-4.50"))
    table.take_cut_back(lay, None, NOON)
    assert left_m(roll) == 20


def test_flaws_are_told_as_they_lie_on_the_table_and_kept_as_bought(lay: Lay) -> None:
    """Of a flaw noted 6 to 7 m from the end 1 m is left before it once 4.5 m, 5 as bought, are cut off."""
    roll = roll_of(only_cloth(lay))
    RollFlaw.objects.create(roll=roll, from_m=Decimal(6), to_m=Decimal(7))
    tell(lay, 5, "4.50", roll, flaws=((Decimal("1.80"), Decimal("2.25")),))
    assert sorted(roll.flaws.values_list("from_m", "to_m")) == [(1, 2), (Decimal("2.00"), Decimal("2.50"))]
    table.take_fact_back(LayFact.objects.get(), None, NOON)
    assert (6, 7) in roll.flaws.values_list("from_m", "to_m")


def test_a_flaw_is_told_as_it_lies_on_the_table(maker_client: Client, lay: Lay) -> None:
    """On washed cloth a flaw noted up to 0.6 m ends at 0.54 m; the roll's own page is as bought, and says so."""
    cloth = only_cloth(lay)
    roll = roll_of(cloth)
    LayRoll.objects.create(lay_cloth=cloth, roll=roll, spreads=5)
    RollFlaw.objects.create(roll=roll, from_m=Decimal("0.55"), to_m=Decimal("0.60"))
    page = plain(maker_client.get(reverse("lay-detail", args=[lay.batch.number, lay.number])))
    assert (
        "R9: flaw 0.5–0.54 m from its end, washed (0.55–0.6 m as bought); begin the 1st ply at 0.54 m" in page
    )
    assert f"so that {form_used(page)} m come off the roll" in page
    for name, pk in (("roll-detail", roll.pk), ("colour-stock", roll.fabric_colour_id)):
        said = plain(maker_client.get(reverse(name, args=[pk])))
        assert (
            "All measures here are as bought. Of cloth that is washed by now divide a length of it by 0.9."
            in said
        )
    Fabric.objects.update(shrinkage_handling="cut_larger")
    assert "as bought" not in plain(maker_client.get(reverse("roll-detail", args=[roll.pk])))


def test_why_no_piece_is_long_enough_is_told_as_it_lies_and_of_all_of_the_roll(lay: Lay) -> None:
    """What another lay is promised of a piece is no reason where the whole piece would not do either."""
    cloth = only_cloth(lay)
    LayRoll.objects.create(lay_cloth=cloth, roll=None, spreads=5)
    ply_m = Decimal(repr(lay.marker.length_mm + 2 * lay.end_allowance_mm)) / 1000
    bought_m = ply_m / Decimal("0.9")
    roll = roll_of(cloth, metres=f"{bought_m * Decimal('1.5'):.2f}")
    RollFlaw.objects.create(
        roll=roll, from_m=round(bought_m * Decimal("0.7"), 2), to_m=round(bought_m * Decimal("0.8"), 2)
    )
    second = Lay.objects.get(pk=lay.pk)
    second.pk, second.number = None, 9
    second.marker = Marker.objects.create(key="short", job={}, state="ready", length_mm=float(ply_m) * 400)
    second.save()
    short = LayCloth.objects.create(lay=second, fabric_colour=cloth.fabric_colour, spreads=2)
    LayRoll.objects.create(lay_cloth=short, roll=roll, spreads=2)
    (row,) = Lay.objects.with_rolls().filter(pk=lay.pk)
    (said,) = lay_table(row, "metric").no_piece
    words = said.replace("\N{THIN SPACE}", " ")
    assert words.startswith("R9 has ")
    assert words.partition(" m left")[2].startswith(", washed, but for its flaw from ")
    assert "beside" not in words
    told = [float(figure) for figure in re.findall(r"(\d+\.\d+) m", words)]
    assert told == pytest.approx([share * float(ply_m) for share in (1.5, 0.7, 0.8, 0.7)], abs=0.02)


def form_used(page: str) -> str:
    """The metres that are filled in as used."""
    return page.partition('name="used-')[2].partition('value="')[2].partition(" m")[0]


def test_the_form_asks_by_what_lies_on_the_table(maker_client: Client, lay: Lay) -> None:
    """Of 5 m as bought 4.5 m lie on the table: 4.5 m are taken as they are, 4.9 m are asked about."""
    roll = roll_of(only_cloth(lay), metres="5")
    address = reverse("lay-cut", args=[lay.batch.number, lay.number])
    page = maker_client.get(reverse("lay-detail", args=[lay.batch.number, lay.number]))
    assert "4.5 m left, washed (5.0 m as bought)" in plain(page)
    asked = maker_client.post(address, told_form(lay, "5", "4.9", roll))
    assert asked.status_code == 422
    assert "By the books this roll has 4.5 m on the table." in plain(asked)
    told = maker_client.post(address, told_form(lay, "5", "4.5", roll), follow=True)
    assert "5.00 m (as bought; 4.50 m on the table) have left the stock" in plain(told)
    assert left_m(roll) == 0


def test_what_was_told_is_shown_with_what_was_bought_for_it(maker_client: Client, lay: Lay) -> None:
    tell(lay, 2, "3.60", roll_of(only_cloth(lay)))
    page = maker_client.get(reverse("lay-detail", args=[lay.batch.number, lay.number]))
    assert "3.6 m (4.0 m as bought) from roll R9" in plain(page)
    assert "as it lies on the table, washed" in plain(page)
    needs = maker_client.get(reverse("batch-needs", args=[lay.batch.number]), {"open": "all"})
    assert "3.6 m used (4 m as bought) for 2 plies" in plain(needs)
    assert "4 used for what is cut + " in plain(needs)
