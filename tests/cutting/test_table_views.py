"""The lay's page at the table: told with one press, in parts, wrongly, by two people at once; with and without HTMX."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from planner.cutting.actions.table import LayTold
from planner.cutting.models import Batch, Lay, LayFact, LayRoll, Marker
from planner.cutting.screens_lay import told_in_words
from planner.materials.models import RollFlaw, StockMove, Workroom
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import make_fabric_colour, stock

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


@pytest.fixture
def batch() -> Batch:
    return plies_batch(5)


@pytest.fixture
def lay(batch: Batch) -> Lay:
    """Plies of 1.003 m with their ends, so that what is told of them here is no slip."""
    found = jersey_lay(batch)
    length_mm = 1003 - 2 * found.end_allowance_mm
    Marker.objects.filter(pk=found.marker_id).update(length_mm=length_mm)
    return jersey_lay(batch)


def text(answer: object) -> str:
    return answer.content.decode()  # type: ignore[attr-defined]


def address(lay: Lay, name: str = "lay-cut") -> str:
    return reverse(name, args=[lay.batch.number, lay.number])


def as_filled_in(page: str) -> dict[str, str]:
    """What the telling form sends when its button is pressed and nothing was typed."""
    form = page[page.index('class="telling"') :]
    form = form[: form.index("</form>")]
    sent = {}
    for field in re.findall(r"<input[^>]*>", form):
        name = re.search(r'name="([^"]+)"', field)
        value = re.search(r'value="([^"]*)"', field)
        if name and name[1] != "csrfmiddlewaretoken":
            sent[name[1]] = value[1] if value else ""
    for name, options in re.findall(r'<select name="([^"]+)".*?>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options)
        sent[name] = chosen[1] if chosen else re.findall(r'value="([^"]*)"', options)[0]
    return sent


def told(lay: Lay, spreads: str, used: str, **more: str) -> dict[str, str]:
    key = f"{only_cloth(lay).pk}-0"
    return {f"spreads-{key}": spreads, f"used-{key}": used} | {f"{name}-{key}": v for name, v in more.items()}


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_all_as_planned_is_one_press(helper_client: Client, lay: Lay, headers: dict[str, str]) -> None:
    roll = roll_of(only_cloth(lay))
    LayRoll.objects.create(lay_cloth=only_cloth(lay), roll=roll, spreads=5)
    page = text(helper_client.get(address(lay, "lay-detail")))
    answer = helper_client.post(address(lay), as_filled_in(page), headers=headers)
    assert answer.status_code == (200 if headers else 302)
    lay.refresh_from_db()
    fact = LayFact.objects.get()
    planned_m = (lay.marker.length_mm + 2 * lay.end_allowance_mm) * 5 / 1000
    assert lay.cut_at is not None
    assert (fact.spreads, fact.roll, fact.person.username) == (5, roll, "Hale")
    assert float(fact.used_m) == pytest.approx(planned_m, abs=0.006)
    if headers:
        region = text(answer)
        assert region.lstrip().startswith('<div id="lay-region"')
        assert f"Lay {lay.number} is cut" in region
        assert 'hx-swap-oob="true"' in region
    else:
        assert f"Lay {lay.number} is cut" in text(helper_client.get(answer["Location"]))


def test_told_in_parts_the_page_says_how_much_is_left(helper_client: Client, lay: Lay) -> None:
    answer = helper_client.post(address(lay), told(lay, "2", "250 cm"), follow=True)
    page = text(answer)
    assert "2.50\N{THIN SPACE}m have left the stock; 3 plies of lay" in page
    assert "2 of 5 plies cut" in page
    # A yard is 914.4 mm: 2.5 m are 2.734 yd, to the centimetre that is kept 2.73.
    assert told_in_words(LayTold(lay, 2, Decimal("2.50"), Decimal("2.50"), left=3), "imperial").startswith(
        "2.73\N{THIN SPACE}yd have left the stock; "
    )
    one, two = (told_in_words(LayTold(lay, 2, Decimal(0), left=0, flaws=n), "metric") for n in (1, 2))
    assert one.endswith("is cut; the flaw is noted on its roll.")
    assert two.endswith("is cut; 2 flaws are noted on what is left of the cloth.")
    assert as_filled_in(page)[f"spreads-{only_cloth(lay).pk}-0"] == "3"
    # Helpers tell what is cut; that the rest is planned anew is for the maker to say.
    assert "plan the rest anew" not in page
    assert helper_client.post(address(lay, "lay-rest")).status_code == 403
    assert (
        text(helper_client.get(reverse("batch-detail", args=[lay.batch.number]))).count("2 of 5 plies cut")
        == 1
    )


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"spreads": "6", "used": "5 m"}, "Only 5 plies are still to be cut"),
        ({"spreads": "two", "used": "5 m"}, "a whole number. Write for example 12.<"),
        ({"spreads": "1.5", "used": "5 m"}, "whole number"),
        ({"spreads": "-1", "used": "5 m"}, "-1"),
        ({"spreads": "2", "used": "a bit"}, "a bit"),
        ({"spreads": "2", "used": ""}, "How much cloth did they take?"),
        ({"spreads": "2", "used": "0"}, "more than 0"),
        ({"spreads": "", "used": ""}, "Nothing is told yet"),
        ({"spreads": "0", "used": "3 m"}, "what became of it?"),
        ({"spreads": "2", "used": "2 m", "from": "1"}, "Where does it end?"),
        ({"spreads": "2", "used": "2 m", "to": "1"}, "Where does it begin?"),
        ({"spreads": "2", "used": "2 m", "from": "2", "to": "1"}, "ends after it begins"),
        ({"spreads": "2", "used": "2 m", "from": "1", "to": "2"}, "Choose the roll the flaw is on."),
        ({"spreads": "2", "used": "2 m", "note": "x" * 301}, "At most 300"),
    ],
)
def test_what_is_wrong_is_said_at_its_field_and_changes_nothing(
    helper_client: Client, lay: Lay, typed: dict[str, str], says: str
) -> None:
    moves = StockMove.objects.count()
    for headers in ({}, HTMX):
        answer = helper_client.post(address(lay), told(lay, **typed), headers=headers)
        assert answer.status_code == 422
        assert says in text(answer)
        for value in typed.values():
            assert not value or f'value="{value}"' in text(answer)
    lay.refresh_from_db()
    assert (lay.cut_at, LayFact.objects.count(), StockMove.objects.count()) == (None, 0, moves)


def test_a_form_sent_wrongly_is_shown_again_in_few_queries(
    helper_client: Client, lay: Lay, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    roll_of(only_cloth(lay))
    wrong = as_filled_in(text(helper_client.get(address(lay, "lay-detail")))) | told(lay, "2", "many")
    with django_assert_max_num_queries(13):
        assert helper_client.post(address(lay), wrong).status_code == 422


def test_rolls_of_the_colour_are_offered_the_promised_one_first_and_no_other(
    helper_client: Client, lay: Lay
) -> None:
    first, promised = roll_of(only_cloth(lay), "R1"), roll_of(only_cloth(lay), "R2", shade_lot="A")
    roll_of(only_cloth(lay), "R3", metres="0.00")
    moss = stock(make_fabric_colour("jersey", "moss"), "9", roll="M1").roll
    LayRoll.objects.create(lay_cloth=only_cloth(lay), roll=promised, spreads=5)
    page = text(helper_client.get(address(lay, "lay-detail")))
    offered = re.findall(r'<option value="(\d*)"', page[page.index('class="telling"') :])
    assert offered == [str(promised.pk), str(first.pk), ""]
    assert "R2, lot A, 20" in page
    answer = helper_client.post(address(lay), told(lay, "5", "5 m", roll=str(moss.pk)))
    assert answer.status_code == 422
    assert "choose one of the list" in text(answer)
    helper_client.post(address(lay), told(lay, "5", "25 m", roll=str(first.pk), really="on"))
    assert LayFact.objects.get().roll == first
    assert "The books said there was less on R1" in text(helper_client.get(address(lay, "lay-detail")))


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_more_than_the_roll_has_is_asked_about_before_it_is_taken(
    helper_client: Client, lay: Lay, headers: dict[str, str]
) -> None:
    roll = roll_of(only_cloth(lay), "R1", metres="6.20")
    sent = told(lay, "2", "99 m", roll=str(roll.pk), note="long roll")
    assert "The roll really gave that much" not in text(helper_client.get(address(lay, "lay-detail")))
    answer = helper_client.post(address(lay), sent, headers=headers)
    assert answer.status_code == 422
    page = text(answer).replace("\N{THIN SPACE}", " ")
    assert "By the books this roll has 6.2 m" in page
    assert 'value="99 m"' in page
    assert 'value="long roll"' in page
    assert f'name="really-{only_cloth(lay).pk}-0"' in page
    assert not LayFact.objects.exists()
    # By the tape the end of a roll may be a little longer than the books say.
    other = roll_of(only_cloth(lay), "R2", metres="6.20")
    by_tape = told(lay, "1", "6.24", roll=str(other.pk), much="on")
    assert helper_client.post(address(lay), by_tape).status_code == 302
    helper_client.post(address(lay), {**sent, f"really-{only_cloth(lay).pk}-0": "on"}, headers=headers)
    assert [fact.used_m for fact in LayFact.objects.all()] == [Decimal("6.24"), Decimal("99.00")]


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_less_than_the_marker_is_long_is_asked_about_before_it_is_taken(
    helper_client: Client, lay: Lay, headers: dict[str, str]
) -> None:
    # A marker of 0.696 m: two plies take 1.392 m at the least, and a tape may be 5 cm out. It is told as on its ticket.
    Marker.objects.filter(pk=lay.marker_id).update(length_mm=696.0)
    less = f"less-{only_cloth(lay).pk}-0"
    assert less not in text(helper_client.get(address(lay, "lay-detail")))
    for spreads, used, says in (
        ("1", "0.50 m", "That is less than the marker is long (0.7 m). Is it right?"),
        ("2", "1.34 m", "That is less than 2 plies as long as the marker (1.4 m). Is it right?"),
    ):
        answer = helper_client.post(address(lay), told(lay, spreads, used), headers=headers)
        page = text(answer).replace("\N{THIN SPACE}", " ")
        assert (answer.status_code, says in page, f'value="{used}"' in page) == (422, True, True)
        assert f'name="{less}"' in page
        # That the roll really gave so much is another question, and no answer to this one.
        other = told(lay, spreads, used, really="on")
        assert helper_client.post(address(lay), other, headers=headers).status_code == 422
    assert not LayFact.objects.exists()
    assert helper_client.post(address(lay), told(lay, "2", "1.36 m")).status_code == 302
    helper_client.post(address(lay), told(lay, "1", "0.5 m", less="on"), headers=headers)
    assert [fact.used_m for fact in LayFact.objects.order_by("pk")] == [Decimal("1.36"), Decimal("0.50")]


def test_the_marker_is_told_as_long_as_its_ticket_has_it(helper_client: Client, lay: Lay) -> None:
    """714 mm are 0.72 m to the centimetre above, on ticket and drawing and here."""
    Marker.objects.filter(pk=lay.marker_id).update(length_mm=714.0)
    page = text(helper_client.post(address(lay), told(lay, "1", "0.5 m"))).replace("\N{THIN SPACE}", " ")
    assert "That is less than the marker is long (0.72 m). Is it right?" in page


@pytest.mark.parametrize("none", ["0", "0 m", "0,00"])
def test_no_plies_of_no_cloth_are_nothing_told(helper_client: Client, lay: Lay, none: str) -> None:
    answer = helper_client.post(address(lay), told(lay, "0", none))
    assert answer.status_code == 422
    assert "Nothing is told yet. How many are cut?" in text(answer)
    assert "This must be more than" not in text(answer)
    assert "This must be more than 0" in text(helper_client.post(address(lay), told(lay, "1", none)))
    assert not LayFact.objects.exists()


def test_two_rows_together_take_no_more_than_their_roll_has(helper_client: Client, lay: Lay) -> None:
    cloth = only_cloth(lay)
    rolls = [roll_of(cloth, "R1", metres="6"), roll_of(cloth, "R2", metres="6")]
    for position, (roll, spreads) in enumerate(zip(rolls, (2, 3), strict=True)):
        LayRoll.objects.create(lay_cloth=cloth, roll=roll, spreads=spreads, position=position)
    filled = as_filled_in(text(helper_client.get(address(lay, "lay-detail"))))
    both = {f"used-{cloth.pk}-0": "4 m", f"used-{cloth.pk}-1": "4 m", f"roll-{cloth.pk}-1": str(rolls[0].pk)}
    assert helper_client.post(address(lay), {**filled, **both}).status_code == 422
    assert helper_client.post(address(lay), {**filled, f"used-{cloth.pk}-1": "4 m"}).status_code == 302


def test_a_lay_from_two_rolls_is_told_roll_by_roll(helper_client: Client, lay: Lay) -> None:
    cloth = only_cloth(lay)
    rolls = [roll_of(cloth, "R1"), roll_of(cloth, "R2")]
    for position, (roll, spreads) in enumerate(zip(rolls, (2, 3), strict=True)):
        LayRoll.objects.create(lay_cloth=cloth, roll=roll, spreads=spreads, position=position)
    filled = as_filled_in(text(helper_client.get(address(lay, "lay-detail"))))
    second = {**filled, "only": f"{cloth.pk}-1", f"used-{cloth.pk}-0": "nonsense of the other row"}
    assert helper_client.post(address(lay), second).status_code == 302
    fact = LayFact.objects.get()
    assert (fact.spreads, fact.roll) == (3, rolls[1])
    page = text(helper_client.get(address(lay, "lay-detail")))
    rest = as_filled_in(page)
    assert rest[f"spreads-{cloth.pk}-0"] == "2"
    assert rest[f"roll-{cloth.pk}-0"] == str(rolls[0].pk)
    assert f"spreads-{cloth.pk}-1" not in rest
    helper_client.post(address(lay), rest)
    lay.refresh_from_db()
    assert lay.cut_at is not None
    # Two rows together may not be more than there is.
    assert sum(fact.spreads for fact in LayFact.objects.all()) == 5


def test_one_ply_is_one_ply_and_not_plies(maker_client: Client, lay: Lay) -> None:
    page = text(maker_client.post(address(lay), told(lay, "1", "1 m"), follow=True))
    assert f"1 ply of {only_cloth(lay).fabric_colour.name}" in page
    assert "What is left of it, 4 plies, is then planned anew." in page
    page = text(maker_client.post(address(lay), told(lay, "3", "3 m"), follow=True))
    assert f"3 plies of {only_cloth(lay).fabric_colour.name}" in page
    assert "What is left of it, 1 ply, is then planned anew." in page
    assert "1 plies" not in page


def test_a_flaw_is_noted_on_its_roll(helper_client: Client, lay: Lay) -> None:
    roll = roll_of(only_cloth(lay))
    flaw = {"roll": str(roll.pk), "from": "1.2", "to": "130 cm", "note": "a run"}
    page = text(helper_client.post(address(lay), told(lay, "2", "2 m", **flaw), follow=True))
    assert "the flaw is noted on its roll" in page
    assert "a run" in page
    assert [(f.from_m, f.to_m) for f in RollFlaw.objects.all()] == [(Decimal("1.20"), Decimal("1.30"))]


@pytest.mark.parametrize(
    ("typed", "field", "only"),
    [
        # 20 m lie on the roll, 2 m are cut off it.
        ({"spreads": "2", "used": "2 m", "from": "50", "to": "51"}, "from", "18.0 m on this roll once that is cut"),
        ({"spreads": "2", "used": "2 m", "from": "18", "to": "18.01"}, "from", "18.0 m on this roll"),
        ({"spreads": "2", "used": "2 m", "from": "1.2", "to": "130"}, "to", "18.0 m on this roll"),
        ({"spreads": "0", "used": "0.5", "from": "19.6", "to": "20"}, "from", "19.5 m on this roll"),
        ({"spreads": "0", "used": "", "from": "20", "to": "21"}, "from", "20.0 m on this roll by the books."),
    ],
)  # fmt: skip
def test_a_flaw_beyond_what_is_left_on_its_roll_is_refused_at_its_field(
    helper_client: Client, lay: Lay, typed: dict[str, str], field: str, only: str
) -> None:
    roll, moves = roll_of(only_cloth(lay)), StockMove.objects.count()
    typed |= {"roll": str(roll.pk), "note": "a hole"}
    for headers in ({}, HTMX):
        answer = helper_client.post(address(lay), told(lay, **typed), headers=headers)
        assert answer.status_code == 422
        page = text(answer).replace("\N{THIN SPACE}", " ")
        at_field = page.partition(f'id="id_{field}-{only_cloth(lay).pk}-0_error"')[2].partition("</")[0]
        assert f"There are only {only}" in at_field
        for name in ("used", "from", "to", "note"):
            assert not typed[name] or f'value="{typed[name]}"' in page
    assert (LayFact.objects.count(), StockMove.objects.count(), RollFlaw.objects.count()) == (0, moves, 0)


def test_a_flaw_up_to_the_end_of_its_roll_may_be_longer_by_what_a_tape_is_out(
    helper_client: Client, lay: Lay
) -> None:
    flaw = {"roll": str(roll_of(only_cloth(lay)).pk), "from": "17.5", "to": "18.04"}
    assert helper_client.post(address(lay), told(lay, "2", "2 m", **flaw)).status_code == 302
    assert RollFlaw.objects.get().from_m == Decimal("17.50")


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_of_two_people_at_once_the_second_sees_what_stands_there(
    helper_client: Client, maker_client: Client, lay: Lay, headers: dict[str, str]
) -> None:
    seen = as_filled_in(text(helper_client.get(address(lay, "lay-detail"))))
    maker_client.post(address(lay), told(lay, "2", "2 m"))
    answer = helper_client.post(address(lay), seen, headers=headers)
    assert answer.status_code == 409
    assert "Somebody told something of this lay meanwhile. Nothing was changed. What was told" in text(answer)
    assert "2 of 5 plies cut" in text(answer)
    # What was typed stands there still, and that it no longer goes.
    now = as_filled_in(text(answer))
    told_by_form = {name: now[name] for name in now if name == "so_far" or name.startswith("filled-")}
    assert now == seen | told_by_form
    assert "Only 3 plies are still to be cut of this colour." in text(answer)
    assert only_cloth(lay).cut_spreads == 2
    maker_client.post(address(lay), told(lay, "3", "3 m"))
    answer = helper_client.post(address(lay), seen, headers=headers)
    assert (answer.status_code, "as cut before" in text(answer)) == (409, True)
    assert LayFact.objects.count() == 2


def test_a_lay_that_is_not_nested_yet_cannot_be_told(helper_client: Client, lay: Lay) -> None:
    Marker.objects.update(state=Marker.State.NESTING)
    answer = helper_client.post(address(lay), told(lay, "2", "2 m"), follow=True)
    assert "not nested yet" in text(answer)
    Marker.objects.update(state=Marker.State.WAITING, placements=None)
    assert "not nested yet" in text(helper_client.post(address(lay), told(lay, "2", "2 m"), headers=HTMX))
    assert not LayFact.objects.exists()


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_from_a_part_to_its_rest_and_back(maker_client: Client, lay: Lay, headers: dict[str, str]) -> None:
    maker_client.post(address(lay), told(lay, "3", "3.1 m"))
    assert "plan the rest anew" in text(maker_client.get(address(lay, "lay-detail")))
    page = text(maker_client.post(address(lay, "lay-rest"), {"anyway": "yes"}, headers=headers, follow=True))
    number = lay.batch.lays.count()
    assert f"The rest, 2 garments, is lay {number} now. 1 bundle was divided" in page
    assert "Cut in part: 3 of 5 plies" in page
    assert f"Lay {number}</a>" in text(maker_client.get(reverse("batch-detail", args=[lay.batch.number])))
    new = reverse("lay-detail", args=[lay.batch.number, number])
    assert new in page
    assert "cuts the rest of" in text(maker_client.get(new, headers=headers))
    said = text(maker_client.post(address(lay, "lay-uncut"), headers=headers, follow=True))
    assert "Take that back first" in said
    back = text(maker_client.post(address(lay, "lay-rest-back"), headers=headers, follow=True))
    assert f"lay {lay.number} goes on" in back
    assert "nothing was changed" in text(maker_client.post(address(lay, "lay-rest-back"), follow=True))
    fact = LayFact.objects.get()
    undo = reverse("lay-fact-back", args=[lay.batch.number, lay.number, fact.pk])
    assert "3.10\N{THIN SPACE}m are back in the stock" in text(
        maker_client.post(undo, headers=headers, follow=True)
    )
    assert "before; nothing was changed" in text(maker_client.post(undo, follow=True))
    assert maker_client.post(reverse("lay-fact-back", args=["B-0009", 1, fact.pk])).status_code == 404


def test_plan_and_fact_stand_side_by_side(helper_client: Client, lay: Lay) -> None:
    page = text(helper_client.post(address(lay), told(lay, "2", "2.51 m"), follow=True))
    table = re.sub(r"<[^>]+>|\s+", " ", page[page.index("Plan and fact") :])
    assert "2 of 5" in table
    # Two plies of 1.003 m are 2.006 m, which is no less than 2.01 m.
    assert "2.01" in table
    assert "0.5 m more" in table.replace("\N{THIN SPACE}", " ")


def test_yards_are_filled_in_where_the_workroom_has_them(helper_client: Client, lay: Lay) -> None:
    Workroom.objects.update(display="imperial")
    filled = as_filled_in(text(helper_client.get(address(lay, "lay-detail"))))
    used = filled[f"used-{only_cloth(lay).pk}-0"]
    number, unit = used.split()
    assert unit == "yd"
    assert len(number.partition(".")[2]) <= 2, "no more decimals than the centimetre has that is kept"
    page = text(helper_client.post(address(lay), filled, follow=True))
    each = (lay.marker.length_mm + 2 * lay.end_allowance_mm) / 1000
    assert float(LayFact.objects.get().used_m) == pytest.approx(5 * each, abs=0.01)
    table = re.sub(r"<[^>]+>|\s+", " ", page[page.index("Plan and fact") :])
    assert "as planned" in table


def test_in_yards_plan_and_fact_tell_a_centimetre_apart(helper_client: Client, lay: Lay) -> None:
    """To the eighth of a yard both would be the same, and "0 yd more" beside them."""
    Workroom.objects.update(display="imperial")
    page = text(helper_client.post(address(lay), told(lay, "2", "2.02 m"), follow=True))
    table = re.sub(r"<[^>]+>|\s+", " ", page[page.index("Plan and fact") :]).replace("\N{THIN SPACE}", " ")
    # Two plies of 1.003 m are 2.01 m to the centimetre.
    assert " 2.2 yd " in table, "2.01 m"
    assert " 2.21 yd " in table, "2.02 m"
    assert "0.01 yd more" in table
    assert "2.21 yd" in page[page.index("What was told") :].replace("\N{THIN SPACE}", " ")


def test_the_page_takes_a_fixed_number_of_queries(
    maker_client: Client, lay: Lay, django_assert_max_num_queries: object
) -> None:
    for n in range(4):
        roll_of(only_cloth(lay), f"R{n}")
    maker_client.post(address(lay), told(lay, "2", "2 m"))
    maker_client.post(address(lay), told(lay, "1", "1 m"))
    # One of them asks for shade lots in the whole batch: a bundle may have its small cloth from two lays.
    with django_assert_max_num_queries(13):  # type: ignore[operator]
        maker_client.get(address(lay, "lay-detail"))
    maker_client.post(address(lay, "lay-rest"), {"anyway": "yes"})
    with django_assert_max_num_queries(13):  # type: ignore[operator]
        maker_client.get(address(lay, "lay-detail"))
