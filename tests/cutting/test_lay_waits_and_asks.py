"""What a lay waits for is said on its page, its lengths are rounded up alike, much more than planned is asked about."""

from __future__ import annotations

import math
import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.marker_store import read_marker
from planner.cutting.models import Lay, LayFact, LayRoll, Marker
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of

pytestmark = pytest.mark.django_db
THIN = "\N{THIN SPACE}"


@pytest.fixture
def lay() -> Lay:
    """Five plies of 0.703 m each, of which the marker is 0.663 m."""
    found = jersey_lay(plies_batch(5))
    Lay.objects.filter(pk=found.pk).update(end_allowance_mm=20.0)
    Marker.objects.filter(pk=found.marker_id).update(length_mm=663.0)
    return found


def page_of(client: Client, lay: Lay) -> str:
    return plain(client.get(reverse("lay-detail", args=[lay.batch.number, lay.number])))


def plain(answer: object) -> str:
    return answer.content.decode().replace(THIN, " ")  # type: ignore[attr-defined]


def tell(client: Client, lay: Lay, spreads: str, used: str, **more: str) -> object:
    key = f"{only_cloth(lay).pk}-0"
    typed = {f"spreads-{key}": spreads, f"used-{key}": used}
    typed |= {f"{name}-{key}": value for name, value in more.items()}
    address = reverse("lay-cut", args=[lay.batch.number, lay.number])
    return client.post(address, typed)


def test_what_a_lay_waits_for_stands_at_its_head(
    helper_client: Client, maker_client: Client, lay: Lay
) -> None:
    cloth = only_cloth(lay)
    assert "Waits for cloth" not in page_of(helper_client, lay)
    roll = roll_of(cloth, "R1")
    LayRoll.objects.create(lay_cloth=cloth, roll=roll, spreads=2)
    LayRoll.objects.create(lay_cloth=cloth, roll=None, spreads=3, position=1)
    page = page_of(helper_client, lay)
    # 3 × 0.703 m = 2.109 m, which is no less than 2.11 m.
    assert f"</strong> 3 plies of {cloth.fabric_colour.name} (2.11 m) still to be bought" in page
    assert page.index("Waits for cloth") < page.index('id="h-cut"')
    assert "planned: cloth still to be bought" in page
    assert reverse("buy-page") not in page[page.index("waits-for") : page.index('id="h-cut"')]
    assert reverse("buy-page") in page_of(maker_client, lay).partition("waits-for")[2]
    # Told all the same, as from cloth nobody booked in, nothing is waited for any more.
    address = reverse("lay-cut", args=[lay.batch.number, lay.number])
    sent = {f"spreads-{cloth.pk}-1": "3", f"used-{cloth.pk}-1": "2.2 m", "only": f"{cloth.pk}-1"}
    assert helper_client.post(address, sent).status_code == 302
    assert "Waits for cloth" not in page_of(helper_client, lay)


def test_one_ply_is_as_long_in_the_form_as_at_the_head(helper_client: Client, lay: Lay) -> None:
    cloth = only_cloth(lay)
    cloth.spreads = 1
    cloth.save(update_fields=["spreads"])
    marker_mm = read_marker(lay.marker).length_mm  # type: ignore[union-attr]
    Marker.objects.filter(pk=lay.marker_id).update(length_mm=marker_mm)
    # 3 mm more than a whole centimetre: rounded down, a ply would come out too short.
    spread_mm = math.ceil(marker_mm / 10) * 10 + 13
    Lay.objects.filter(pk=lay.pk).update(end_allowance_mm=(spread_mm - marker_mm) / 2)
    up = f"{(spread_mm + 7) / 1000:.2f}"
    shown = up.removesuffix("0")
    page = page_of(helper_client, lay)
    assert f"<strong>{shown} m</strong> to spread" in page
    assert f"1 ply of {shown} m</legend>" in page
    assert f"{shown} m of cloth as planned" in page
    assert re.search(rf'name="used-{cloth.pk}-0" value="{shown}0? m"', page)
    tell(helper_client, lay, "1", f"{up} m")
    assert f'data-label="Planned for it" class="num">{shown} m' in page_of(helper_client, lay)


def test_much_more_than_planned_is_asked_about_once(helper_client: Client, lay: Lay) -> None:
    assert "so much cloth was used" not in page_of(helper_client, lay)
    # Two plies take 1.406 m; a third more and 5 cm by the tape are 1.92 m.
    answer = tell(helper_client, lay, "2", "1.95 m")
    page = plain(answer)
    assert answer.status_code == 422  # type: ignore[attr-defined]
    assert "That is over a third more than planned for 2 plies (1.41 m). Is it right?" in page
    assert "It is right: so much cloth was used" in page
    assert 'value="1.95 m"' in page
    assert not LayFact.objects.exists()
    assert tell(helper_client, lay, "2", "1.95 m", much="on").status_code == 302  # type: ignore[attr-defined]
    assert tell(helper_client, lay, "2", "1.9 m").status_code == 302  # type: ignore[attr-defined]
    assert [fact.used_m for fact in LayFact.objects.order_by("pk")] == [Decimal("1.95"), Decimal("1.90")]


def test_more_than_the_roll_has_is_one_question_not_two(helper_client: Client, lay: Lay) -> None:
    roll = roll_of(only_cloth(lay), "R1", metres="3")
    page = plain(tell(helper_client, lay, "2", "9 m", roll=str(roll.pk)))
    assert "By the books this roll has 3.0 m" in page
    assert "over a third more" not in page
    answer = tell(helper_client, lay, "2", "9 m", roll=str(roll.pk), really="on")
    assert answer.status_code == 302  # type: ignore[attr-defined]
