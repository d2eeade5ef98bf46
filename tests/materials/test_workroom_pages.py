"""Suppliers and the habits of the workroom."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.materials.models import Supplier, Workroom
from tests.answers import assert_all_refused, in_few_forms
from tests.factories import make_fabric, make_supplier

pytestmark = pytest.mark.django_db


def workroom_data(**changed: str) -> dict[str, str]:
    """A workroom form filled in as a person would."""
    return {
        "name": "Thimble Lane",
        "display": "imperial",
        "paper": "Letter",
        "currency": "usd",
        "labour_rate_per_hour": "$ 22.50",
        "overhead_percent": "12 %",
        "margin_percent": "60",
        "table_length_mm": "4 m",
        "most_plies": "4",
        "piece_gap_mm": "3 mm",
        "cut_thickness_mm": "12 mm",
        "keep_remnant_m": "40 cm",
        "lay_minutes": "12",
        "spread_minutes": "1,5",
        "spread_metre_minutes": "0.25",
        "mark_minutes": "2",
        "cut_minutes": "3.75",
        "bundle_size": "8",
        "lead_days": "6",
        **changed,
    }


def test_the_workroom_is_kept(maker_client: Client) -> None:
    assert maker_client.post(reverse("workroom"), workroom_data()).status_code == 302
    room = Workroom.the()
    assert (room.name, room.display, room.paper, room.currency) == (
        "Thimble Lane",
        "imperial",
        "Letter",
        "USD",
    )
    assert (room.labour_rate_per_hour, room.margin_percent) == (Decimal("22.50"), Decimal("60.0"))
    assert (room.table_length_mm, room.piece_gap_mm) == (Decimal("4000"), Decimal("3"))
    assert (room.most_plies, room.bundle_size, room.lead_days) == (4, 8, 6)
    assert (room.cut_thickness_mm, room.keep_remnant_m) == (Decimal("12"), Decimal("0.40"))
    minutes = (
        room.lay_minutes,
        room.spread_minutes,
        room.spread_metre_minutes,
        room.mark_minutes,
        room.cut_minutes,
    )
    assert minutes == (Decimal("12"), Decimal("1.5"), Decimal("0.25"), Decimal("2"), Decimal("3.75"))


def test_how_thick_the_tool_cuts_may_stay_unknown(maker_client: Client) -> None:
    assert maker_client.post(reverse("workroom"), workroom_data(cut_thickness_mm="")).status_code == 302
    assert Workroom.the().cut_thickness_mm is None


WRONG_HABITS = (
    ("margin_percent", "100 %", "at most 95 %"),
    ("most_plies", "0", "at least 1"),
    ("most_plies", "1.5", "whole number"),
    ("bundle_size", "-2", "less than nothing"),
    ("table_length_mm", "short", "is not a length"),
    ("table_length_mm", "1 cm", "at least 0.3 m"),
    ("piece_gap_mm", "1 m", "at most 100 mm"),
    ("cut_thickness_mm", "0", "at least 0.1 mm"),
    ("keep_remnant_m", "-1", "less than nothing"),
    ("lay_minutes", "long", "is not a number"),
    ("spread_minutes", "", "Please fill this in."),
    ("cut_minutes", "1000", "at most 600"),
    ("currency", "gold", "three letters of a currency"),
    ("currency", "€", "three letters of a currency"),
    ("labour_rate_per_hour", "a lot", "is not a number"),
    ("display", "cubits", "choose one of the list"),
    ("name", "x" * 81, "At most 80 letters"),
)


def test_a_wrong_habit_is_answered_at_its_field(maker_client: Client) -> None:
    for wrong in in_few_forms(WRONG_HABITS):
        typed = {field: habit for field, habit, _ in wrong}
        assert_all_refused(maker_client.post(reverse("workroom"), workroom_data(**typed)), wrong)
        assert Workroom.the().name == "My workroom"


def test_helpers_do_not_see_the_workroom(helper_client: Client) -> None:
    assert helper_client.get(reverse("workroom")).status_code == 403
    assert reverse("workroom") not in helper_client.get(reverse("fabric-list")).content.decode()


def test_a_supplier_is_noted_changed_and_deleted(maker_client: Client) -> None:
    maker_client.post(reverse("supplier-new"), {"name": "Weaver's Yard", "contact": "by letter"})
    supplier = Supplier.objects.get()
    change = reverse("supplier-change", args=[supplier.pk])
    maker_client.post(change, {"name": "Weavers' Yard", "contact": "by letter"})
    assert "Weavers&#x27; Yard" in maker_client.get(reverse("supplier-list")).content.decode()
    maker_client.post(reverse("supplier-delete", args=[supplier.pk]))
    assert not Supplier.objects.exists()


def test_a_supplier_of_something_stays_and_says_why(maker_client: Client) -> None:
    supplier = make_supplier("Loom End")
    make_fabric("voile", supplier=supplier)
    answer = maker_client.post(reverse("supplier-delete", args=[supplier.pk]), follow=True)
    assert "Loom End cannot be deleted: it is held by cloth (voile)." in answer.content.decode()


def test_a_second_supplier_of_one_name_is_refused(maker_client: Client) -> None:
    make_supplier("Loom End")
    answer = maker_client.post(reverse("supplier-new"), {"name": "loom end", "contact": ""})
    assert "already" in answer.context["form"].errors["name"][0]
