"""The panel of a cut plan: nothing of it swings while lays are nested, no aim vanishes, and what is cut is counted."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.lays.wishes import PlanFacts, PriceOfWish, facts_to_json
from planner.core.units import format_money
from planner.cutting.actions import rest, rolling, table
from planner.cutting.actions.booking import Told
from planner.cutting.cut_plans import facts_of
from planner.cutting.models import Batch, CutPlan, Lay, LayRoll, Marker, PlanChoice
from planner.cutting.offers_shown import COMPARED_LATER
from planner.cutting.other_plans import estimated_in_words, offer_in_words, other_in_words, price_in_words
from planner.cutting.plan_now import now_in_words
from planner.cutting.plan_screens import PlanPanel, plan_panels
from planner.cutting.plan_shown import PRICED_LATER
from planner.cutting.reading import batch_with_plans, lays_of
from planner.cutting.setting import batch_setting
from planner.cutting.stored import planned_batch
from planner.cutting.turns import in_turn, next_to_cut
from planner.cutting.views.batches import ASKED_AFTER
from planner.cutting.why import FEWEST_ALREADY, FEWEST_FOUND, SAVING_LATER
from planner.materials.models import FabricColour, NotionColour, Workroom
from planner.papers.figures import up
from tests.cutting import once
from tests.cutting.table_makers import jersey_lay, only_cloth
from tests.cutting.test_plan_choices import facts, outcome
from tests.factories import NOON, TODAY, make_order, stock
from tests.sewing.makers import nest_all, the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}


def panel(batch: Batch, fabric: str = "jersey") -> PlanPanel:
    read = planned_batch(batch_with_plans(batch.number))
    return next(one for one in plan_panels(read, "metric", "EUR", is_maker=True) if one.fabric == fabric)


def plain(text: str) -> str:
    return text.replace("\N{THIN SPACE}", " ")


@pytest.fixture
def batch() -> Batch:
    order = make_order([(the_style(), RIB, "ink", {"S": 2, "M": 4, "L": 2})])
    return once.settled(once.waiting_batch(order))


def with_facts(batch: Batch, told: PlanFacts, state: CutPlan.State = CutPlan.State.SETTLED) -> CutPlan:
    plan = batch.cut_plans.get(fabric__name="jersey")
    CutPlan.objects.filter(pk=plan.pk).update(facts=facts_to_json(told), state=state)
    plan.refresh_from_db()
    return plan


# ---- while lays are nested ----


@pytest.mark.parametrize("state", [CutPlan.State.QUICK, CutPlan.State.NESTING])
def test_no_price_is_told_before_the_plan_stands_and_the_sum_says_so_far(
    batch: Batch, state: CutPlan.State
) -> None:
    apart = [["110", "M"], ["110", "S"]]
    price = PriceOfWish("apart", (("110", "M"), ("110", "S")), outcome(2, 5, 11_400.0, 54.0, "153.00"))
    plan = with_facts(batch, facts(prices=(price,)), state)
    PlanChoice.objects.create(plan=plan, kind="apart", kinds=apart)
    moving = panel(batch)
    assert moving.total.startswith("So far: 2 lays, 5 spreads")
    assert "EUR" not in moving.total
    assert [choice.price for choice in moving.choices] == [PRICED_LATER]
    assert [(offer.aim, offer.words) for offer in moving.offers] == [
        ("fewest_lays", COMPARED_LATER), ("least_cloth", COMPARED_LATER),
    ]  # fmt: skip
    CutPlan.objects.filter(pk=plan.pk).update(state=CutPlan.State.SETTLED)
    stands = panel(batch)
    assert stands.total.startswith("2 lays, 5 spreads")
    assert [plain(choice.price) for choice in stands.choices] == [
        "costs about 0.3 m and 6 minutes (5.40 EUR); an estimate, for the plan without it is not nested"
    ]
    # As many lines as before: only their words have changed.
    assert len(stands.offers) == len(moving.offers)
    assert bool(stands.state) == bool(moving.state) is True


def test_while_lays_are_nested_figures_agree_and_no_saving_is_claimed(batch: Batch) -> None:
    """The facts were reckoned before any of its lays was nested: the page goes by the lays there are."""
    plan = with_facts(
        batch, facts(best=outcome(2, 5, 14_170.0, 60.0, "158.40"), nested=0), CutPlan.State.NESTING
    )
    read = planned_batch(batch_with_plans(batch.number))
    lay_m = sum(need.lay_m for need in read.needs.cloths if need.cloth.fabric == "jersey")
    nested = [
        lay for lay in read.lays if any(c.fabric_colour.fabric_id == plan.fabric_id for c in lay.cloths.all())
    ]
    assert len(nested) == 1
    moving = panel(batch)
    assert plain(moving.total) == f"So far: 2 lays, 5 spreads, {up(lay_m)}".rstrip("0") + " m of cloth"
    assert moving.progress is not None
    assert plain(moving.total).split(", ")[2].split(" of ")[0] in plain(moving.progress.figures)
    assert moving.sentences[0] == SAVING_LATER
    assert not any("saves" in text.removeprefix(SAVING_LATER) for text in moving.sentences)
    assert "1 of 2 lengths is nested, the other is an estimate" in moving.sentences[-1]
    CutPlan.objects.filter(pk=plan.pk).update(state=CutPlan.State.SETTLED)
    assert "40 minutes" in plain(panel(batch).sentences[0])


def test_the_page_asks_on_a_little_after_the_last_lay_for_sums_and_rolls_are_reckoned_then(
    maker_client: Client, batch: Batch
) -> None:
    """A lay of a settled plan that is nested longer: its metres are there at once, the sum some seconds later."""
    # What the plans are held against is nested.
    for plan in batch.cut_plans.all():
        told = facts_of(plan)
        assert told is not None
        CutPlan.objects.filter(pk=plan.pk).update(facts=facts_to_json(replace(told, singles_done=True)))
    address = reverse("batch-running", args=[batch.number])
    assert (
        f'hx-get="{address}'
        not in maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    )
    asked, after = 0, ""
    while asked < 20:
        html = maker_client.get(f"{address}?seen=x{after}", headers={"HX-Request": "true"}).content.decode()
        asked += 1
        if f'hx-get="{address}' not in html:
            break
        assert 'hx-trigger="every 5s"' in html
        after = f"&after={html.split('&amp;after=')[1].split(chr(34))[0]}"
    assert asked == ASKED_AFTER + 1
    for odd in ("-1", "x", "99999999999999999999", "²"):
        html = maker_client.get(f"{address}?after={odd}", headers={"HX-Request": "true"}).content.decode()
        assert f'hx-get="{address}' not in html


def test_the_page_asks_on_until_what_the_plan_is_held_against_is_nested(
    maker_client: Client, batch: Batch
) -> None:
    address = reverse("batch-running", args=[batch.number])
    for after in (0, ASKED_AFTER):
        html = maker_client.get(f"{address}?after={after}", headers={"HX-Request": "true"}).content.decode()
        assert f'hx-get="{address}' in html
        assert "what it saves is told once those are nested too" in html
    for row in batch.cut_plans.all():
        CutPlan.objects.filter(pk=row.pk).update(facts={**row.facts, "singles_done": True})
    html = maker_client.get(f"{address}?after={ASKED_AFTER}", headers={"HX-Request": "true"}).content.decode()
    assert f'hx-get="{address}' not in html
    assert "(those as estimated)" in html


# ---- other aims ----


def test_an_aim_that_comes_to_the_same_says_so_and_stays_in_view(maker_client: Client, batch: Batch) -> None:
    same = replace(facts().best, aim="least_cloth", nested=2)
    plan = with_facts(batch, facts(best=replace(facts().best, nested=2), others=(same,)))
    fewest, least = panel(batch).offers
    assert (least.label, least.words, least.can_take) == ("Least cloth", "the same plan", False)
    assert fewest.words == "not compared, for there was no time left"
    html = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    region = html[html.index(f'id="cut-plan-{plan.pk}"') :].split("</section>")[0]
    assert "<strong>Least cloth:</strong> the same plan" in region
    assert 'value="least_cloth"' not in region
    assert 'value="fewest_lays"' in region
    # From another aim one may always go back.
    CutPlan.objects.filter(pk=plan.pk).update(aim=CutPlan.Aim.LEAST_CLOTH)
    with_facts(batch, facts(best=same, others=(replace(same, aim="money"),)))
    money, _ = panel(batch).offers
    assert (money.aim, money.words, money.can_take) == ("money", "the same plan", True)


def test_fewest_lays_are_not_offered_where_the_plan_has_no_more(maker_client: Client, batch: Batch) -> None:
    best = replace(facts().best, nested=2)
    other = replace(best, aim="fewest_lays", cost=best.cost - 2, cloth_mm=best.cloth_mm - 90, nested=0)
    plan = with_facts(batch, facts(best=best, others=(other,)))
    fewest = panel(batch).offers[0]
    assert (fewest.words, fewest.can_take) == (FEWEST_ALREADY, False)
    html = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    region = html[html.index(f'id="cut-plan-{plan.pk}"') :].split("</section>")[0]
    assert 'value="fewest_lays"' not in region
    with_facts(batch, facts(best=best, others=(other,), fewer="open", least_lays=1))
    assert panel(batch).offers[0].words == FEWEST_FOUND
    with_facts(batch, facts(best=best, others=(replace(other, lays=1),)))
    assert panel(batch).offers[0].can_take


def test_plans_differ_by_what_the_sums_told_differ_by() -> None:
    """12.405 and 24.814 EUR are told as 12.41 and 24.81: 12.40 apart, not 12.41; of cloth, rounded up, 2.01 and 3.01 m
    are 1.0 m apart, though it is 1.01 m to the nearest."""
    best = replace(facts().best, cost=Decimal("12.405"), cloth_mm=2000.1, nested=2, lays=2)
    other = replace(best, cost=Decimal("24.814"), cloth_mm=3010.0, aim="fewest_lays", lays=1, nested=1)
    assert [plain(format_money(one.cost, "EUR")) for one in (best, other)] == ["12.41 EUR", "24.81 EUR"]
    assert plain(other_in_words(other, best, "metric", "EUR")) == "1 lay, 1.0 m more cloth, 12.40 EUR more"
    price = PriceOfWish("plies", (), best)
    dear = replace(other, aim="money", lays=2)
    assert plain(price_in_words(price, dear, "metric", "EUR")).startswith("costs 1.0 m (12.40 EUR)")


def test_what_only_estimates_promise_is_not_told_as_a_gain() -> None:
    best = facts().best
    better = replace(best, aim="fewest_lays", lays=1, cost=best.cost - 1, nested=0)
    assert offer_in_words(better, best, "metric", "EUR") == (
        "1 lay, about as good as this one as far as estimates tell"
    )
    dearer = replace(better, cost=best.cost + 1)
    assert plain(offer_in_words(dearer, best, "metric", "EUR")) == (
        "1 lay, 1.00 EUR more; an estimate: its lay is not nested"
    )
    two = replace(dearer, aim="least_cloth", lays=2)
    assert offer_in_words(two, best, "metric", "EUR").endswith("; an estimate: none of its 2 lays is nested")
    assert estimated_in_words(replace(two, nested=1)) == "an estimate: 1 of its 2 lays is not nested"
    assert estimated_in_words(replace(two, nested=2)) == ""


def test_a_settled_plan_knows_both_other_aims(batch: Batch) -> None:
    """Planned for real: eight garments in one lay, which no aim betters."""
    told = facts_of(batch.cut_plans.get(fabric__name="jersey"))
    assert told is not None
    assert {one.aim for one in told.others} == {"fewest_lays", "least_cloth"}
    assert len(panel(batch).offers) == 2


# ---- once something is cut ----


def tell(lay: Lay, spreads: int, used_m: str) -> None:
    assert not table.tell_lay(lay, [Told(only_cloth(lay).pk, spreads, Decimal(used_m))], None, NOON).problem


def test_the_panel_counts_what_is_cut_and_what_is_left() -> None:
    batch = once.plies_batch(5)
    lay = jersey_lay(batch)
    before = panel(batch)
    assert (before.now, before.total.startswith("As planned")) == ("", False)
    each_m = (lay.marker.length_mm + 2 * lay.end_allowance_mm) / 1000
    tell(lay, 2, "1.80")
    begun = panel(batch)
    assert plain(begun.now) == (
        f"Now: 1 lay begun (1.8 m used); still to cut 3 spreads of 1 lay, {up(3 * each_m)}".rstrip("0")
        + " m of cloth"
    )
    assert begun.total.startswith("As planned: ") or not begun.total
    assert begun.state.startswith("cutting has begun")


def test_a_rest_that_was_split_off_is_counted_as_it_is_planned_now(maker_client: Client) -> None:
    batch = once.plies_batch(5)
    lay = jersey_lay(batch)
    tell(lay, 3, "2.50")
    planned = rest.replan_rest(lay, None, NOON)
    assert not planned.problem
    now = plain(panel(batch).now)
    rests = len(planned.lays)
    assert now.startswith("Now: 1 lay cut in part, the rest in lays of its own (2.5 m used); still to cut ")
    lays = [one for one in lays_of(batch) if one.pk in {row.pk for row in planned.lays}]
    spreads = sum(cloth.spreads for one in lays for cloth in one.cloths.all())
    of = f"{spreads} {'spread' if spreads == 1 else 'spreads'} of {rests} {'lay' if rests == 1 else 'lays'}, "
    assert f"still to cut {of}" in now
    html = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    assert "Now: 1 lay cut in part" in html
    # Lengths of a rest are called estimates until they are nested.
    own = [one for one in lays_of(batch) if one.pk == lay.pk or one.rest_of_id == lay.pk]
    Marker.objects.filter(lays__rest_of=lay).update(state=Marker.State.WAITING)
    waiting = [one for one in lays_of(batch) if one.pk in {row.pk for row in own}]
    assert now_in_words(waiting, "metric").endswith("as estimated until all are nested")
    Marker.objects.filter(lays__rest_of=lay).update(state=Marker.State.READY)
    nested = [one for one in lays_of(batch) if one.pk in {row.pk for row in own}]
    assert now_in_words(nested, "metric").endswith("of cloth")


def test_the_metres_of_nested_lays_are_those_told_and_those_still_to_cut() -> None:
    """Formerly a ply that was cut counted as planned, and plies that other lays cut instead counted twice."""
    batch = once.plies_batch(5)
    lay = jersey_lay(batch)
    each_m = (lay.marker.length_mm + 2 * lay.end_allowance_mm) / 1000
    assert plain(panel(batch).progress.figures).startswith(
        f"Its lay is nested: {float(up(5 * each_m)):g} m to spread, "
    )
    tell(lay, 3, "9.50")
    told = f"Its lay is nested: {float(up(2 * each_m)):g} m still to spread, 9.5 m cut off already, "
    assert plain(panel(batch).progress.figures).startswith(told)
    assert not rest.replan_rest(lay, None, NOON).problem
    nest_all(batch)
    own = [one for one in lays_of(batch) if one.rest_of_id == lay.pk]
    left_m = sum(
        cloth.spreads * (one.marker.length_mm + 2 * one.end_allowance_mm) / 1000
        for one in own
        for cloth in one.cloths.all()
    )
    assert f"lays are nested: {float(up(left_m)):g} m still to spread, 9.5 m cut off already, " in plain(
        panel(batch).progress.figures
    )


def test_cloth_that_was_spoilt_before_a_ply_was_cut_is_not_to_be_spread() -> None:
    batch = once.plies_batch(5)
    lay = jersey_lay(batch)
    tell(lay, 0, "1.20")
    each_m = (lay.marker.length_mm + 2 * lay.end_allowance_mm) / 1000
    assert plain(panel(batch).progress.figures).startswith(
        f"Its lay is nested: {float(up(5 * each_m)):g} m still to spread, 1.2 m cut off already, "
    )


def test_a_batch_that_is_all_cut_has_nothing_left() -> None:
    batch = once.plies_batch(2)
    lay = jersey_lay(batch)
    tell(lay, 2, "1.80")
    assert panel(batch).now == "Now: 1 lay cut (1.8\N{NO-BREAK SPACE}m used); nothing is left to cut".replace(
        "\N{NO-BREAK SPACE}", "\N{THIN SPACE}"
    )


# ---- whose turn it is ----


@once.once
def two_orders() -> Batch:
    """Planned and nested, two garments of a size each in lays of their own: L is due before S."""
    Workroom.the()
    Workroom.objects.update(most_plies=1)
    late = make_order([(the_style(), {"neck": "self band"}, "ink", {"S": 1})], due_on=TODAY + timedelta(40))
    soon = make_order([(the_style(), {"neck": "self band"}, "ink", {"L": 1})], due_on=TODAY + timedelta(4))
    batch = once.waiting_batch(late, soon)
    plan = batch.cut_plans.get(fabric__name="jersey")
    from planner.cutting.actions import choices

    assert not choices.choose_kinds(batch, plan.pk, "apart", [("110", "S"), ("110", "L")], None).problem
    return batch


def size_of(lay: Lay) -> str:
    return lay.cloths.first().garments.first().size.name


def test_what_is_due_first_is_cut_first_on_the_page_on_paper_and_at_the_table(maker_client: Client) -> None:
    batch = two_orders()
    lays = list(batch.lays.with_turn())
    assert len(lays) == 2
    order = [size_of(lay) for lay in in_turn(lays)]
    assert order == ["L", "S"]
    # Numbered the other way round, so that numbers alone cannot bring this about.
    first, second = in_turn(lays)
    if first.number < second.number:
        Lay.objects.filter(pk=first.pk).update(number=90)
        first.refresh_from_db()
    assert first.number > second.number
    assert next_to_cut(batch) == first.number
    html = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    assert html.index(f'id="lay-{first.number}"') < html.index(f'id="lay-{second.number}"')
    assert "first due" in html
    due = batch_setting(Workroom.the(), batch, TODAY).due
    assert due == {first.number: TODAY + timedelta(4), second.number: TODAY + timedelta(40)}
    # A lay whose cloth is still to be bought waits though it is due first.
    LayRoll.objects.create(lay_cloth=first.cloths.first(), roll=None, spreads=1)
    assert next_to_cut(batch) == second.number


def test_the_first_line_says_which_lay_can_be_cut_before_anything_is_bought(maker_client: Client) -> None:
    batch = once.settled(two_orders())
    lays = in_turn(list(batch.lays.with_turn()))
    LayRoll.objects.filter(lay_cloth__lay__batch=batch).delete()
    plies = lays[0].cloths.first()
    LayRoll.objects.create(lay_cloth=plies, roll=None, spreads=plies.spreads)
    answer = maker_client.get(reverse("batch-detail", args=[batch.number])).context["answer"]
    assert answer.startswith(f"Lay {lays[1].number} can be cut now. Buy ")
    assert ", then cut the other. For sewing buy " in answer
    other = lays[1].cloths.first()
    LayRoll.objects.create(lay_cloth=other, roll=None, spreads=other.spreads)
    answer = maker_client.get(reverse("batch-detail", args=[batch.number])).context["answer"]
    assert ", then cut 2 lays. For sewing buy " in answer
    # What is wider than its cloth is not cut once something is bought.
    LayRoll.objects.filter(lay_cloth=other).delete()
    Lay.objects.filter(pk=lays[0].pk).update(lay_width_mm=9000)
    answer = maker_client.get(reverse("batch-detail", args=[batch.number])).context["answer"]
    assert answer.startswith(f"Lay {lays[1].number} can be cut now. Buy ")
    assert "then cut" not in answer
    assert "; 1 is wider than the cloth is now. For sewing buy " in answer


def test_nobody_waits_with_the_cutting_for_labels_and_thread(maker_client: Client) -> None:
    batch = once.settled(two_orders())
    for colour in FabricColour.objects.all():
        stock(colour, 50, roll=f"R-{colour.pk}")
    assert rolling.assign_rolls(batch).short == 0
    page = reverse("batch-detail", args=[batch.number])
    labels = (
        "1 × 25 m roll clear elastic 6 mm, 3 × 5000 m cone overlock thread ink and 1 × 100 labels size label"
    )
    answer = maker_client.get(page).context["answer"]
    assert answer == f"All cloth is in stock: cut 2 lays. For sewing buy {labels}."
    batch.lays.update(cut_at=NOON)
    assert maker_client.get(page).context["answer"].startswith("All lays are cut. Buy ")
    for colour in NotionColour.objects.all():
        stock(colour, 20_000)
    assert maker_client.get(page).context["answer"] == "All lays are cut. Sew the bundles."
    batch.lays.update(cut_at=None)
    assert maker_client.get(page).context["answer"] == "Everything is in stock: cut 2 lays."
