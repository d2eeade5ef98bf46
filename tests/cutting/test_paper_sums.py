"""Cut sheet and buy list of a planned batch are reopened and reckoned again from the figures printed."""

from __future__ import annotations

import csv
import io
import math
import re
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest

from planner.cutting.buy_papers import buy_list_data
from planner.cutting.buying import what_to_buy
from planner.cutting.models import Batch
from planner.cutting.papers import PaperSetting, cut_sheet_data
from planner.cutting.stored import plan_of, planned_batch
from planner.materials.models import Fabric, FabricColour, Notion, NotionColour, StockMove
from planner.papers.buy_lists import buy_list, buy_list_csv
from planner.papers.cut_lengths import IMPERIAL, sums_of
from planner.papers.cut_sheets import cut_sheet
from planner.papers.data import Heading, LengthRow, LengthTotal
from planner.papers.figures import up
from tests.cutting.once import make_planned_batch
from tests.cutting.test_told_amounts import yards
from tests.factories import NOON, make_order, stock
from tests.papers.words import all_words
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db

SETTING = PaperSetting(Heading("Quay Lane Workroom", "B-0001", "3 March 2026", "20 March 2026"))


@pytest.fixture
def batch() -> Batch:
    """Seven garments in three sizes, flaws in the cloth, waste on every notion, nothing in stock."""
    style = the_style()
    Fabric.objects.update(damage_percent=Decimal(3))
    Notion.objects.update(waste_percent=Decimal(7))
    StockMove.objects.all().delete()
    wanted = [(style, {"neck": "rib band"}, "ink", {"S": 2, "M": 3, "L": 2})]
    return make_planned_batch(make_order(wanted))


def number(text: str) -> Decimal:
    return Decimal(text.replace(" ", ""))


def sheet_words(batch: Batch) -> str:
    read = planned_batch(batch)
    return all_words(cut_sheet(cut_sheet_data(plan_of(read), read.shop, SETTING)))


def test_lengths_to_cut_add_up(batch: Batch) -> None:
    words = sheet_words(batch)
    rows = re.findall(r"(\d+) × ([\d.]+) mm = ([\d.]+) m (\d+) × (\d+) (\w+) (\w+) \(([^)]+)\)", words)
    assert len(rows) == 3
    for count, mm, metres, *_ in rows:
        assert int(count) * Decimal(mm) / 1000 == Decimal(metres)
    assert [Decimal(row[1]) for row in rows] == sorted(Decimal(row[1]) for row in rows)
    assert [row[5] for row in rows] == ["S", "M", "L"]
    found = re.search(r"In all (\d+) lengths = ([\d.]+) m; ([\d.]+) × ([\d.]+) for waste = ([\d.]+) m", words)
    assert found
    lengths, whole, again, factor, need = found.groups()
    assert int(lengths) == sum(int(row[0]) for row in rows) == 14
    assert Decimal(whole) == Decimal(again) == sum(Decimal(row[2]) for row in rows)
    assert (Decimal(again) * Decimal(factor)).quantize(Decimal("0.01"), ROUND_CEILING) == Decimal(need)
    assert f"clear elastic 6 mm {need} m" in words, "and so much is laid ready"


def test_each_length_follows_from_its_seam(batch: Batch) -> None:
    rows = re.findall(
        r"([\d.]+) mm = [\d.]+ m [^(]+\(([\d.]+) mm × ([\d.]+) \+ 2 × ([\d.]+) mm tails\)", sheet_words(batch)
    )
    assert len(rows) == 3
    for length, seam, ratio, tail in rows:
        assert Decimal(seam) * Decimal(ratio) + 2 * Decimal(tail) == Decimal(length)


def test_sizes_add_up_to_the_whole(batch: Batch) -> None:
    found = re.search(r"By size (.+?) = ([\d.]+) m", sheet_words(batch))
    assert found
    parts = [Decimal(part.split()[-1]) for part in found[1].split(" + ")]
    assert sum(parts) == Decimal(found[2])


def test_cloth_follows_from_its_lays(batch: Batch) -> None:
    words = sheet_words(batch)
    lays = re.findall(r"(\d+) (?:ply|plies) × \(([\d.]+) \+ 2 × ([\d.]+)\) mm = ([\d.]+) m", words)
    assert lays
    for plies, marker, end, metres in lays:
        assert int(plies) * (Decimal(marker) + 2 * Decimal(end)) / 1000 == Decimal(metres)
    laid = re.findall(r"Laid ([\d.]+) × ([\d.]+) for flaws = ([\d.]+) m", words)
    assert sum(Decimal(row[0]) for row in laid) == sum(Decimal(row[3]) for row in lays)
    for before, factor, need in laid:
        assert factor == "1.03"
        assert (Decimal(before) * Decimal(factor)).quantize(Decimal("0.01"), ROUND_CEILING) == Decimal(need)


def test_bands_have_their_cut_size(batch: Batch) -> None:
    style = the_style()
    style.pieces.filter(name__contains="band").update(is_band=True)
    batch.snapshots.clear()  # the style as it is now
    read = planned_batch(batch)
    rows = [row for row in cut_sheet_data(plan_of(read), read.shop, SETTING).lengths if row.width_mm]
    assert rows
    words = all_words(cut_sheet(cut_sheet_data(plan_of(read), read.shop, SETTING)))
    for row in rows:
        told = f"{row.count} × {row.style} {row.size} {row.length_mm:.0f} × {row.width_mm:.0f} mm"
        assert told in words


