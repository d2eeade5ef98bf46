"""What is learnt of a fabric from lays that were cut and lays that were nested."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from planner.core.needs import work_out_needs
from planner.core.spec import Demand, Garment, make_options
from planner.costs.sheets import style_costs
from planner.cutting.actions import table
from planner.cutting.actions.booking import Told
from planner.cutting.learning import MOST_OF_PLAN, MOST_SAMPLES, learnt, usage_learnt
from planner.cutting.models import Batch, Lay, LayCloth, LayFact, LayGarment, Marker
from planner.cutting.table_forms import MUCH_MORE
from planner.materials import roll_actions
from planner.materials.models import Fabric, Roll, RollFlaw, Workroom
from planner.orders.estimate import estimate_needs
from planner.styles.specs import workshop
from tests.factories import NOON, TODAY, make_fabric_colour, make_style, stock

pytestmark = pytest.mark.django_db

#: A marker of 1,000 mm with 20 mm at each end: a spread of 1.04 m.
LENGTH_MM, END_MM, SHARE = 1000.0, 20.0, 0.8


def make_lay(
    spreads: int = 5, *, mode: str = "open", how: str = "nested", per_marker: int = 2, fabric: str = "jersey"
) -> Lay:
    """A lay of a batch of its own, nested."""
    batch = Batch.objects.create(number=f"B-{Batch.objects.count() + 1:04d}", state="planned", made_on=TODAY)
    marker = Marker.objects.create(
        key="x",
        job={},
        state=Marker.State.READY,
        length_mm=LENGTH_MM,
        efficiency=SHARE,
        placements={"how": how},
    )
    lay = Lay.objects.create(
        batch=batch, number=1, mode=mode, lay_width_mm=1470, one_way=True,
        end_allowance_mm=END_MM, estimated_length_mm=LENGTH_MM, marker=marker,
    )  # fmt: skip
    add_plies(lay, "ink", spreads, per_marker, fabric)
    return lay


def add_plies(lay: Lay, colour: str, spreads: int, per_marker: int = 2, fabric: str = "jersey") -> LayCloth:
    from planner.styles.models import Style

    style = Style.objects.filter(number="110").first() or make_style()
    cloth = LayCloth.objects.create(
        lay=lay, fabric_colour=make_fabric_colour(fabric, colour), spreads=spreads
    )
    LayGarment.objects.create(
        lay_cloth=cloth, style=style, colourway=style.colourways.first(), size=style.size_range.sizes.first(),
        per_marker=per_marker,
    )  # fmt: skip
    return cloth


def tell(cloth: LayCloth, spreads: int, used_m: str) -> None:
    assert not table.tell_lay(cloth.lay, [Told(cloth.pk, spreads, Decimal(used_m))], None, NOON).problem


def samples(fabric: str = "jersey") -> tuple[tuple[int, float], ...]:
    return learnt([fabric])[fabric].samples


def test_a_lay_cut_with_more_cloth_than_planned_was_less_efficient() -> None:
    lay = make_lay()
    # Planned 5 × 1.04 m = 5.20 m; 5.70 m were used, so 5.50 m without ends for 5.00 m of markers.
    tell(lay.cloths.get(), 5, "5.70")
    found = learnt(["jersey"])["jersey"]
    assert found.samples == ((2, pytest.approx(0.8 * 5.0 / 5.5)),)
    assert found.how == "the last lay cut"


def test_cut_as_planned_it_is_that_of_the_marker_also_face_to_face_and_in_part() -> None:
    whole, paired, part = make_lay(), make_lay(3, mode="face_to_face"), make_lay()
    tell(whole.cloths.get(), 5, "5.20")
    tell(paired.cloths.get(), 3, "6.24")
    tell(part.cloths.get(), 2, "2.08")
    assert [share for _, share in samples()] == pytest.approx([SHARE] * 3)


def from_flawed(cloth: LayCloth, used_m: str, *flaws: tuple[str, str], spreads: int = 5) -> LayFact:
    """Tells plies cut from a roll of 20 m with these flaws."""
    number = f"R{Roll.objects.count() + 1}"
    roll = stock(cloth.fabric_colour, "20", roll=number).roll
    for low, high in flaws:
        RollFlaw.objects.create(roll=roll, from_m=low, to_m=high)
    told = Told(cloth.pk, spreads, Decimal(used_m), roll.pk)
    assert not table.tell_lay(cloth.lay, [told], None, NOON).problem
    return cloth.facts.latest("pk")


@pytest.mark.parametrize(
    ("used_m", "lost_m", "share"),
    [
        # One ply of 1.04 m lies before the flaw, the next begins at 2 m: 0.96 m lost. 5.20 + 0.96 as planned.
        ("6.16", "0.96", SHARE),
        # 5.70 without them, 5.50 without ends, for 5 m of markers.
        ("6.66", "0.96", SHARE * 5.0 / 5.5),
        # Not enough to begin behind it: the flaw was cut with them, nothing was lost.
        ("5.20", "0", SHARE),
    ],
)
def test_what_was_lost_at_a_flaw_is_no_experience(used_m: str, lost_m: str, share: float) -> None:
    fact = from_flawed(make_lay().cloths.get(), used_m, ("1.50", "2.00"))
    assert fact.lost_m == Decimal(lost_m)
    assert samples() == ((2, pytest.approx(share)),)
    assert learnt(["jersey"])["jersey"].how == "the last lay cut"


def test_a_flaw_noted_later_or_found_to_be_none_changes_nothing_of_what_was_learnt() -> None:
    fact = from_flawed(make_lay().cloths.get(), "6.16", ("1.50", "2.00"))
    roll_actions.note_flaw(fact.roll, Decimal(0), Decimal("0.50"))
    assert samples() == ((2, pytest.approx(SHARE)),)
    RollFlaw.objects.all().delete()
    assert samples() == ((2, pytest.approx(SHARE)),)


def test_taken_back_and_told_anew_it_goes_by_the_flaws_known_then() -> None:
    fact = from_flawed(make_lay().cloths.get(), "6.16")
    # Nobody knew of a flaw: so much cloth was used.
    assert samples() == ((2, pytest.approx(SHARE * 5.0 / 5.96)),)
    table.take_fact_back(fact, None, NOON)
    roll_actions.note_flaw(fact.roll, Decimal("1.50"), Decimal("2.00"))
    told = Told(fact.lay_cloth_id, 5, Decimal("6.16"), fact.roll_id)
    assert not table.tell_lay(fact.lay_cloth.lay, [told], None, NOON).problem
    assert samples() == ((2, pytest.approx(SHARE)),)


def test_plies_told_in_two_goes_each_lose_what_lies_before_them() -> None:
    """Flaws at 1.5 to 2 m and 5 to 5.2 m: plies from 0, 2 to 4.08 and 5.2 to 7.28 m; 0.96 and 1.12 m lost."""
    cloth = make_lay().cloths.get()
    first = from_flawed(cloth, "4.08", ("1.50", "2.00"), ("5.00", "5.20"), spreads=3)
    told = Told(cloth.pk, 2, Decimal("3.20"), first.roll_id)
    assert not table.tell_lay(cloth.lay, [told], None, NOON).problem
    assert [fact.lost_m for fact in cloth.facts.order_by("pk")] == [Decimal("0.96"), Decimal("1.12")]
    assert samples() == ((2, pytest.approx(SHARE)),)


def test_two_colours_from_flawed_rolls_told_at_once_and_one_roll_told_twice() -> None:
    lay = make_lay(3)
    moss = add_plies(lay, "moss", 2)
    ink = lay.cloths.first()
    of_ink = stock(ink.fabric_colour, "20", roll="R1").roll
    of_moss = stock(moss.fabric_colour, "20", roll="R2").roll
    for roll in (of_ink, of_moss):
        RollFlaw.objects.create(roll=roll, from_m="1.50", to_m="2.00")
    # Of ink a ply before the flaw is told for itself, so the next two begin behind it: 0.96 m lost.
    told = [
        Told(ink.pk, 1, Decimal("1.04"), of_ink.pk),
        Told(ink.pk, 2, Decimal("3.04"), of_ink.pk),
        Told(moss.pk, 2, Decimal("3.04"), of_moss.pk),
    ]
    assert not table.tell_lay(lay, told, None, NOON).problem
    lost = [fact.lost_m for fact in LayFact.objects.order_by("pk")]
    assert lost == [Decimal(0), Decimal("0.96"), Decimal("0.96")]
    assert samples() == ((2, pytest.approx(SHARE)),)


def test_a_flaw_found_with_the_first_plies_told_is_lost_before_the_next_of_its_roll() -> None:
    cloth = make_lay().cloths.get()
    roll = stock(cloth.fabric_colour, "20", roll="R1").roll
    found = Told(cloth.pk, 2, Decimal("2.08"), roll.pk, flaws=((Decimal(0), Decimal("0.50")),))
    behind_it = Told(cloth.pk, 3, Decimal("3.62"), roll.pk)
    assert not table.tell_lay(cloth.lay, [found, behind_it], None, NOON).problem
    assert [fact.lost_m for fact in cloth.facts.order_by("pk")] == [Decimal(0), Decimal("0.50")]
    assert samples() == ((2, pytest.approx(SHARE)),)


def test_washed_first_flaws_of_the_roll_as_bought_lie_nearer_on_the_table() -> None:
    """Washing leaves 1.20 to 1.60 m of the flaw: the second ply of 1.04 m begins at 1.60 m, so 0.56 m are lost;
    5 × 1.04 + 0.56 = 5.76."""
    cloth = make_lay().cloths.get()
    Fabric.objects.update(shrinkage_handling="wash_first", shrinkage_length_percent=20)
    assert from_flawed(cloth, "5.76", ("1.50", "2.00")).lost_m == Decimal("0.56")
    assert samples() == ((2, pytest.approx(SHARE)),)


def test_colours_of_one_lay_count_together_and_spoilt_cloth_not_at_all() -> None:
    lay = make_lay(2)
    moss = add_plies(lay, "moss", 3)
    tell(lay.cloths.first(), 2, "2.08")
    tell(moss, 0, "1.00")
    tell(moss, 3, "3.62")
    # 5.70 m without the metre that was spoilt.
    assert samples() == ((2, pytest.approx(0.8 * 5.0 / 5.5)),)


def test_facts_come_before_nested_lays_and_rows_teach_nothing() -> None:
    nested, _ = make_lay(per_marker=4), make_lay(how="rows")
    cut = make_lay(per_marker=1)
    assert learnt(["jersey"])["jersey"].how == "the last 2 nested lays"
    tell(cut.cloths.get(), 5, "5.70")
    found = learnt(["jersey"])["jersey"]
    assert [count for count, _ in found.samples] == [1, 4]
    assert found.how == "the last lay cut and 1 nested"
    assert found.at(4) == pytest.approx(SHARE)
    # The same marker laid again is nothing new.
    again = make_lay(per_marker=4)
    Lay.objects.filter(pk=again.pk).update(marker=nested.marker)
    assert len(samples()) == 2


@pytest.mark.parametrize("used_m", ["0.19", "2.00", "7.00", "52"])
def test_a_slip_in_the_metres_teaches_nothing_but_the_marker_does(used_m: str) -> None:
    """Over a third more than planned is asked about at the table, and may be so: no other lay is estimated by it."""
    tell(make_lay().cloths.get(), 5, used_m)
    found = learnt(["jersey"])["jersey"]
    assert (found.samples, found.how) == (((2, SHARE),), "the last nested lay")
    make_lay(how="rows")
    assert len(samples()) == 1


def test_what_is_beyond_belief_here_is_asked_about_at_the_table() -> None:
    assert float(MUCH_MORE) == MOST_OF_PLAN


def test_one_lay_cut_over_plan_moves_no_estimate_of_the_others() -> None:
    """The median of what is used of a planned metre, by metres: 10 m as planned, 5 m with 4 %, 5 m with 30 % more."""
    as_planned, usual, odd = make_lay(10, per_marker=4), make_lay(per_marker=4), make_lay(per_marker=6)
    tell(odd.cloths.get(), 5, "6.70")
    before = learnt(["jersey"])["jersey"]
    assert before.at(6) == pytest.approx(SHARE / 1.3), "alone it is all that is known"
    tell(as_planned.cloths.get(), 10, "10.40")
    tell(usual.cloths.get(), 5, "5.40")
    found = learnt(["jersey"])["jersey"]
    # Half of the 20 m lies below 2 %, half above.
    assert [found.at(count) for count in (2, 4, 6)] == pytest.approx(
        [SHARE / 1.02 * 0.95, *[SHARE / 1.02] * 2]
    )


def test_lays_cut_before_anything_was_told_in_parts_count() -> None:
    lay = make_lay()
    lay.cloths.update(used_m=Decimal("5.70"))
    Lay.objects.update(cut_at=NOON)
    assert samples() == ((2, pytest.approx(0.8 * 5.0 / 5.5)),)


def test_nothing_is_known_of_a_new_fabric_and_each_fabric_stands_for_itself() -> None:
    tell(make_lay().cloths.get(), 5, "5.20")
    make_lay(fabric="rib", per_marker=7)
    found = learnt(["jersey", "rib", "linen"])
    assert {fabric: known.samples[0][0] for fabric, known in found.items()} == {"jersey": 2, "rib": 7}
    assert learnt([]) == {}


def test_the_last_twenty_count_in_four_queries() -> None:
    for _ in range(MOST_SAMPLES + 3):
        make_lay()
    tell(Lay.objects.order_by("pk").first().cloths.get(), 5, "5.70")
    with CaptureQueriesContext(connection) as seen:
        found = learnt(["jersey", "rib"])["jersey"]
    assert len(seen) == 4
    assert not any('"job"' in query["sql"] for query in seen)
    # However old it is, what was cut comes first.
    assert found.samples[0] == (2, pytest.approx(0.8 * 5.0 / 5.5))
    assert len(found.samples) == MOST_SAMPLES
    assert found.how == "the last lay cut and 19 nested"


def test_what_an_order_takes_and_a_garment_costs_is_estimated_by_it():
    """Two garments in each marker filled 80 % of it, which stands for 80 ÷ 0.95 = 84.2 % in larger ones; of the rib
    no lay was nested yet."""
    make_lay()
    make_fabric_colour("rib", "ink")
    shop, m = workshop(), Garment("110", make_options({"neck": "rib band"}), "ink", "M")
    before = work_out_needs([Demand(m, 10)], shop)
    estimate = estimate_needs([Demand(m, 10)])
    assert estimate.how == (
        "jersey from piece areas at 84 % efficiency (the last nested lay); "
        "rib from piece areas at 78 % efficiency"
    )
    jersey, rib = (need.need_m / old.need_m for need, old in zip(estimate.cloths, before.cloths, strict=True))
    assert jersey == pytest.approx(0.78 * 0.95 / 0.8)
    assert rib == 1
    (old,) = style_costs(shop.styles.values(), shop, Workroom.the())
    (new,) = style_costs(shop.styles.values(), shop, Workroom.the(), usage_learnt({"jersey", "rib"}))
    (cloth, *_), (cloth_before, *_) = new.sheet.materials, old.sheet.materials
    assert float(cloth.quantity / cloth_before.quantity) == pytest.approx(0.78 * 0.95 / 0.8)
