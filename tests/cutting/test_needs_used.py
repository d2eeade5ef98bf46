"""What is cut counts by the metres really used, what is still to cut by the plan: reckoned by hand."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.needs import ClothNeed
from planner.cutting.actions import table
from planner.cutting.actions.booking import Told
from planner.cutting.actions.planning import refresh_needs
from planner.cutting.bill import BillSetting, make_bill
from planner.cutting.marker_store import read_marker
from planner.cutting.models import Batch, Lay, Marker
from planner.cutting.stored import planned_batch
from planner.materials.models import Fabric, Workroom
from tests.cutting.once import once, plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON
from tests.papers.words import all_words

pytestmark = pytest.mark.django_db


@once
def with_twenty_metres() -> Batch:
    """Five plies of jersey, each a marker of 2.36 m and 2 × 2 cm at its ends: 5 × 2.4 = 12 m, nothing for flaws. 20 m
    are on hand."""
    Fabric.objects.update(damage_percent=0)
    made = plies_batch(5)
    lay = jersey_lay(made)
    Marker.objects.filter(pk=lay.marker_id).update(length_mm=2360)
    made.lays.filter(pk=lay.pk).update(end_allowance_mm=20)
    roll_of(only_cloth(lay), metres="20")
    Fabric.objects.update(damage_percent=0)
    refresh_needs(made)
    return made


@pytest.fixture
def batch() -> Batch:
    return with_twenty_metres()


def jersey(batch: Batch) -> ClothNeed:
    return next(need for need in planned_batch(batch).needs.cloths if need.cloth.fabric == "jersey")


def tell(batch: Batch, spreads: int, used_m: str) -> None:
    cloth = only_cloth(jersey_lay(batch))
    told = table.tell_lay(jersey_lay(batch), [Told(cloth.pk, spreads, Decimal(used_m))], None, NOON)
    assert not told.problem
    batch.refresh_from_db()


def test_the_metres_used_count_and_no_more_is_there_than_ever_was(batch: Batch) -> None:
    need = jersey(batch)
    assert (need.need_m, need.in_stock_m, need.cut_m) == (pytest.approx(12), 20, 0)
    for spreads, used_m, needed in (
        (1, "2.60", 12.2),  # 2.6 used, 4 × 2.4 = 9.6 still to cut
        (1, "1.90", 11.7),  # 4.5 used, 3 × 2.4 = 7.2 still to cut
        (3, "8.60", 13.1),  # all is cut
    ):
        tell(batch, spreads, used_m)
        need = jersey(batch)
        assert need.need_m == pytest.approx(needed), used_m
        assert need.in_stock_m == 20
        assert need.to_buy_m == 0


def test_a_part_told_in_two_goes_and_taken_back(batch: Batch) -> None:
    # 2.6 + 5.1 = 7.7 used, 2 × 2.4 = 4.8 still to cut; without the first 5.1 used, 3 × 2.4 = 7.2 to cut.
    tell(batch, 1, "2.60")
    tell(batch, 2, "5.10")
    assert jersey(batch).need_m == pytest.approx(12.5)
    first = only_cloth(jersey_lay(batch)).facts.order_by("pk").first()
    assert first is not None
    assert not table.take_fact_back(first, None, NOON).problem
    assert (jersey(batch).need_m, jersey(batch).in_stock_m) == (pytest.approx(12.3), 20)


def test_what_is_bought_is_what_is_still_to_cut_and_not_there(batch: Batch) -> None:
    # 15 m used for one ply leave 5 m; 9.6 m are still to cut, so 4.6 m are short.
    Fabric.objects.update(pack_quantity=Decimal("0.1"), minimum_quantity=0)
    tell(batch, 1, "15")
    need = jersey(batch)
    assert (need.need_m, need.in_stock_m) == (pytest.approx(24.6), 20)
    assert need.to_buy_m == pytest.approx(4.6)


def test_page_and_bill_say_so(batch: Batch, maker_client: Client) -> None:
    tell(batch, 1, "2.60")
    bill = make_bill(planned_batch(batch), BillSetting("metric", "EUR", open=("all",)))
    line = next(line for line in bill.lines if line.what == "jersey")
    steps = " ".join(line.steps).replace("\N{THIN SPACE}", " ")
    assert "2.6 used for what is cut + 9.6 still to cut = 12.20 m." in steps
    assert "17.4 m on hand + 2.6 cut or taken for this batch = 20.00 m there." in steps
    html = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    rows = html.replace("\N{THIN SPACE}", " ").split("<tr")
    (row,) = [one for one in rows if 'data-label="What"><span>jersey,' in one]
    assert 'data-label="Needed" class="num">12.20 m<' in row
    assert 'data-label="There for it" class="num"><span>17.40 m<' in row
    assert "besides 2.60 m cut for it<" in row
    # The cut sheet tells what is on the shelf as of printing.
    sheet = all_words(maker_client.get(reverse("cut-sheet", args=[batch.number])).content)
    assert "12.20 m 17.40 m nothing" in sheet
    assert "there for it 17.4 + 2.6 cut = 20, nothing short" in sheet
    assert "there for it to buy" in sheet
    assert "in stock" not in sheet


def test_what_is_kept_for_flaws_is_told_of_what_is_still_to_cut_alone(
    batch: Batch, maker_client: Client
) -> None:
    Fabric.objects.update(damage_percent=2)
    refresh_needs(batch)
    assert jersey(batch).how.endswith("lays, with 2\N{NO-BREAK SPACE}% for flaws")
    # 2.6 used + 4 × 2.4 × 1.02 = 12.392
    tell(batch, 1, "2.60")
    assert jersey(batch).need_m == pytest.approx(12.392)
    assert jersey(batch).how.endswith(
        "lays; what is cut by the metres used, the rest with 2\N{NO-BREAK SPACE}% for flaws"
    )
    # 2.6 + 9.9 used: what was lost at flaws is in it.
    tell(batch, 4, "9.90")
    assert jersey(batch).need_m == pytest.approx(12.5)
    assert jersey(batch).how == "all of it is cut: these are the metres used"
    page = maker_client.get(reverse("batch-needs", args=[batch.number])).content.decode()
    (told,) = re.findall(r'bill-how">(All of it is cut[^<]*)<', page)
    assert told == "All of it is cut: these are the metres used."


def test_in_yards_too_the_cut_sheet_tells_as_there_what_the_page_does(
    batch: Batch, maker_client: Client
) -> None:
    Workroom.objects.update(display="imperial")
    tell(batch, 1, "2.61")
    html = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    found = re.search(
        r'data-label="What"><span>jersey,.*?data-label="There for it" class="num"><span>([^<]+)<', html
    )
    assert found
    there = found[1].replace("\N{THIN SPACE}", " ")
    assert there == "19 yd"
    sheet = all_words(maker_client.get(reverse("cut-sheet", args=[batch.number])).content)
    assert f" {there} nothing" in sheet


def lays_told(batch: Batch) -> tuple[list[str], str]:
    """What the bill says of the jersey's lays, and their sum."""
    bill = make_bill(planned_batch(batch), BillSetting("metric", "EUR", open=("all",)))
    line = next(line for line in bill.lines if line.what == "jersey")
    words = [part.words.replace("\N{THIN SPACE}", " ") for part in line.lays]
    sums = [step.replace("\N{THIN SPACE}", " ") for step in line.steps if step.startswith("Lays ")]
    return words, "".join(sums)


