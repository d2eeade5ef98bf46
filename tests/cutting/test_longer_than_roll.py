"""What is nested longer than a roll of its cloth gives is planned again, as what is longer than the table is."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import arrived, rest_on, settling, table
from planner.cutting.actions.booking import Told
from planner.cutting.models import Batch, CutPlan, Lay, Marker
from planner.cutting.portions import spread_m
from planner.cutting.tasks import roll_batch
from planner.materials.models import Fabric, Workroom
from tests.cutting import once
from tests.cutting.settling_makers import lay_in_rows, waiting_batch
from tests.cutting.table_makers import only_cloth
from tests.cutting.test_anew_weighed import being_cut, lays_of, plan_anew
from tests.cutting.test_table_rest import cut_in_part, put_longer
from tests.factories import NOON, make_order
from tests.sewing.makers import nest_all, the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}
STAYS = "longer than a roll of its cloth gives, and nothing shorter was found"


def by_the_roll(metres: str) -> None:
    """Jersey comes in rolls of so much; nothing of it is kept for flaws."""
    Fabric.objects.filter(name="jersey").update(
        sold_by="roll", pack_quantity=Decimal(metres), damage_percent=0
    )


def jersey_plies(batch: Batch) -> list[float]:
    """The length of a ply of every jersey lay, ends included (mm)."""
    rows = batch.lays.filter(cloths__fabric_colour__fabric__name="jersey").select_related("marker")
    return [(lay.marker.length_mm or 0.0) + 2 * lay.end_allowance_mm for lay in rows]


def ordered(*, roll: str = "2.5", **sizes: int) -> Batch:
    """Not nested yet; the table is far longer than any roll."""
    style = the_style()
    by_the_roll(roll)
    Workroom.the()
    Workroom.objects.update(table_length_mm=6000)
    return waiting_batch(make_order([(style, RIB, "ink", sizes)]))


def test_a_lay_that_comes_out_longer_than_a_roll_is_planned_again_until_all_fit() -> None:
    batch = ordered(roll="2", S=1, M=1, L=1)
    assert batch.lays.filter(cloths__fabric_colour__fabric__name="jersey").count() == 1
    for _ in range(20):
        # Every marker that is asked for comes out a tenth longer than in plain rows, so that all three do not fit.
        lay_in_rows(batch, longer_by=1.1)
        settling.settle(batch.pk)
        if not batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
            break
    assert set(batch.cut_plans.values_list("state", flat=True)) == {CutPlan.State.SETTLED}
    assert len(jersey_plies(batch)) > 1
    assert max(jersey_plies(batch)) <= 2000
    assert sum(row.quantity for row in batch.bundles.all()) == 3


def test_one_garment_longer_than_a_roll_stays_and_says_so(maker_client: Client) -> None:
    batch = ordered(M=1)
    lay_in_rows(batch)
    address = reverse("batch-detail", args=[batch.number])
    assert "longer-than-roll" not in maker_client.get(address).content.decode(), "it fits"
    (lay,) = lays_of(batch, "ink")
    put_longer(lay, 2600.0)
    for _ in range(4):
        settling.settle(batch.pk)
        Marker.objects.filter(state=Marker.State.WAITING).update(state=Marker.State.READY)
    assert [one.pk for one in lays_of(batch, "ink")] == [lay.pk]
    assert not batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists()
    assert Marker.objects.get(pk=lay.marker_id).message
    assert settling.settle(batch.pk) == "nothing to settle"
    page = maker_client.get(address).content.decode()
    assert "longer-than-roll" in page
    assert (
        "longer than a roll of its cloth gives on the table (2.5\N{THIN SPACE}m): no roll that is bought holds"
        in page
    )


def test_what_is_cut_before_it_is_settled_says_what_it_is_too_long_for() -> None:
    batch = ordered(S=2, M=3)
    lay_in_rows(batch)
    lay = lays_of(batch, "ink")[0]
    put_longer(lay, 2600.0)
    rib = batch.lays.get(cloths__fabric_colour__fabric__name="rib")
    told = [Told(cloth.pk, cloth.spreads, spread_m(rib)) for cloth in rib.cloths.all()]
    assert not table.tell_lay(rib, told, None, NOON).problem
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    assert settling.settle(batch.pk) == "cut, so it stays"
    assert Marker.objects.get(pk=lay.marker_id).message == (
        "longer than a roll of its cloth gives, and not divided because a lay of this batch is cut already"
    )


def test_for_what_a_roll_never_gives_it_is_said_and_not_tried_again() -> None:
    batch = being_cut(4000)
    by_the_roll("0.8")
    plan_anew(batch)
    nest_all(batch)
    one = lays_of(batch, "moss")[0]
    Marker.objects.filter(pk=one.marker_id).update(length_mm=799.0)
    before = [lay.number for lay in batch.lays.order_by("number")]
    assert "planned again" not in arrived.cloth_came_in(batch.pk)
    assert Marker.objects.get(pk=one.marker_id).message == STAYS
    assert "planned again" not in arrived.cloth_came_in(batch.pk)
    assert [lay.number for lay in batch.lays.order_by("number")] == before


def test_a_lay_of_a_rest_that_came_out_longer_than_a_roll_is_planned_again() -> None:
    batch = once.plies_batch(5)
    by_the_roll("3")
    lay, planned = cut_in_part(batch, 1)
    first = planned.lays[0]
    assert only_cloth(first).garments.get().per_marker > 1, "several garments of the rest share a marker"
    put_longer(first, 3100.0)
    assert roll_batch.func(batch.pk) == "planned again"
    rests = list(lay.rests.order_by("number"))
    assert first.pk not in {one.pk for one in rests}
    nest_all(batch)
    assert roll_batch.func(batch.pk) != "planned again"
    plies = [
        Marker.objects.get(pk=one.marker_id).length_mm + 2 * one.end_allowance_mm for one in lay.rests.all()
    ]
    assert max(plies) <= 3000


def test_a_rest_whose_only_garment_a_roll_never_gives_stays_and_says_so() -> None:
    batch = once.plies_batch(2)
    by_the_roll("3")
    _, planned = cut_in_part(batch, 1)
    put_longer(planned.lays[0], 3100.0)
    assert roll_batch.func(batch.pk).endswith("spreads short")
    assert Marker.objects.get(pk=planned.lays[0].marker_id).message == STAYS
    assert rest_on.go_on(batch.pk).endswith("spreads short")


def test_face_to_face_a_lay_longer_than_half_a_roll_says_so(maker_client: Client) -> None:
    """Plies of 1.4 m come off a roll of 2.5 m one by one, but not both of a pair."""
    batch = ordered(M=2)
    Fabric.objects.filter(name="jersey").update(lay_open=False, lay_face_to_face=True)
    batch = waiting_batch(make_order([(the_style(), RIB, "ink", {"M": 2})]))
    lay_in_rows(batch)
    (lay,) = lays_of(batch, "ink")
    assert lay.mode == Lay.Mode.FACE_TO_FACE
    put_longer(lay, 1400.0)
    for _ in range(4):
        settling.settle(batch.pk)
        Marker.objects.filter(state=Marker.State.WAITING).update(state=Marker.State.READY)
    assert Marker.objects.get(pk=lay.marker_id).message == STAYS.replace("gives", "gives twice")
    page = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    assert (
        "is longer than half of what a roll of its cloth gives on the table (2.5\N{THIN SPACE}m), which both plies of a"
        " pair come from: no roll that is bought holds" in page
    )
