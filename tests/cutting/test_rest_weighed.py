"""The rest of a lay is planned anew only where that is really cheaper than its own marker, or this cannot be used."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.units import format_length
from planner.cutting.actions import rest, table
from planner.cutting.actions.booking import Told
from planner.cutting.models import Batch, Lay, Marker
from planner.materials.models import Fabric, RollFlaw, Workroom
from tests.cutting import once
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON, make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}


def plain(text: str) -> str:
    return text.replace("\N{THIN SPACE}", " ")


def tell(lay: Lay, spreads: int, used_m: str) -> None:
    told = [Told(only_cloth(lay).pk, spreads, Decimal(used_m))]
    assert not table.tell_lay(lay, told, None, NOON).problem


def spread_m(lay: Lay) -> float:
    return float(lay.marker.length_mm + 2 * lay.end_allowance_mm) / 1000


def to_spread(lay: Lay) -> str:
    """What a ply takes, as its page and its ticket tell it."""
    return plain(format_length(spread_m(lay) * 1000, at_least=True))


@pytest.fixture
def batch() -> Batch:
    """Two plies of one marker with several garments of three sizes."""
    Workroom.the()
    Workroom.objects.update(most_plies=2)
    order = make_order([(the_style(), RIB, "ink", {"S": 2, "M": 4, "L": 4})])
    return once.settled(once.waiting_batch(order))


@pytest.fixture
def begun(batch: Batch) -> Lay:
    """One ply is cut, for which nearly twice the cloth was used."""
    lay = jersey_lay(batch)
    assert (only_cloth(lay).spreads, only_cloth(lay).garments.count()) == (2, 3), (
        "the plan is not what is expected"
    )
    tell(lay, 1, f"{spread_m(lay) * 1.7:.2f}")
    return lay


def test_the_ply_left_is_cut_from_the_marker_there_is(begun: Lay) -> None:
    before = list(begun.batch.bundles.values_list("number", "token", "quantity", "lay").order_by("pk"))
    planned = rest.replan_rest(begun, None, NOON, if_better=True)
    assert plain(planned.stays).startswith(
        f"Lay {begun.number} goes on with its own marker, so nothing was changed: the 1 ply left takes"
        f" {to_spread(begun)}, as nested; "
    )
    assert (planned.lays, planned.problem) == ((), "")
    begun.refresh_from_db()
    assert (begun.cut_at, begun.rests.count()) == (None, 0)
    assert (
        list(begun.batch.bundles.values_list("number", "token", "quantity", "lay").order_by("pk")) == before
    )


def test_ended_all_the_same_the_rest_takes_no_more_and_says_so(begun: Lay) -> None:
    """Formerly cloth spoilt at the lay made its estimates so short that others seemed to take less."""
    other = once.make_planned_batch(make_order([(the_style(), RIB, "ink", {"M": 2})]))
    pairs = Marker.objects.filter(lays__batch=other)
    pairs.update(state=Marker.State.READY, efficiency=0.6, length_mm=None, placements=None)
    planned = rest.replan_rest(begun, None, NOON)
    (new,) = planned.lays
    assert new.marker.key == begun.marker.key
    assert plain(planned.why) == (f"{to_spread(begun)}, as much as with the marker of lay {begun.number}")


def test_nested_lengths_that_are_really_cheaper_are_taken(db: None) -> None:
    several = once.plies_batch(5)
    lay = jersey_lay(several)
    tell(lay, 3, "2.50")
    Marker.objects.filter(pk=lay.marker_id).update(length_mm=3000.0)
    guessed = rest.replan_rest(lay, None, NOON)
    (new,) = guessed.lays
    assert only_cloth(new).spreads == 1, "two garments share a marker"
    own = Marker.objects.get(pk=new.marker_id)
    assert rest.take_rest_back(lay) == ""
    # Nobody has nested it: it stays.
    Marker.objects.filter(key=own.key).delete()
    stays = plain(rest.replan_rest(lay, None, NOON, if_better=True).stays)
    assert "planned anew it would be about " in stays
    assert "cheaper, but as a guess that nobody has nested." in stays
    # As soon as it is nested, it is taken.
    own.pk, own.state = None, Marker.State.READY
    own.length_mm = 3500.0
    own.save()
    planned = rest.replan_rest(lay, None, NOON, if_better=True)
    less = (2 * 3000 - 3500 + 2 * lay.end_allowance_mm) / 1000
    assert plain(planned.why).endswith(f"{less:g} m less than with the marker of lay {lay.number}")
    assert [only_cloth(one).spreads for one in planned.lays] == [1]


def test_a_marker_for_which_no_cloth_is_long_enough_is_given_up(begun: Lay) -> None:
    each = spread_m(begun)
    roll = roll_of(only_cloth(begun), "R1", f"{each * 1.5:.2f}")
    RollFlaw.objects.create(
        roll=roll, from_m=Decimal(f"{each * 0.75:.2f}"), to_m=Decimal(f"{each * 0.75 + 0.02:.2f}")
    )
    planned = rest.replan_rest(begun, None, NOON, if_better=True)
    assert (planned.stays, planned.problem) == ("", "")
    assert (
        f"but that takes {to_spread(begun)} in one piece, and no cloth for it in stock is longer than"
        in plain(planned.why)
    )
    assert len(planned.lays) > 1
    longest = max(one.estimated_length_mm + 2 * one.end_allowance_mm for one in planned.lays)
    assert longest <= each * 760
    assert planned.garments == 5


def test_on_the_page_it_is_told_and_can_be_ended_all_the_same(maker_client: Client, begun: Lay) -> None:
    address = reverse("lay-rest", args=[begun.batch.number, begun.number])
    page = maker_client.post(address, follow=True).content.decode()
    assert f"Lay {begun.number} goes on with its own marker" in page
    assert "End it here all the same" in page
    assert not begun.rests.exists()
    page = maker_client.post(address, {"anyway": "yes"}, follow=True).content.decode()
    assert "The rest, 5 garments, is lay" in page
    assert f"with the marker of lay {begun.number}." in page
    assert begun.rests.exists()


def test_cloth_without_a_price_counts_where_the_rest_is_weighed() -> None:
    """Formerly nothing but the work counted then, and 2.5 m were cut more to mark a few pieces less."""
    several = once.plies_batch(5)
    Fabric.objects.update(price=0)
    # The plan of two garments a marker has more to mark, which is slow here, and a ply less to lay, which is quick.
    Workroom.objects.update(mark_minutes=2, spread_minutes=Decimal("0.1"), spread_metre_minutes=0)
    lay = jersey_lay(several)
    tell(lay, 3, "2.50")
    Marker.objects.filter(pk=lay.marker_id).update(length_mm=3000.0)
    (new,) = rest.replan_rest(lay, None, NOON).lays
    own = Marker.objects.get(pk=new.marker_id)
    assert rest.take_rest_back(lay) == ""
    Marker.objects.filter(key=own.key).delete()
    # What is told is what is paid: there is more work, and the cloth costs nothing.
    stays = plain(rest.replan_rest(lay, None, NOON, if_better=True).stays)
    assert "dearer, as a guess that nobody has nested." in stays
    own.pk, own.state, own.length_mm = None, Marker.State.READY, 3500.0
    own.save()
    assert [only_cloth(one).spreads for one in rest.replan_rest(lay, None, NOON, if_better=True).lays] == [1]
