"""A plan made with other figures of the workroom says so, and is planned anew by a button; lays too long say it too."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.lays.wishes import facts_from_json, facts_to_json
from planner.cutting.actions import found_since
from planner.cutting.cut_plans import facts_of
from planner.cutting.demand import batch_demand
from planner.cutting.figures_since import are_others_now
from planner.cutting.models import Batch, CutPlan
from planner.cutting.stored import shop_of
from planner.materials.models import Fabric, Workroom
from tests.cutting.once import settled, waiting_batch
from tests.factories import make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
BUTTON = "Plan it anew as things are now"


@pytest.fixture
def batch() -> Batch:
    Workroom.the()
    Workroom.objects.update(most_plies=2)
    return settled(waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 4})])))


def page(client: Client, batch: Batch) -> str:
    html = client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    return html.replace("\N{THIN SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")


def jersey(batch: Batch) -> CutPlan:
    return batch.cut_plans.get(fabric__name="jersey")


def test_it_says_with_what_it_was_planned_until_it_is_planned_anew(
    maker_client: Client, helper_client: Client, batch: Batch
) -> None:
    assert "Planned when" not in page(maker_client, batch)
    Workroom.objects.update(most_plies=6)
    said = "Planned when the tool cut 2 plies of it (6 now). What is told here goes by that."
    html = page(maker_client, batch)
    assert said in html
    assert BUTTON in html
    assert said in page(helper_client, batch)
    assert BUTTON not in page(helper_client, batch)
    # What it says of itself stays that of then: why not fewer lays is told with the plies it was planned with.
    before = jersey(batch).facts
    found_since.look_again(batch.pk)
    assert jersey(batch).facts == before
    maker_client.post(reverse("plan-again", args=[batch.number, jersey(batch).pk]))
    assert jersey(batch).state == CutPlan.State.QUICK
    settled(batch)
    assert jersey(batch).state == CutPlan.State.SETTLED
    now = facts_of(jersey(batch))
    assert now is not None
    assert now.made_with is not None
    assert (now.made_with.plies, now.most_layers) == (6, 6)
    assert "Planned when" not in page(maker_client, batch).split("How the rib is laid")[0]


def test_each_figure_that_is_another_is_named(maker_client: Client, batch: Batch) -> None:
    Workroom.objects.update(table_length_mm=4321, lay_minutes=33)
    Fabric.objects.filter(name="jersey").update(price=Decimal("99"))
    html = page(maker_client, batch)
    assert "the table was 4.0 m long (4.32 m now)" in html
    assert "laying and cutting took other minutes or cost otherwise" in html
    assert "the cloth cost otherwise" in html
    assert "repeat" not in html.split("Planned when")[1].split(".")[0]


def test_a_repeat_that_is_another_is_named_and_planned_with_anew(maker_client: Client, batch: Batch) -> None:
    Fabric.objects.filter(name="jersey").update(repeat_length_mm=Decimal(60))
    assert "Planned when the cloth had no repeat (a repeat of 6 cm along now)." in page(maker_client, batch)
    assert BUTTON in page(maker_client, batch)
    maker_client.post(reverse("plan-again", args=[batch.number, jersey(batch).pk]))
    settled(batch)
    html = page(maker_client, batch)
    assert "Planned when" not in html.split("How the rib is laid")[0]
    Fabric.objects.filter(name="jersey").update(repeat_length_mm=Decimal(50))
    said = "Planned when the cloth had a repeat of 6 cm along (a repeat of 5 cm along now)."
    assert said in page(maker_client, batch)


def test_plans_of_earlier_versions_say_nothing_of_it(batch: Batch) -> None:
    facts = facts_of(jersey(batch))
    assert facts is not None
    written = facts_to_json(facts)
    assert facts_from_json(written) == facts
    del written["made_with"]["repeats"]
    earlier = facts_from_json(written)
    assert earlier.made_with is not None
    assert earlier.made_with.repeats is None
    Fabric.objects.filter(name="jersey").update(repeat_length_mm=Decimal(60))
    shop = shop_of(batch, batch_demand(batch))
    assert are_others_now(facts, "jersey", shop)
    assert not are_others_now(earlier, "jersey", shop)
    del written["made_with"]
    assert facts_from_json(written).made_with is None


def test_lays_longer_than_the_table_are_not_said_to_be_ready(maker_client: Client, batch: Batch) -> None:
    assert 'id="too-long"' not in page(maker_client, batch)
    Workroom.objects.update(table_length_mm=600)
    html = page(maker_client, batch)
    assert 'id="too-long"' in html
    assert " longer than the table (0.6 m). Have " in html
    assert "longer than the table." in html.split("<h2")[0]
