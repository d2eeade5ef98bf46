"""A cloth that was changed after lays were planned for it: told beside the plan, and lays wider than it are no lays."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.lays.wishes import facts_from_json, facts_to_json
from planner.cutting.actions import anew, settling, table
from planner.cutting.actions.booking import Told
from planner.cutting.cut_plans import facts_of
from planner.cutting.demand import batch_demand
from planner.cutting.figures_since import are_others_now, lies_otherwise
from planner.cutting.models import Batch, CutPlan
from planner.cutting.narrow_cloth import too_wide_in_words, wider_than_cloth
from planner.cutting.portions import spread_m
from planner.cutting.stored import shop_of
from planner.materials.models import Fabric
from tests.cutting import once
from tests.cutting.settling_makers import settled
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON, make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
BUTTON = "Plan it anew as things are now"


@pytest.fixture
def batch() -> Batch:
    """One lay of jersey and one of rib."""
    return once.settled(
        once.waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 1, "M": 1, "L": 1})]))
    )


def page(client: Client, batch: Batch, lay: int = 0) -> str:
    address = (
        reverse("lay-detail", args=[batch.number, lay])
        if lay
        else reverse("batch-detail", args=[batch.number])
    )
    html = client.get(address).content.decode()
    return html.replace("\N{THIN SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")


def narrower(by_mm: int) -> None:
    cloth = Fabric.objects.get(name="jersey")
    cloth.full_width_mm -= by_mm
    cloth.save()


def jersey(batch: Batch) -> CutPlan:
    return batch.cut_plans.get(fabric__name="jersey")


def widths(batch: Batch) -> tuple[str, str]:
    """How wide the lay of jersey is, and how wide its cloth, in words."""
    cloth = Fabric.objects.get(name="jersey")
    usable = cloth.full_width_mm - 2 * cloth.selvedge_mm
    return f"{jersey_lay(batch).lay_width_mm / 10:.0f} cm", f"{float(usable) / 10:.0f} cm"


def test_a_lay_wider_than_its_cloth_is_not_said_to_be_ready(helper_client: Client, batch: Batch) -> None:
    number = jersey_lay(batch).number
    for html in (page(helper_client, batch), page(helper_client, batch, number)):
        assert 'id="too-wide"' not in html
    narrower(80)
    lay, now = widths(batch)
    said = f"Lay {number} is laid {lay} wide, but jersey is {now} now, less its selvedges."
    html = page(helper_client, batch)
    assert said in html
    assert "1 is wider than the cloth is now." in html.split("<h2")[0]
    assert said in page(helper_client, batch, number)
    other = 3 - number
    assert 'id="too-wide"' not in page(helper_client, batch, other)


def test_what_is_cut_or_lies_on_it_all_the_same_is_not_named(batch: Batch) -> None:
    def told() -> tuple[list[int], str]:
        shop = shop_of(batch, batch_demand(batch))
        lays = list(batch.lays.with_everything())
        return wider_than_cloth(lays, shop.cloths), too_wide_in_words(lays, shop.cloths, "metric")

    Fabric.objects.update(full_width_mm=3000)
    assert told() == ([], "")
    Fabric.objects.update(full_width_mm=200)
    assert told()[0] == [1, 2]
    batch.lays.update(cut_at=NOON)
    assert told() == ([], "")


def test_how_the_cloth_lay_is_told_beside_the_plan_and_planned_anew_as_it_lies_now(
    maker_client: Client, batch: Batch
) -> None:
    old = jersey_lay(batch).lay_width_mm
    narrower(80)
    lay, now = widths(batch)
    html = page(maker_client, batch)
    assert f"Planned when the cloth lay {lay} wide ({now} now). What is told here goes by that." in html
    assert html.count(BUTTON) == 1
    maker_client.post(reverse("plan-again", args=[batch.number, jersey(batch).pk]))
    settled(batch)
    assert jersey_lay(batch).lay_width_mm == old - 80, "though the old lay, on wider cloth, took less of it"
    html = page(maker_client, batch)
    assert 'id="too-wide"' not in html
    assert "Planned when" not in html


def test_whatever_else_of_the_cloth_its_lays_hang_on_is_named(
    maker_client: Client, batch: Batch, subtests: pytest.Subtests
) -> None:
    for change, said in (
        ({"one_way": False}, "its pieces lay one way only (either way up now)"),
        ({"lay_open": False, "lay_folded": True}, "it could be laid open (folded now)"),
        ({"shades": True}, "it did not shade (it does now)"),
        (
            {"shrinkage_handling": "cut_larger", "shrinkage_length_percent": 5},
            "its pieces were cut to another size for what it shrinks",
        ),
    ):
        cloth = Fabric.objects.get(name="jersey")
        Fabric.objects.filter(pk=cloth.pk).update(**change)
        with subtests.test(said):
            assert said in page(maker_client, batch)
        cloth.save()
    # Nor are pieces that are to be cut larger cut from the old lay.
    before = jersey_lay(batch).marker_id
    Fabric.objects.filter(name="jersey").update(
        shrinkage_handling="cut_larger", shrinkage_length_percent=5, shrinkage_width_percent=5
    )
    maker_client.post(reverse("plan-again", args=[batch.number, jersey(batch).pk]))
    settled(batch)
    assert jersey_lay(batch).marker_id != before


def test_lengths_told_anew_do_not_hide_that_the_cloth_is_another(batch: Batch) -> None:
    narrower(80)
    marker = jersey_lay(batch).marker
    marker.length_mm *= 0.9
    marker.save(update_fields=["length_mm"])
    settling.settle(batch.pk)
    shop = shop_of(batch, batch_demand(batch))
    assert lies_otherwise(facts_of(jersey(batch)), "jersey", shop)


def test_plans_of_earlier_versions_say_nothing_of_it(batch: Batch) -> None:
    facts = facts_of(jersey(batch))
    assert facts is not None
    written = facts_to_json(facts)
    assert facts_from_json(written) == facts
    del written["made_with"]["laid"]
    earlier = facts_from_json(written)
    narrower(80)
    shop = shop_of(batch, batch_demand(batch))
    assert are_others_now(facts, "jersey", shop)
    assert not are_others_now(earlier, "jersey", shop)


def test_and_have_lays_wider_than_the_cloth_planned_anew_all_the_same(
    maker_client: Client, batch: Batch
) -> None:
    old = jersey_lay(batch).lay_width_mm
    plan = jersey(batch)
    del plan.facts["made_with"]["laid"]
    plan.save()
    assert BUTTON not in page(maker_client, batch)
    narrower(80)
    html = page(maker_client, batch)
    assert "Planned when the cloth was wider. What is told here goes by that." in html
    assert BUTTON in html
    maker_client.post(reverse("plan-again", args=[batch.number, plan.pk]))
    settled(batch)
    assert jersey_lay(batch).lay_width_mm == old - 80


def test_planned_anew_while_others_are_cut_no_lay_stays_that_is_wider_than_the_cloth(batch: Batch) -> None:
    lay = jersey_lay(batch)
    rib = only_cloth(batch.lays.exclude(pk=lay.pk).get())
    used = round(spread_m(rib.lay), 2)
    told = Told(rib.pk, 1, used, roll_of(rib, "R-1", str(used)).pk)
    assert not table.tell_lay(rib.lay, [told], None, NOON).problem
    roll_of(only_cloth(lay), "E-1", "20")
    batch.refresh_from_db()
    assert anew.plan_uncut_anew(batch, jersey(batch).pk).stays
    narrower(80)
    done = anew.plan_uncut_anew(batch, jersey(batch).pk)
    assert (done.stays, done.problem) == ("", "")
    new = jersey_lay(batch)
    assert new.lay_width_mm == lay.lay_width_mm - 80
    assert Decimal(str(new.lay_width_mm)) < Fabric.objects.get(name="jersey").full_width_mm


def saved(client: Client, **changed: str) -> str:
    """What is said where the cloth is saved, its other figures as they are."""
    cloth = Fabric.objects.get(name="jersey")
    shown = client.get(reverse("fabric-change", args=[cloth.pk])).context["form"]
    data = {name: value for name in shown.fields if (value := shown[name].value()) not in (None, False)}
    answer = client.post(reverse("fabric-change", args=[cloth.pk]), {**data, **changed}, follow=True)
    assert "jersey is saved." in answer.content.decode()
    return " ".join(str(one) for one in answer.context["messages"]).replace("\N{THIN SPACE}", " ")


def test_whoever_saves_a_cloth_is_told_which_lays_are_wider_than_it(
    maker_client: Client, batch: Batch
) -> None:
    assert saved(maker_client) == "jersey is saved."
    wide = Fabric.objects.get(name="jersey").full_width_mm - 80
    said = saved(maker_client, full_width_mm=f"{wide / 10} cm")
    _, now = widths(batch)
    number = jersey_lay(batch).number
    assert (
        f"Wider than it is now ({now} less its selvedges) is lay {number} of {batch.number}. Cut nothing so wide"
        in said
    )
    jersey_lay(batch).__class__.objects.update(cut_at=NOON)
    assert saved(maker_client) == "jersey is saved."


def test_and_which_batches_were_planned_with_it_as_it_was(maker_client: Client, batch: Batch) -> None:
    said = saved(maker_client, shades="on")
    assert f"{batch.number} was planned with this cloth as it was. Its page says what is other now." in said
    batch.lays.update(cut_at=NOON)
    assert saved(maker_client, shades="on") == "jersey is saved."
