"""The lay's page at the table: told with one press, in parts, wrongly, by two people at once; with and without HTMX."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from planner.cutting.actions.table import LayTold, take_cut_back
from planner.cutting.models import Batch, Lay, LayFact, LayRoll, Marker
from planner.cutting.screens_lay import told_in_words
from planner.materials.models import RollFlaw, StockMove, Workroom
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON, make_fabric_colour, stock

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


def test_all_as_planned_is_one_press(helper_client: Client, lay: Lay) -> None:
    roll = roll_of(only_cloth(lay))
    LayRoll.objects.create(lay_cloth=only_cloth(lay), roll=roll, spreads=5)
    planned_m = (lay.marker.length_mm + 2 * lay.end_allowance_mm) * 5 / 1000
    for headers in ({}, HTMX):
        page = text(helper_client.get(address(lay, "lay-detail")))
        answer = helper_client.post(address(lay), as_filled_in(page), headers=headers)
        assert answer.status_code == (200 if headers else 302)
        lay.refresh_from_db()
        fact = LayFact.objects.latest("pk")
        assert lay.cut_at is not None
        assert (fact.spreads, fact.roll, fact.person.username) == (5, roll, "Hale")
        assert float(fact.used_m) == pytest.approx(planned_m, abs=0.006)
        if not headers:
            assert take_cut_back(lay, None, NOON)
    region = text(answer)
    assert region.lstrip().startswith('<div id="lay-region"')
    assert f"Lay {lay.number} is cut" in region
    assert 'hx-swap-oob="true"' in region


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


#: What is typed wrongly, and what is said of it.
WRONG: tuple[tuple[dict[str, str], str], ...] = (
    ({"spreads": "6", "used": "5 m"}, "Only 5 plies are still to be cut"),
    ({"spreads": "two", "used": "5 m"}, "a whole number. Write for example 12.<"),
    ({"spreads": "1.5", "used": "5 m"}, "whole number"),
    ({"spreads": "-1", "used": "5 m"}, "-1"),
    ({"spreads": "2", "used": "a bit"}, "a bit"),
    ({"spreads": "2", "used": ""}, "How much cloth did they take?"),
    ({"spreads": "2", "used": "0"}, "This must be more than 0"),
    ({"spreads": "", "used": ""}, "Nothing is told yet"),
    ({"spreads": "0", "used": "0,00"}, "Nothing is told yet. How many are cut?"),
    ({"spreads": "0", "used": "3 m"}, "what became of it?"),
    ({"spreads": "2", "used": "2 m", "from": "1"}, "Where does it end?"),
    ({"spreads": "2", "used": "2 m", "to": "1"}, "Where does it begin?"),
    ({"spreads": "2", "used": "2 m", "from": "2", "to": "1"}, "ends after it begins"),
    ({"spreads": "2", "used": "2 m", "from": "1", "to": "2"}, "Choose the roll the flaw is on."),
    ({"spreads": "2", "used": "2 m", "note": "x" * 301}, "At most 300"),
)


def test_what_is_wrong_is_said_at_its_field_in_few_queries_and_changes_nothing(
    helper_client: Client,
    lay: Lay,
    django_assert_max_num_queries: DjangoAssertNumQueries,
    subtests: pytest.Subtests,
) -> None:
    roll_of(only_cloth(lay))
    moves = StockMove.objects.count()
    for n, (typed, says) in enumerate(WRONG):
        with subtests.test(says):
            answer = helper_client.post(address(lay), told(lay, **typed), headers=HTMX if n % 2 else {})
            page = text(answer)
            assert (answer.status_code, says in page) == (422, True)
            for value in typed.values():
                assert not value or f'value="{value}"' in page
            assert ("This must be more than" in page) == (typed == {"spreads": "2", "used": "0"})
    wrong = as_filled_in(text(helper_client.get(address(lay, "lay-detail")))) | told(lay, "2", "many")
    with django_assert_max_num_queries(13):
        assert helper_client.post(address(lay), wrong).status_code == 422
    lay.refresh_from_db()
    assert (lay.cut_at, LayFact.objects.count(), StockMove.objects.count()) == (None, 0, moves)


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


def test_more_than_the_roll_has_is_asked_about_before_it_is_taken(helper_client: Client, lay: Lay) -> None:
    roll = roll_of(only_cloth(lay), "R1", metres="6.20")
    sent = told(lay, "2", "99 m", roll=str(roll.pk), note="long roll")
    assert "The roll really gave that much" not in text(helper_client.get(address(lay, "lay-detail")))
    for headers in ({}, HTMX):
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
    helper_client.post(address(lay), {**sent, f"really-{only_cloth(lay).pk}-0": "on"}, headers=HTMX)
    assert [fact.used_m for fact in LayFact.objects.all()] == [Decimal("6.24"), Decimal("99.00")]


def test_less_than_the_marker_is_long_is_asked_about_before_it_is_taken(
    helper_client: Client, lay: Lay
) -> None:
    # A marker of 0.696 m: two plies take 1.392 m at the least, and a tape may be 5 cm out. It is told as on its ticket:
    # 714 mm are 0.72 m, to the centimetre above.
    less = f"less-{only_cloth(lay).pk}-0"
    assert less not in text(helper_client.get(address(lay, "lay-detail")))
    for length_mm, spreads, used, headers, says in (
        (714.0, "1", "0.50 m", {}, "That is less than the marker is long (0.72 m). Is it right?"),
        (696.0, "1", "0.50 m", HTMX, "That is less than the marker is long (0.7 m). Is it right?"),
        (696.0, "2", "1.34 m", {}, "That is less than 2 plies as long as the marker (1.4 m). Is it right?"),
    ):
        Marker.objects.filter(pk=lay.marker_id).update(length_mm=length_mm)
        answer = helper_client.post(address(lay), told(lay, spreads, used), headers=headers)
        page = text(answer).replace("\N{THIN SPACE}", " ")
        assert (answer.status_code, says in page, f'value="{used}"' in page) == (422, True, True), says
        assert f'name="{less}"' in page
    # That the roll really gave so much is another question, and no answer to this one.
    other = told(lay, "2", "1.34 m", really="on")
    assert helper_client.post(address(lay), other, headers=HTMX).status_code == 422
    assert not LayFact.objects.exists()
    assert helper_client.post(address(lay), told(lay, "2", "1.36 m")).status_code == 302
    helper_client.post(address(lay), told(lay, "1", "0.5 m", less="on"), headers=HTMX)
    assert [fact.used_m for fact in LayFact.objects.order_by("pk")] == [Decimal("1.36"), Decimal("0.50")]


def test_a_lay_from_two_rolls_is_told_roll_by_roll(helper_client: Client, lay: Lay) -> None:
    cloth = only_cloth(lay)
    rolls = [roll_of(cloth, "R1", metres="6"), roll_of(cloth, "R2", metres="6")]
    for position, (roll, spreads) in enumerate(zip(rolls, (2, 3), strict=True)):
        LayRoll.objects.create(lay_cloth=cloth, roll=roll, spreads=spreads, position=position)
    filled = as_filled_in(text(helper_client.get(address(lay, "lay-detail"))))
    # Two rows together take no more than their roll has.
    own = {**filled, f"used-{cloth.pk}-1": "4 m"}
    one_roll = {**own, f"used-{cloth.pk}-0": "4 m", f"roll-{cloth.pk}-1": str(rolls[0].pk)}
    assert helper_client.post(address(lay), one_roll).status_code == 422
    assert helper_client.post(address(lay), own).status_code == 302
    assert take_cut_back(lay, None, NOON)
    seen = as_filled_in(text(helper_client.get(address(lay, "lay-detail"))))
    second = {**seen, "only": f"{cloth.pk}-1", f"used-{cloth.pk}-0": "nonsense of the other row"}
    assert helper_client.post(address(lay), second).status_code == 302
    fact = LayFact.objects.latest("pk")
    assert (fact.spreads, fact.roll) == (3, rolls[1])
    rest = as_filled_in(text(helper_client.get(address(lay, "lay-detail"))))
    assert rest[f"spreads-{cloth.pk}-0"] == "2"
    assert rest[f"roll-{cloth.pk}-0"] == str(rolls[0].pk)
    assert f"spreads-{cloth.pk}-1" not in rest
    helper_client.post(address(lay), rest)
    lay.refresh_from_db()
    assert lay.cut_at is not None
    # Two rows together may not be more than there is.
    assert only_cloth(lay).cut_spreads == 5


#: What is told of a flaw beyond the end of its roll, at which field it is said, and what. 20 m lie on the roll.
BEYOND = (
    ({"spreads": "2", "used": "2 m", "from": "50", "to": "51"}, "from", "18.0 m on this roll once that is cut"),
    ({"spreads": "2", "used": "2 m", "from": "18", "to": "18.01"}, "from", "18.0 m on this roll"),
    ({"spreads": "2", "used": "2 m", "from": "1.2", "to": "130"}, "to", "18.0 m on this roll"),
    ({"spreads": "0", "used": "0.5", "from": "19.6", "to": "20"}, "from", "19.5 m on this roll"),
    ({"spreads": "0", "used": "", "from": "20", "to": "21"}, "from", "20.0 m on this roll by the books."),
)  # fmt: skip


def test_a_flaw_is_noted_on_its_roll_and_refused_at_its_field_beyond_the_end_of_that(
    helper_client: Client, lay: Lay
) -> None:
    roll, moves = roll_of(only_cloth(lay)), StockMove.objects.count() + 1
    more = {"roll": str(roll.pk), "note": "a hole"}
    for n, (typed, field, only) in enumerate(BEYOND):
        answer = helper_client.post(address(lay), told(lay, **typed, **more), headers=HTMX if n % 2 else {})
        assert answer.status_code == 422, typed
        page = text(answer).replace("\N{THIN SPACE}", " ")
        at_field = page.partition(f'id="id_{field}-{only_cloth(lay).pk}-0_error"')[2].partition("</")[0]
        assert f"There are only {only}" in at_field
        for name, value in (typed | {"note": "a hole"}).items():
            assert name == "spreads" or not value or f'value="{value}"' in page, (typed, name)
    assert (LayFact.objects.count(), StockMove.objects.count(), RollFlaw.objects.count()) == (0, moves - 1, 0)
    # Up to the end of its roll it may be longer by what a tape is out.
    by_tape = {"roll": str(roll.pk), "from": "17.5", "to": "18.04"}
    assert helper_client.post(address(lay), told(lay, "2", "2 m", **by_tape)).status_code == 302
    flaw = {"roll": str(roll.pk), "from": "1.2", "to": "130 cm", "note": "a run"}
    page = text(helper_client.post(address(lay), told(lay, "2", "2 m", **flaw), follow=True))
    assert "the flaw is noted on its roll" in page
    assert "a run" in page
    assert [(str(f.from_m), str(f.to_m)) for f in RollFlaw.objects.order_by("pk")] == [
        ("15.50", "16.04"), ("1.20", "1.30")
    ]  # fmt: skip


def test_of_two_people_at_once_the_second_sees_what_stands_there(
    helper_client: Client, maker_client: Client, lay: Lay
) -> None:
    seen = as_filled_in(text(helper_client.get(address(lay, "lay-detail"))))
    maker_client.post(address(lay), told(lay, "2", "2 m"))
    answer = helper_client.post(address(lay), seen, headers=HTMX)
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
    answer = helper_client.post(address(lay), seen)
    assert (answer.status_code, "as cut before" in text(answer)) == (409, True)
    assert LayFact.objects.count() == 2


def test_a_lay_that_is_not_nested_yet_cannot_be_told(helper_client: Client, lay: Lay) -> None:
    Marker.objects.update(state=Marker.State.NESTING)
    answer = helper_client.post(address(lay), told(lay, "2", "2 m"), follow=True)
    assert "not nested yet" in text(answer)
    Marker.objects.update(state=Marker.State.WAITING, placements=None)
    assert "not nested yet" in text(helper_client.post(address(lay), told(lay, "2", "2 m"), headers=HTMX))
    assert not LayFact.objects.exists()


def test_from_a_part_to_its_rest_and_back(
    maker_client: Client, lay: Lay, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    for n in range(4):
        roll_of(only_cloth(lay), f"R{n}")
    ink = only_cloth(lay).fabric_colour.name
    # One ply is one ply and not plies.
    page = text(maker_client.post(address(lay), told(lay, "1", "1 m"), follow=True))
    assert f"1 ply of {ink}" in page
    assert "What is left of it, 4 plies, is then planned anew." in page
    maker_client.post(address(lay), told(lay, "3", "3.1 m"))
    # One query asks for shade lots in the whole batch: a bundle may have its small cloth from two lays.
    with django_assert_max_num_queries(13):
        page = text(maker_client.get(address(lay, "lay-detail")))
    assert f"3 plies of {ink}" in page
    assert "What is left of it, 1 ply, is then planned anew." in page
    assert "plan the rest anew" in page
    assert "1 plies" not in page
    page = text(maker_client.post(address(lay, "lay-rest"), {"anyway": "yes"}, follow=True))
    number = lay.batch.lays.count()
    assert f"The rest, 1 garment, is lay {number} now. 1 bundle was divided" in page
    assert "Cut in part: 4 of 5 plies" in page
    assert f"Lay {number}</a>" in text(maker_client.get(reverse("batch-detail", args=[lay.batch.number])))
    new = reverse("lay-detail", args=[lay.batch.number, number])
    assert new in page
    with django_assert_max_num_queries(13):
        assert "cuts the rest of" in text(maker_client.get(new, headers=HTMX))


def test_a_rest_is_taken_back_and_then_what_was_told(maker_client: Client, lay: Lay) -> None:
    maker_client.post(address(lay), told(lay, "3", "3.1 m"))
    answer = maker_client.post(address(lay, "lay-rest"), {"anyway": "yes"}, headers=HTMX)
    assert "The rest, 2 garments, is lay" in text(answer)
    said = text(maker_client.post(address(lay, "lay-uncut"), headers=HTMX))
    assert "Take that back first" in said
    back = text(maker_client.post(address(lay, "lay-rest-back"), headers=HTMX))
    assert f"lay {lay.number} goes on" in back
    assert "nothing was changed" in text(maker_client.post(address(lay, "lay-rest-back"), follow=True))
    fact = LayFact.objects.get()
    undo = reverse("lay-fact-back", args=[lay.batch.number, lay.number, fact.pk])
    assert "3.10\N{THIN SPACE}m are back in the stock" in text(maker_client.post(undo, headers=HTMX))
    assert "before; nothing was changed" in text(maker_client.post(undo, follow=True))
    assert maker_client.post(reverse("lay-fact-back", args=["B-0009", 1, fact.pk])).status_code == 404


def test_plan_and_fact_stand_side_by_side_in_metres_and_in_yards(helper_client: Client, lay: Lay) -> None:
    """In yards too a centimetre is told apart: to the eighth of a yard both would be the same."""
    page = text(helper_client.post(address(lay), told(lay, "2", "2.02 m"), follow=True))
    table = plan_and_fact(page)
    assert "2 of 5" in table
    # Two plies of 1.003 m are 2.006 m, which is no less than 2.01 m.
    assert " 2.01 m " in table
    assert "0.01 m more" in table
    Workroom.objects.update(display="imperial")
    page = text(helper_client.get(address(lay, "lay-detail")))
    table = plan_and_fact(page)
    assert " 2.2 yd " in table, "2.01 m"
    assert " 2.21 yd " in table, "2.02 m"
    assert "0.01 yd more" in table
    assert "2.21 yd" in page[page.index("What was told") :].replace("\N{THIN SPACE}", " ")
    # What is filled in has yards as well, and is as planned.
    filled = as_filled_in(page)
    number, unit = filled[f"used-{only_cloth(lay).pk}-0"].split()
    assert unit == "yd"
    assert len(number.partition(".")[2]) <= 2, "no more decimals than the centimetre has that is kept"
    page = text(helper_client.post(address(lay), filled, follow=True))
    each = (lay.marker.length_mm + 2 * lay.end_allowance_mm) / 1000
    assert float(LayFact.objects.latest("pk").used_m) == pytest.approx(3 * each, abs=0.01)
    assert "0.01 yd more" in plan_and_fact(page), "no more than before"


def plan_and_fact(page: str) -> str:
    table = page[page.index("Plan and fact") :].replace("\N{THIN SPACE}", " ")
    return re.sub(r"(<[^>]+>|\s)+", " ", table)
