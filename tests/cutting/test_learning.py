"""What is learnt of a fabric from lays that were cut and lays that were nested."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from planner.cutting.actions import table
from planner.cutting.actions.table import Told
from planner.cutting.learning import MOST_OF_PLAN, MOST_SAMPLES, learnt
from planner.cutting.models import Batch, Lay, LayCloth, LayGarment, Marker
from planner.cutting.table_forms import MUCH_MORE
from tests.factories import NOON, TODAY, make_fabric_colour, make_style

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
        batch=batch, number=1, mode=mode, lay_width_mm=1470, usable_width_mm=1470, one_way=True,
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
