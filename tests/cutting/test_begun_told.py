"""What the page of a batch says of lays and bundles once some of it is cut, and of sizes in whatever order."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.spec import ClothKey
from planner.cutting.actions import rest, rolling, table
from planner.cutting.actions.booking import Told
from planner.cutting.buying import what_to_buy
from planner.cutting.lay_papers import lay_papers
from planner.cutting.models import Batch, Lay, LayCloth, LayGarment
from planner.cutting.portions import up_to_cm
from planner.cutting.roll_rows import copies_of
from planner.cutting.short_cloth import short_of_all, short_plies
from planner.cutting.stored import plan_of, planned_batch
from planner.styles.models import Option
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON, make_order, make_style
from tests.sewing.makers import make_planned_batch, nest_all, the_style

pytestmark = pytest.mark.django_db
JERSEY = ClothKey("jersey", "ink")


@pytest.fixture
def batch() -> Batch:
    return plies_batch(5)


def tell(lay: Lay, spreads: int) -> None:
    assert not table.tell_lay(lay, [Told(only_cloth(lay).pk, spreads, Decimal("2.50"))], None, NOON).problem


def cut_in_part(batch: Batch) -> Lay:
    lay = jersey_lay(batch)
    tell(lay, 3)
    assert not rest.replan_rest(lay, None, NOON).problem
    lay.refresh_from_db()
    return lay


def test_the_page_says_what_is_true_of_a_rest_that_is_not_begun(maker_client: Client, batch: Batch) -> None:
    """It stays, but not for cutting of it had begun; and where it can be planned anew."""
    lay = cut_in_part(batch)
    nest_all(batch)
    address = reverse("batch-detail", args=[batch.number])
    html = maker_client.get(address).content.decode()
    assert (
        f"Not begun: the rest of lay {lay.number}. To plan it anew, say on the page of lay {lay.number}"
        in html
    )
    assert "Stays as it is, for cutting has begun." not in html
    assert rest.take_rest_back(lay) == "", "as it is told"
    lay.refresh_from_db()
    assert not rest.replan_rest(lay, None, NOON).problem
    new = lay.rests.get()
    LayCloth.objects.filter(lay=new).update(cut_spreads=0)
    begun = maker_client.get(address).content.decode()
    assert "Stays as it is, for cutting has begun." in begun


def test_a_bundle_tells_how_many_plies_of_a_begun_lay_are_cut(helper_client: Client, batch: Batch) -> None:
    lay = jersey_lay(batch)
    address = reverse("batch-detail", args=[batch.number])
    assert "cut in part" not in helper_client.get(address).content.decode()
    tell(lay, 2)
    assert f"lay {lay.number} cut in part, 2 of 5 plies" in helper_client.get(address).content.decode()

    # Of as many plies for garments with the other neck nothing is cut.
    row, other = only_cloth(lay), batch.bundles.get()
    garment, neck = row.garments.get(), Option.objects.get(detail__name="neck", name="self band")
    plies = LayCloth.objects.create(lay=lay, fabric_colour=row.fabric_colour, spreads=5)
    unlike = LayGarment.objects.create(
        lay_cloth=plies, style=garment.style, colourway=garment.colourway, size=garment.size, per_marker=1
    )
    other.pk, other.number, other.token = None, "B-other", "another"
    other.save()
    other.lays.set([lay])
    for one in (unlike, other):
        one.options.set([neck])
    rows = helper_client.get(address).context["bundles"]
    assert [row.where.partition(" · ")[2] for row in rows] == [
        f"lay {lay.number} cut in part, 2 of 5 plies",
        "not cut yet",
    ]


def test_sizes_of_several_styles_stand_from_small_to_large_on_page_and_ticket(maker_client: Client) -> None:
    """Style by style they would stand L, XS."""
    styles = the_style(), make_style("130", sizes="XS S M")
    lines = [
        (styles[0], {"neck": "self band"}, "ink", {"L": 1}),
        (styles[1], {"neck": "self band"}, "ink", {"XS": 1}),
    ]
    batch = make_planned_batch(make_order(lines))
    answer = maker_client.get(reverse("batch-detail", args=[batch.number]))
    (shown,) = [lay.sizes for lay in answer.context["lays"]]
    assert shown == (("XS", 1), ("L", 1))
    read = planned_batch(batch)
    (printed,) = [lay.size_counts for lay in lay_papers(plan_of(read), read.shop)]
    assert printed == shown


def test_plies_cut_of_those_to_be_bought_are_bought_no_more(batch: Batch) -> None:
    """Of five plies of which none had a roll three are cut from one that came in: two are still to be bought."""
    assert rolling.assign_rolls(batch).short
    lay = jersey_lay(batch)
    ply_m = Decimal(repr((lay.marker.length_mm or 0) + 2 * lay.end_allowance_mm)) / 1000
    metres = up_to_cm(3 * ply_m)
    roll = roll_of(only_cloth(lay), metres=str(metres))
    told = table.tell_lay(lay, [Told(only_cloth(lay).pk, 3, metres, roll.pk)], None, NOON)
    assert not told.problem
    batch.refresh_from_db()
    read = planned_batch(batch)
    assert [one.plies for one in short_plies(read.lays)[JERSEY]] == [2]
    assert [one.plies for one in short_of_all()[JERSEY]] == [2]
    for needs in (read.needs, what_to_buy().needs):
        need = next(need for need in needs.cloths if need.cloth == JERSEY)
        assert 2 * ply_m <= Decimal(repr(need.to_buy_m)) < 2 * ply_m + Decimal("0.2")
        assert "5 plies" not in need.how


def test_a_lay_waits_for_no_cloth_that_is_cut_already(batch: Batch) -> None:
    """Its plies in another colour have their roll, and those that had none are cut."""
    rolling.assign_rolls(batch)
    lay = jersey_lay(batch)
    moss = copies_of([(only_cloth(lay), 0)])[0]
    moss.spreads = 2
    moss.save()
    assert Lay.objects.waiting().filter(pk=lay.pk).exists()
    before = rolling.short_now(batch)
    ink = lay.cloths.exclude(pk=moss.pk).get()
    assert not table.tell_lay(lay, [Told(ink.pk, 5, Decimal("12.50"))], None, NOON).problem
    assert lay.cut_at is None
    assert not Lay.objects.waiting().filter(pk=lay.pk).exists()
    assert not Lay.objects.with_turn().get(pk=lay.pk).waits
    assert rolling.short_now(batch) == before - 5