def test_the_lays_add_up_with_what_was_used_of_them(batch: Batch) -> None:
    lay = jersey_lay(batch)
    second, cloth, garment = Lay.objects.get(pk=lay.pk), only_cloth(lay), only_cloth(lay).garments.get()
    second.pk, second.number = None, 9
    second.save()
    cloth.pk, cloth.lay, cloth.spreads = None, second, 2
    cloth.save()
    garment.pk, garment.lay_cloth = None, cloth
    garment.save()
    as_planned = "5 plies × (2360 + 2 × 20) mm = 12 m", "2 plies × (2360 + 2 × 20) mm = 4.8 m"
    assert lays_told(batch) == (list(as_planned), "Lays 12 + 4.8 = 16.8 m.")
    # One of five plies took 2.6 m; four of 2.4 m and the other lay's two are still to cut: 9.6 + 4.8 m.
    tell(batch, 1, "2.60")
    words, together = lays_told(batch)
    assert words == [
        "2.6 m used for 1 ply; still to cut 4 plies × (2360 + 2 × 20) mm = 9.6 m",
        as_planned[1],
    ]
    assert together == "Lays 2.6 used for what is cut + 9.6 + 4.8 still to cut = 17 m."
    tell(batch, 4, "10.10")
    words, together = lays_told(batch)
    assert words[0] == "12.7 m used for 5 plies"
    assert together == "Lays 12.7 used for what is cut + 4.8 still to cut = 17.5 m."
    done = table.tell_lay(second, [Told(cloth.pk, 2, Decimal("4.70"))], None, NOON)
    assert not done.problem
    batch.refresh_from_db()
    assert lays_told(batch)[1] == "Lays 12.7 + 4.7 used for what is cut = 17.4 m."


def test_a_length_to_spread_is_rounded_up_on_pages(batch: Batch, maker_client: Client) -> None:
    # Ends such that a ply takes 3043.2 mm: laid 3.04 m it would be 3 mm short.
    lay = jersey_lay(batch)
    marker = read_marker(lay.marker)
    assert marker is not None
    batch.lays.filter(pk=lay.pk).update(end_allowance_mm=(3043.2 - marker.length_mm) / 2)
    for url in (
        reverse("lay-detail", args=[batch.number, lay.number]),
        reverse("batch-detail", args=[batch.number]),
    ):
        assert "<strong>3.05\N{THIN SPACE}m</strong> to spread" in maker_client.get(url).content.decode()
