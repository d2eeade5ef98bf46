"""What a choice of the maker's is told to cost: by what is known, with what it saves; and none that cannot act."""

from __future__ import annotations

from dataclasses import replace

from django.test import Client
from django.urls import reverse

from planner.core.lays.wishes import Outcome, PriceOfWish
from planner.cutting.models import CutPlan, Marker, PlanChoice
from planner.cutting.other_plans import HARDLY_ANYTHING, NOT_KNOWN, price_in_words
from planner.cutting.tasks import FIRST_SEED, POLISH_SEED
from tests.cutting.once import make_planned_batch
from tests.cutting.test_plan_choices import outcome
from tests.factories import make_order
from tests.sewing.makers import the_style

#: A plan with a choice, all of its lays nested: what it is held against costs 162.82.
WITH_IT = replace(outcome(4, 9, 10_310.0, 132.0, "165.96"), nested=4)


def told(
    without: Outcome, sure: Outcome | None = None, *, best: Outcome = WITH_IT, currency: str = "EUR"
) -> str:
    price = PriceOfWish("together", (), without, sure)
    return price_in_words(price, best, "metric", currency).replace("\N{THIN SPACE}", " ")


def nested(lays: int, mm: float, minutes: float, cost: str, aim: str = "money") -> Outcome:
    return replace(outcome(lays, 9, mm, minutes, cost, aim), nested=lays, is_proven=False)


def guessed(cost: str, mm: float = 9_980.0, minutes: float = 114.0) -> Outcome:
    return replace(outcome(3, 8, mm, minutes, cost), is_proven=False)


def test_what_stood_before_is_held_against_it_and_not_what_only_promises_more() -> None:
    """162.82 was nested: so it costs 3.14 at least, though an estimate promises a plan for 155.78."""
    stood = nested(3, 10_760.0, 108.0, "162.82")
    assert told(guessed("155.78"), stood) == "costs at least 3.14 EUR: 0.45 m less cloth, 24 minutes more"
    assert told(guessed("155.78")) == (
        "costs about 0.33 m and 18 minutes (10.18 EUR); an estimate, for the plan without it is not nested"
    )


def test_what_estimates_promise_by_less_than_they_come_out_wrong_is_no_price() -> None:
    """Less than 2 % of 165.96 is no reason to change a plan, so it is none to call one dear."""
    assert (
        told(guessed("163.00"))
        == told(guessed("163.00"), nested(5, 11_000.0, 140.0, "170.00"))
        == HARDLY_ANYTHING
    )
    assert told(guessed("162.00")).startswith("costs about")
    assert told(guessed("166.00")) == NOT_KNOWN


def test_what_a_choice_saves_is_told_with_what_it_takes() -> None:
    """By the sums told, 40 minutes more and 0.54 m less come to 7.64: neither by itself does."""
    best = replace(WITH_IT, cloth_mm=10_220.0, minutes=148.0, cost=WITH_IT.cost + 10)
    assert told(nested(3, 10_760.0, 108.0, "168.32"), best=best) == (
        "costs at least 7.64 EUR: 0.54 m less cloth, 40 minutes more"
    )
    more_cloth = nested(3, 10_000.0, 140.0, "160.00")
    assert told(more_cloth) == "costs at least 5.96 EUR: 0.31 m more cloth, 8 minutes less"
    # Where nobody may see money, and where it is not what counts.
    assert told(more_cloth, currency="") == "costs at least 0.31 m, for 8 minutes less"
    least = replace(WITH_IT, aim="least_cloth")
    assert told(nested(3, 10_000.0, 140.0, "170.00", "least_cloth"), best=least) == (
        "costs at least 0.31 m, for 8 minutes less and 4.04 EUR less"
    )
    few = replace(WITH_IT, aim="fewest_lays")
    assert told(nested(3, 10_760.0, 108.0, "166.96", "fewest_lays"), best=few) == (
        "costs at least 1 lay and 24 minutes, for 0.45 m less cloth and 1.00 EUR less"
    )


# ---- a choice that cannot act ----


def test_sizes_that_share_no_colour_are_refused_at_their_field(maker_client: Client, db: None) -> None:
    """S is only wanted in ink and L only in moss: no ply holds both, whatever is chosen. M is wanted in both."""
    style, rib = the_style(), {"neck": "rib band"}
    order = make_order([(style, rib, "ink", {"S": 2, "M": 1}), (style, rib, "moss", {"L": 2, "M": 1})])
    batch = make_planned_batch(order)
    plan = CutPlan.objects.get(batch=batch, fabric__name="jersey")
    address = reverse("plan-kinds", args=[batch.number, plan.pk])
    lays = list(batch.lays.values_list("pk", flat=True))
    for kind in ("together", "apart"):
        wrong = maker_client.post(address, {"kind": kind, "first": "110|S", "second": "110|L"})
        html = wrong.content.decode()
        assert wrong.status_code == 422, kind
        assert (
            "That would change nothing, for no ply holds both: L is cut only from moss and S is cut only from ink."
        ) in html
        assert '<option value="110|S" selected>' in html
        assert '<option value="110|L" selected>' in html
        assert not PlanChoice.objects.exists()
        assert list(batch.lays.values_list("pk", flat=True)) == lays
    right = maker_client.post(address, {"kind": "apart", "first": "110|S", "second": "110|M"})
    assert right.status_code == 302
    assert PlanChoice.objects.count() == 1


# ---- what was nested stays known ----


def test_a_lay_given_up_while_it_waits_for_its_second_nesting_keeps_its_first_length(
    maker_client: Client, db: None
) -> None:
    """Its plan may be the best of those known: without the length it would only be an estimate again."""
    style = the_style()
    batch = make_planned_batch(make_order([(style, {"neck": "rib band"}, "ink", {"S": 2, "M": 3, "L": 2})]))
    plan = CutPlan.objects.get(batch=batch, fabric__name="jersey")
    before = {row.key: row.length_mm for row in Marker.objects.filter(lays__batch=batch)}
    Marker.objects.filter(lays__batch=batch).update(state=Marker.State.WAITING, seed=POLISH_SEED)
    address = reverse("plan-kinds", args=[batch.number, plan.pk])
    maker_client.post(address, {"kind": "apart", "first": "110|S", "second": "110|M"})
    gone = Marker.objects.filter(key__in=before, lays__isnull=True)
    assert gone.exists()
    for row in gone:
        assert (row.length_mm, row.state, row.seed) == (before[row.key], Marker.State.READY, FIRST_SEED)