def test_the_buy_list_adds_up(batch: Batch) -> None:
    read = planned_batch(batch)
    data = buy_list_data(read.needs, read.shop, SETTING)
    words = all_words(buy_list(data))
    head, *rows = csv.reader(io.StringIO(buy_list_csv(data).decode("utf-8-sig"), newline=""))
    assert len(rows) == len(data.lines) > 2
    total = Decimal(0)
    for cells in rows:
        row = dict(zip(head, cells, strict=True))
        places = Decimal("0.01") if row["unit"] == "m" and number(row["need"]) < 100 else Decimal(1)
        rounding = ROUND_HALF_UP if row["unit"] == "pcs" else ROUND_CEILING
        assert (number(row["before waste"]) * number(row["factor"])).quantize(places, rounding) == number(
            row["need"]
        )
        there = number(row["there for it"]) + number(row["besides"])
        assert number(row["short"]) == max(number(row["need"]) - there, 0)
        assert number(row["packs"]) * number(row["pack holds"]) == number(row["bought"])
        assert there + number(row["bought"]) - number(row["need"]) == number(row["left over"])
        assert number(row["bought"]) >= number(row["short"])
        assert re.sub(r"\s+", " ", row["how"]) in words, "the same reckoning stands on paper"
        total += number(row["price"])
        cost = re.search(r"price ([\d. ]+) × ([\d.]+) = ([\d.]+)$", re.sub(r"\s+", " ", row["how"]))
        assert cost
        packs, each, price = map(number, cost.groups())
        assert packs == number(row["packs"])
        assert (packs * each).quantize(Decimal("0.01")) == price == number(row["price"])
    assert f"{total} EUR" in words


def test_the_list_for_all_batches_tells_the_same(batch: Batch) -> None:
    """One batch is all there is, so both lists buy the same."""
    read, buying = planned_batch(batch), what_to_buy()
    one = buy_list_data(read.needs, read.shop, SETTING)
    every = buy_list_data(buying.needs, buying.shop, SETTING)
    assert [(line.item, line.need, line.to_buy, line.left) for line in one.lines] == [
        (line.item, line.need, line.to_buy, line.left) for line in every.lines
    ]


def test_a_buy_list_in_yards_adds_up_as_it_is_printed(batch: Batch) -> None:
    """What is bought is printed in the column, or for packs in the line beneath."""
    elastic = NotionColour.objects.get(notion__kind="elastic")
    StockMove.objects.create(notion_colour=elastic, quantity=Decimal("0.51"), reason="counted", moved_at=NOON)
    read = planned_batch(batch)
    lines = buy_list_data(read.needs, read.shop, PaperSetting(SETTING.heading, display="imperial")).lines
    lines = [line for line in lines if line.figures.unit == "m"]
    assert any("hold" in line.figures.words for line in lines)
    for line in lines:
        need, stock, short, left = map(yards, (line.need, line.in_stock, line.short, line.left))
        packs = re.match(r"[\d\N{THIN SPACE},]+m hold (.*?)\. In metres", line.figures.words)
        bought = yards(packs[1] if packs else line.to_buy)
        assert (short, left) == (need - stock, stock + bought - need)


def inches(told: str) -> Fraction:
    """ "6 9/16" as a number."""
    return sum((Fraction(part) for part in told.split()), Fraction(0))


def test_a_cut_sheet_in_yards_shows_need_and_stock_as_the_buy_list_does(batch: Batch) -> None:
    """What is there and just enough is not told as less than is needed."""
    need = planned_batch(batch).needs.cloths[0]
    colour = FabricColour.objects.get(fabric__name=need.cloth.fabric, name=need.cloth.colour)
    stock(colour, str(up(need.need_m)), roll="R7")
    read = planned_batch(batch)
    sheet = cut_sheet_data(plan_of(read), read.shop, PaperSetting(SETTING.heading, display="imperial"))
    words = all_words(cut_sheet(sheet))
    found = re.search(rf"{need.cloth.fabric} · {need.cloth.colour} (.+? yd) (.+? yd) (.+? yd) nothing", words)
    assert found
    assert yards(found[2]) <= yards(found[3])


def test_imperial_lengths_are_those_of_a_tape_and_add_up_in_inches_and_yards(batch: Batch) -> None:
    read = planned_batch(batch)
    setting = PaperSetting(SETTING.heading, display="imperial")
    words = all_words(cut_sheet(cut_sheet_data(plan_of(read), read.shop, setting)))
    words = words[words.index("Elastic and tape to cut") :]
    assert not re.search(r"\d\.\d+ in\b", words)
    assert " mm" not in words.partition("Bands: cut size")[0].partition("In all")[0].replace(
        "elastic 6 mm", ""
    )
    tape = r"([\d/ ]+?) in"
    rows = re.findall(rf"(\d+) × {tape} = {tape}", words)
    assert len(rows) == 3
    for count, each, together in rows:
        assert int(count) * inches(each) == inches(together)
    found = re.search(rf"= {tape}; {tape} ÷ 36 × ([\d.]+) for waste = ([^;]+? yd), rounded up", words)
    assert found
    whole, again, factor, need = found.groups()
    assert inches(whole) == inches(again) == sum(inches(row[2]) for row in rows)
    assert math.ceil(inches(again) / 36 * Fraction(factor) * 8) == yards(need) * 8
    assert re.search(rf"{tape} × {tape}", words[words.index("Bands: cut size") :])
    assert "to the sixteenth of an inch" in words


def test_where_the_sixteenths_lead_to_another_need_it_is_that_of_the_exact_lengths() -> None:
    """120 lengths of 129.3 mm are 610.87 in, 16.97 yd, up 17; in sixteenths 5 1/16 they are 607.5, 16.875 yd."""
    row = LengthRow("elastic", "110", "M", "shoulder", 129.3, None, 120, "")
    sums = sums_of([row], LengthTotal("elastic", 0.0, 120 * 0.1293), IMPERIAL)
    assert (sums.together, sums.need, sums.is_of_exact) == (Decimal("607.5"), Decimal(17), True)
