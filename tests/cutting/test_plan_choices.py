"""The maker's choices for a cut plan, on the page with and without HTMX, and what each is told to cost."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.lays.wishes import Outcome, PlanFacts, PriceOfWish, facts_to_json
from planner.cutting.actions import choices
from planner.cutting.judged_plans import is_better_at_all, is_worth_it, promises_more
from planner.cutting.models import Batch, CutPlan, PlanChoice
from planner.cutting.other_plans import NOT_KNOWN, other_in_words, price_in_words
from planner.cutting.plan_words import minutes_in_words, percent
from planner.cutting.stored import planned_batch
from planner.cutting.why import how_good, plan_sentences, why_not_fewer
from planner.materials.models import Workroom
from tests.cutting.once import settled, waiting_batch
from tests.factories import make_order
from tests.sewing.makers import cut_all, the_style

HTMX = {"HX-Request": "true"}
RIB = {"neck": "rib band"}


def outcome(lays: int, spreads: int, mm: float, minutes: float, cost: str, aim: str = "money") -> Outcome:
    return Outcome(aim, lays, spreads, mm, minutes, Decimal(cost), is_proven=True)


def facts(**changes: object) -> PlanFacts:
    """Two lays instead of five single sizes."""
    told: dict[str, object] = {
        "best": outcome(2, 5, 11_700.0, 60.0, "158.40"),
        "single": outcome(5, 9, 13_600.0, 100.0, "193.20"),
        "others": (outcome(1, 2, 12_100.0, 48.0, "159.60", "fewest_lays"),),
        "fewer": "counting",
        "garments": 36,
        "most_garments": 6,
        "most_layers": 4,
        "prices": (),
        "nested": 2,
        "gap_share": None,
        "least_lays": 2,
        "method": "enumerated",
        "how_lengths": "the last 2 lays cut",
    }
    return PlanFacts(**{**told, **changes})  # type: ignore[arg-type]


# ---- why, in words ----


def test_a_plan_says_what_it_saves_why_it_is_not_fewer_and_how_good_it_is() -> None:
    said = [text.replace("\N{THIN SPACE}", " ") for text in plan_sentences(facts(), "metric", "EUR")]
    assert said == [
        "2 lays instead of 5 of single sizes: saves 1.9 m (14 %) and 40 minutes, 34.80 EUR in all.",
        "It cannot be done in 1: with at most 4 plies the marker would need 9 garments, and the table takes 6,"
        " if other lays come out as estimated.",
        "Proven: no plan costs less, if other lays come out as estimated.",
        "Its own lengths are all nested.",
    ]


def test_single_sizes_that_nobody_nested_are_called_estimates() -> None:
    told = facts(best=replace(outcome(2, 5, 11_700.0, 60.0, "158.40"), nested=2))
    head = plan_sentences(told, "metric")[0].split(":")[0]
    assert head == "2 lays instead of 5 of single sizes (those as estimated)"


def test_without_a_currency_nothing_is_said_of_money() -> None:
    assert "EUR" not in " ".join(plan_sentences(facts(), "metric"))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"fewer": "one", "best": outcome(1, 2, 1.0, 1.0, "1")}, ""),
        (
            {"fewer": "proven"},
            "It cannot be done in 1: every lay that could be cut leaves garments over or cuts too many,"
            " if other lays come out as estimated.",
        ),
        (
            {"fewer": "open", "least_lays": 1},
            "Whether 1 lay would do is not known.",
        ),
        (
            {"fewer": "open", "least_lays": 2, "best": outcome(3, 5, 1.0, 1.0, "1")},
            "Whether fewer lays would do is not known; at least 2 are needed.",
        ),
        ({"fewer": "dearer"}, "It could be done in 1, but that costs more."),
    ],
)
def test_why_there_are_not_fewer_lays(changes: dict[str, object], words: str) -> None:
    assert why_not_fewer(facts(**changes)) == words


def test_a_gap_is_never_told_too_small() -> None:
    assert "at most 2 %" in how_good(facts(gap_share=0.0199)).replace("\N{THIN SPACE}", " ")
    assert how_good(facts(gap_share=1.0)) == "How far it is from the best is not known."
    assert percent(0.0101, least=True) == "1.1\N{THIN SPACE}%"
    assert "the solver" in " ".join(plan_sentences(facts(method="without_solver", gap_share=0.3), "metric"))


def test_estimates_are_called_estimates() -> None:
    assert plan_sentences(facts(nested=1), "metric")[-1] == (
        "1 of 2 lengths is nested, the other is an estimate, reckoned from the last 2 lays cut."
    )


def test_other_plans_and_wishes_have_their_price() -> None:
    one = facts()
    assert other_in_words(one.others[0], one.best, "metric", "EUR").replace("\N{THIN SPACE}", " ") == (
        "1 lay, 0.4 m more cloth, 12 minutes less, 1.20 EUR more"
    )
    price = PriceOfWish("together", (("110", "S"), ("110", "M")), outcome(2, 5, 11_400.0, 54.0, "153.00"))
    told = price_in_words(price, one.best, "metric", "EUR").replace("\N{THIN SPACE}", " ")
    assert told == (
        "costs about 0.3 m and 6 minutes (5.40 EUR); an estimate, for the plan without it is not nested"
    )
    nested = replace(one.best, nested=one.best.lays)
    assert price_in_words(PriceOfWish("plies", (), nested), one.best, "metric", "EUR") == (
        "costs nothing, if other lays come out as estimated"
    )
    assert [minutes_in_words(n) for n in (0.2, 1.0, 99.0, 130.0)] == [
        "less than a minute", "1 minute", "99 minutes", "2\N{THIN SPACE}h 10\N{THIN SPACE}min",
    ]  # fmt: skip


def test_what_a_wish_costs_is_only_told_as_far_as_it_is_known() -> None:
    """Nothing better was found, though nobody proved that there is nothing: that is not "nothing"."""
    best = outcome(4, 9, 14_350.0, 90.0, "215.22")

    def told(without: Outcome, of: Outcome = best) -> str:
        nested = replace(without, nested=without.lays)
        text = price_in_words(PriceOfWish("apart", (), nested), of, "metric", "EUR")
        return text.replace("\N{THIN SPACE}", " ")

    dearer = replace(outcome(13, 30, 16_000.0, 200.0, "276.66"), is_proven=False)
    assert told(dearer) == told(replace(best, is_proven=False)) == NOT_KNOWN
    cheaper = outcome(3, 8, 13_950.0, 80.0, "206.33")
    assert told(cheaper) == "costs 0.4 m and 10 minutes (8.89 EUR)"
    assert told(replace(cheaper, is_proven=False)) == "costs at least 0.4 m and 10 minutes (8.89 EUR)"
    few = replace(best, aim="fewest_lays")
    dear_and_few = outcome(3, 6, 15_000.0, 80.0, "230.00")
    assert told(dear_and_few, few) == "costs 1 lay and 10 minutes, for 0.65 m less cloth and 14.78 EUR less"
    assert told(dear_and_few) == "costs nothing, if other lays come out as estimated"


# ---- choices ----


@pytest.fixture
def batch(db: None) -> Batch:
    order = make_order([(the_style(), RIB, "ink", {"S": 2, "M": 4, "L": 2})])
    return settled(waiting_batch(order))


def jersey(batch: Batch) -> CutPlan:
    return batch.cut_plans.get(fabric__name="jersey")


def sizes_of(batch: Batch) -> list[set[str]]:
    """The sizes on each marker of jersey."""
    lays = [
        lay for lay in planned_batch(batch).lays if str(lay.cloths.all()[0].fabric_colour) == "jersey, ink"
    ]
    return [{held.size.name for c in lay.cloths.all() for held in c.garments.all()} for lay in lays]


def test_sizes_kept_apart_never_share_a_marker_until_that_is_taken_back(
    maker_client: Client, batch: Batch
) -> None:
    address = reverse("plan-kinds", args=[batch.number, jersey(batch).pk])
    answer = maker_client.post(address, {"kind": "apart", "first": "110|S", "second": "110|M"}, follow=True)
    assert answer.status_code == 200
    assert "S and M never together" in answer.content.decode()
    # Plies are limited besides, and given free again.
    plies = reverse("plan-plies", args=[batch.number, jersey(batch).pk])
    maker_client.post(plies, {"plies": "1"})
    assert jersey(batch).most_plies == 1
    assert not any({"S", "M"} <= sizes for sizes in sizes_of(settled(batch)))
    of_jersey = batch.lays.filter(cloths__fabric_colour__fabric__name="jersey")
    assert [sum(c.spreads for c in lay.cloths.all()) for lay in of_jersey] == [1] * of_jersey.count()
    maker_client.post(plies, {"plies": ""})
    assert jersey(batch).most_plies is None
    # Together and apart at once cannot be: it is said at the field, what was chosen stays, and so does the plan.
    before = list(batch.lays.values_list("pk", flat=True))
    wrong = maker_client.post(address, {"kind": "together", "first": "110|S", "second": "110|M"})
    html = wrong.content.decode()
    assert wrong.status_code == 422
    assert "Take that back first" in html
    assert '<option value="110|M" selected>' in html
    assert list(batch.lays.values_list("pk", flat=True)) == before
    choice = PlanChoice.objects.get()
    back = reverse("plan-choice-back", args=[batch.number, jersey(batch).pk, choice.pk])
    assert maker_client.post(back).status_code == 302
    assert not PlanChoice.objects.exists()
    assert cut_in(batch) == 8


def cut_in(batch: Batch) -> int:
    return sum(bundle.quantity for bundle in batch.bundles.all())


def test_with_htmx_the_regions_are_answered(maker_client: Client, batch: Batch) -> None:
    plan = jersey(batch)
    address = reverse("plan-kinds", args=[batch.number, plan.pk])
    same = {"kind": "together", "first": "110|S", "second": "110|S"}
    wrong = maker_client.post(address, same, headers=HTMX)
    html = wrong.content.decode()
    assert (wrong.status_code, "<html" in html) == (422, False)
    assert f'id="cut-plan-{plan.pk}"' in html
    assert "Choose two different sizes." in html
    right = maker_client.post(address, {**same, "second": "110|L"}, headers=HTMX)
    assert right.status_code == 200
    assert "S and L always together" in right.content.decode()
    assert 'id="batch-running"' in right.content.decode()


def test_plies_that_cannot_be_are_said_at_their_field(maker_client: Client, batch: Batch) -> None:
    address = reverse("plan-plies", args=[batch.number, jersey(batch).pk])
    for typed in ("0", "x", "-1", "1.5", "9999"):
        wrong = maker_client.post(address, {"plies": typed})
        assert wrong.status_code == 422
        assert f'value="{typed}"' in wrong.content.decode()
    most = Workroom.the().most_plies
    refused = maker_client.post(address, {"plies": str(most + 48)}, headers=HTMX)
    assert refused.status_code == 422
    assert f"Your tool cuts {most} plies of this cloth (Workroom)." in refused.content.decode()
    assert f'value="{most + 48}"' in refused.content.decode()
    assert jersey(batch).most_plies is None


def test_another_aim_is_taken_and_left(maker_client: Client, batch: Batch) -> None:
    address = reverse("plan-aim", args=[batch.number, jersey(batch).pk])
    assert maker_client.post(address, {"aim": "fewest_lays"}).status_code == 302
    assert jersey(batch).aim == CutPlan.Aim.FEWEST_LAYS
    assert maker_client.post(address, {"aim": "magic"}).status_code == 422
    assert jersey(batch).aim == CutPlan.Aim.FEWEST_LAYS
    # A lay is kept and given free.
    keep = reverse("lay-keep", args=[batch.number, 1])
    maker_client.post(keep, {"keep": "1"})
    assert batch.lays.get(number=1).is_kept
    page = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    assert "How the jersey is laid" in page
    assert "Lay 1 stays as it is" in page
    answer = maker_client.post(keep, {}, headers=HTMX)
    assert (answer.status_code, batch.lays.get(number=1).is_kept) == (200, False)


def test_once_something_is_cut_nothing_can_be_chosen(maker_client: Client, batch: Batch) -> None:
    plan = jersey(batch)
    cut_all(batch)
    assert choices.choose_aim(batch, plan.pk, "fewest_lays").problem == choices.CUT_ALREADY
    page = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    assert "Change this plan" not in page
    assert "Keep this lay" not in page


def test_helpers_read_the_reasons_but_see_no_money_and_choose_nothing(
    helper_client: Client, batch: Batch
) -> None:
    plan = jersey(batch)
    CutPlan.objects.filter(pk=plan.pk).update(facts=facts_to_json(facts()))
    html = helper_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    region = html[html.index(f'id="cut-plan-{plan.pk}"') : html.index('id="batch-running"')]
    assert "Proven: no plan costs less, if other lays" in region
    assert "EUR" not in region
    assert "Change this plan" not in region
    for name, args in (("plan-aim", [plan.pk]), ("plan-plies", [plan.pk]), ("plan-kinds", [plan.pk])):
        assert helper_client.post(reverse(name, args=[batch.number, *args])).status_code == 403
    assert helper_client.post(reverse("lay-keep", args=[batch.number, 1])).status_code == 403
    assert helper_client.post(reverse("batch-rolls", args=[batch.number])).status_code == 403


def test_what_is_being_chosen_is_not_swapped_away(maker_client: Client, batch: Batch) -> None:
    address = reverse("batch-running", args=[batch.number])
    first = maker_client.get(address, headers=HTMX)
    assert 'id="cut-plans"' in first.content.decode()
    seen = first.context["plan_stamp"]
    again = maker_client.get(f"{address}?seen={seen}", headers=HTMX).content.decode()
    assert 'id="cut-plans"' not in again
    CutPlan.objects.filter(batch=batch).update(state=CutPlan.State.QUICK)
    later = maker_client.get(f"{address}?seen={seen}", headers=HTMX).content.decode()
    assert 'id="cut-plans"' in later
    assert "a better one is being looked for" in later


def unpriced(mm: float, minutes: float, aim: str = "money") -> Outcome:
    """Of cloth nobody has put a price to: minutes at 20 EUR an hour, and 8 a metre where plans are compared."""
    cost = Decimal(repr(minutes)) / 3
    return Outcome(aim, 2, 5, mm, minutes, cost, True, 2, Decimal(repr(8 * mm / 1000)))


def test_cloth_without_a_price_counts_where_plans_are_compared_and_is_told_as_nothing() -> None:
    """Two metres less for ten minutes more: 12.67 better, though 3.33 EUR more are paid."""
    less, more = unpriced(8_000.0, 70.0), unpriced(10_000.0, 60.0)
    assert is_worth_it(less, more, 0.005)
    assert not is_worth_it(more, less, 0.005)
    assert promises_more(less, more)
    assert not promises_more(replace(more, aim="fewest_lays"), less)
    assert is_better_at_all(facts(best=less), facts(best=more))
    assert not is_better_at_all(facts(best=more), facts(best=less))
    told = price_in_words(PriceOfWish("apart", (), less), more, "metric", "EUR")
    assert told.replace("\N{THIN SPACE}", " ") == "costs 2.0 m, for 10 minutes less and 3.33 EUR less"
