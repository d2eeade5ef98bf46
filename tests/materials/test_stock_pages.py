"""Stock of cloth and notions on their pages, with and without JavaScript, by helpers too."""

from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from planner.materials.models import NotionColour, Roll, StockMove, Workroom
from tests.answers import assert_refused_at
from tests.factories import make_fabric_colour, make_notion, make_notion_colour, stock

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}
BOTH = pytest.mark.parametrize("headers", [{}, HTMX], ids=["plain", "htmx"])


def read(answer: Any) -> str:
    return answer.content.decode().replace("\N{THIN SPACE}", " ")


@BOTH
def test_a_roll_comes_in(helper_client: Client, helper: User, headers: dict[str, str]) -> None:
    colour = make_fabric_colour()
    url = reverse("cloth-receive", args=[colour.pk])
    page = read(helper_client.get(url, headers=headers))
    assert ("<html" in page) == (not headers)
    assert "A roll came in" in page
    data = {"metres": "25 yd", "shade_lot": "7A", "number": "", "full_width_mm": "59 in", "note": ""}
    answer = helper_client.post(url, data, headers=headers, follow=not headers)
    roll, move = Roll.objects.get(), StockMove.objects.get()
    assert (move.quantity, move.person, move.roll) == (Decimal("22.86"), helper, roll)
    assert (roll.shade_lot, roll.full_width_mm) == ("7A", Decimal("1498.6"))
    page = read(answer)
    assert ("<html" in page) == (not headers)
    assert f"22.86 m of jersey, ink came in on roll {roll.number}." in page
    assert "22.86 m on hand on 1 roll." in page
    assert "lot 7A" in page


@BOTH
@pytest.mark.parametrize("typed", ["100 cm", "200 cm"])
def test_a_roll_much_wider_or_narrower_than_its_cloth_is_asked_about(
    helper_client: Client, headers: dict[str, str], typed: str
) -> None:
    """The cloth is 1500 mm wide. What was typed stays, and the box to say that it is so stands beside."""
    colour = make_fabric_colour()
    url = reverse("cloth-receive", args=[colour.pk])
    assert "is_so_wide" not in read(helper_client.get(url, headers=headers))
    data = {"metres": "25 m", "shade_lot": "7A", "full_width_mm": typed}
    answer = helper_client.post(url, data, headers=headers)
    assert answer.status_code == 422
    assert not Roll.objects.exists()
    page = read(answer)
    assert (
        f"This cloth is 150 cm wide, edge to edge. If the roll is really {typed}, tick that it is so." in page
    )
    assert 'name="is_so_wide"' in page
    assert f'value="{typed}"' in page
    helper_client.post(url, {**data, "is_so_wide": "on"}, headers=headers)
    assert Roll.objects.get().full_width_mm == Decimal(typed.split()[0]) * 10


def test_a_roll_many_times_as_wide_as_its_cloth_is_a_slip(helper_client: Client) -> None:
    url = reverse("cloth-receive", args=[make_fabric_colour().pk])
    for tick in ({}, {"is_so_wide": "on"}):
        answer = helper_client.post(url, {"metres": "5", "full_width_mm": "900 cm", **tick})
        assert answer.status_code == 422
        assert "900 cm is more than 3 times as wide as this cloth, which is 150 cm." in read(answer)
    assert not Roll.objects.exists()


def test_the_two_answers_of_one_address_are_kept_apart_by_caches(helper_client: Client) -> None:
    answer = helper_client.get(reverse("colour-stock", args=[make_fabric_colour().pk]))
    assert "HX-Request" in answer["Vary"]


WRONG_ROLLS = (
    ("metres", "", "Please fill this in."),
    ("metres", "0", "more than 0 m"),
    ("metres", "-3", "less than nothing"),
    ("metres", "a lot", "is not a length"),
    ("metres", "1e300", "is not a length"),
    ("metres", "50 km", "is not a length"),
    ("metres", "20000", "at most 9999 m"),
    ("full_width_mm", "1 mm", "at least 5 cm"),
    ("shade_lot", "x" * 41, "At most 40 letters"),
    ("number", "1", "There is a roll 1 of this cloth already."),
)


def test_a_wrong_roll_is_answered_at_its_field_and_kept(helper_client: Client, subtests: Any) -> None:
    """With HTMX and without by turns."""
    colour = make_fabric_colour()
    stock(colour, 2, roll="1")
    for at, (field, typed, said) in enumerate(WRONG_ROLLS):
        with subtests.test(field, typed=typed):
            data = {"metres": "25", "shade_lot": "7A", "number": "2", field: typed}
            url = reverse("cloth-receive", args=[colour.pk])
            answer = helper_client.post(url, data, headers=HTMX if at % 2 else {})
            assert_refused_at(answer, field, said, typed)
            assert Roll.objects.count() == 1


@BOTH
def test_a_roll_is_measured_again(helper_client: Client, headers: dict[str, str]) -> None:
    roll = stock(make_fabric_colour(), 10, roll="12").roll
    url = reverse("roll-count", args=[roll.pk])
    assert "Measure roll 12 again" in read(helper_client.get(url, headers=headers))
    answer = helper_client.post(url, {"metres": "850 cm"}, headers=headers, follow=not headers)
    page = read(answer)
    assert "Roll 12: 8.5 m, 1.5 m less than the books said." in page
    assert "counted again, roll 12" in page
    assert Roll.objects.with_left().get().left_m == Decimal("8.50")


def test_a_roll_counted_as_it_is_says_so(helper_client: Client) -> None:
    roll = stock(make_fabric_colour(), 10, roll="12").roll
    answer = helper_client.post(reverse("roll-count", args=[roll.pk]), {"metres": "10"}, follow=True)
    assert "Roll 12: 10.0 m, as the books said." in read(answer)


def test_a_roll_counted_as_empty_leaves_the_list(helper_client: Client) -> None:
    roll = stock(make_fabric_colour(), 10, roll="12").roll
    answer = helper_client.post(reverse("roll-count", args=[roll.pk]), {"metres": "0"}, follow=True)
    assert list(answer.context["rolls"]) == []
    assert "0.0 m on hand." in read(answer)


@BOTH
def test_damaged_cloth_is_taken_out(helper_client: Client, headers: dict[str, str]) -> None:
    roll = stock(make_fabric_colour(), 10, roll="12").roll
    url = reverse("roll-take-out", args=[roll.pk])
    data = {"metres": "1.2", "reason": "damaged", "note": "oil at the fold"}
    page = read(helper_client.post(url, data, headers=headers, follow=not headers))
    assert "1.2 m taken off roll 12; 8.8 m left." in page
    assert "oil at the fold" in page


@BOTH
def test_more_than_the_roll_has_is_refused_and_kept(helper_client: Client, headers: dict[str, str]) -> None:
    roll = stock(make_fabric_colour(), 10, roll="12").roll
    url = reverse("roll-take-out", args=[roll.pk])
    answer = helper_client.post(url, {"metres": "11", "reason": "damaged"}, headers=headers)
    assert answer.status_code == 422
    assert "There are only 10 m on roll 12." in read(answer)
    assert 'value="11"' in read(answer)
    assert StockMove.objects.count() == 1


def test_cloth_on_no_roll_is_shown_and_measured(helper_client: Client) -> None:
    colour = make_fabric_colour()
    stock(colour, 10, roll="1")
    stock(colour, 3)
    assert "On no roll" in read(helper_client.get(reverse("colour-stock", args=[colour.pk])))
    url = reverse("cloth-count-loose", args=[colour.pk])
    page = read(helper_client.post(url, {"metres": "1"}, follow=True))
    assert "Cloth on no roll: 1.0 m, 2.0 m less than the books said." in page


def test_an_imperial_workroom_types_and_reads_yards(helper_client: Client) -> None:
    Workroom.objects.update_or_create(pk=1, defaults={"display": "imperial"})
    colour = make_fabric_colour()
    url = reverse("cloth-receive", args=[colour.pk])
    page = read(helper_client.post(url, {"metres": "10", "number": "1"}, follow=True))
    assert "10 yd of jersey, ink came in" in page
    assert StockMove.objects.get().quantity == Decimal("9.14")
    url = reverse("roll-take-out", args=[Roll.objects.get().pk])
    answer = helper_client.post(url, {"metres": "11", "reason": "damaged"})
    assert "There are only 10 yd on roll 1." in read(answer)


def test_the_stock_page_asks_the_database_the_same_number_of_times(
    helper_client: Client, helper: User, django_assert_num_queries: Any
) -> None:
    colour = make_fabric_colour()
    for n in range(60):
        stock(colour, 3, roll=str(n), person=helper)
    Workroom.the()
    # Session, person, colour, rolls, flaws, promises, on rolls, count of moves, moves, workroom.
    with django_assert_num_queries(10):
        page = read(helper_client.get(reverse("colour-stock", args=[colour.pk])))
    assert "Page 1 of 2" in page


def test_the_history_goes_on_on_its_second_page(helper_client: Client) -> None:
    colour = make_fabric_colour()
    for _ in range(51):
        stock(colour, 1)
    url = reverse("colour-stock", args=[colour.pk])
    assert len(helper_client.get(f"{url}?page=2").context["moves"]) == 1
    assert helper_client.get(f"{url}?page=999999999999999999999").status_code == 200
    assert helper_client.get(f"{url}?page=x").status_code == 200


def notion_data(**changed: str) -> dict[str, str]:
    """A notion form filled in as a person would."""
    return {
        "name": "woven label",
        "kind": "label",
        "unit": "pcs",
        "supplier": "",
        "pack": "100 labels",
        "pack_quantity": "100",
        "pack_price": "9,00",
        "waste_percent": "2 %",
        "low_quantity": "20",
        **changed,
    }


def test_a_notion_is_noted_and_has_a_colour_at_once(maker_client: Client) -> None:
    maker_client.post(reverse("notion-new"), notion_data())
    colour = NotionColour.objects.select_related("notion").get()
    assert (colour.name, colour.notion.pack_price, colour.notion.pack_quantity) == ("", 9, 100)


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("pack_quantity", "0", "more than 0"),
        ("pack_quantity", "hundred", "is not a number"),
        ("pack_price", "-9", "less than nothing"),
        ("waste_percent", "200 %", "at most 100 %"),
        ("kind", "zip", "choose one of the list"),
        ("unit", "gross", "choose one of the list"),
        ("name", "SIZE LABEL", "already"),
        ("pack", "", "Please fill this in."),
    ],
)
def test_a_wrong_notion_is_answered_at_its_field(
    maker_client: Client, field: str, typed: str, said: str
) -> None:
    make_notion("size label")
    answer = maker_client.post(reverse("notion-new"), notion_data(**{field: typed}))
    assert_refused_at(answer, field, said, typed)


@BOTH
def test_a_notion_comes_in_is_counted_and_taken_out(helper_client: Client, headers: dict[str, str]) -> None:
    colour = make_notion_colour("clear elastic 6 mm")

    def post(name: str, data: dict[str, str]) -> str:
        url = reverse(name, args=[colour.pk])
        return read(helper_client.post(url, data, headers=headers, follow=not headers))

    came_in = post("notion-receive", {"quantity": "2500 cm"})
    assert "25.0 m of clear elastic 6 mm came in." in came_in
    assert "The books lacked" not in came_in
    assert "24.0 m, 1.0 m less than the books said." in post("notion-count", {"quantity": "24"})
    assert "4.0 m of clear elastic 6 mm taken out; 20.0 m left." in post(
        "notion-take-out", {"quantity": "4", "reason": "damaged"}
    )
    assert [str(move.quantity) for move in StockMove.objects.order_by("pk")] == ["25.00", "-1.00", "-4.00"]
    # A batch takes more than the books have: what comes in next goes there first, and she hears of it.
    stock(colour, "-22.5")
    came_in = post("notion-receive", {"quantity": "4"})
    assert "4.0 m of clear elastic 6 mm came in. The books lacked 2.5 m that were taken out before" in came_in
    assert "what came in goes there first" in came_in


@BOTH
def test_pieces_are_whole(helper_client: Client, headers: dict[str, str]) -> None:
    colour = make_notion_colour("size label")
    url = reverse("notion-receive", args=[colour.pk])
    answer = helper_client.post(url, {"quantity": "2.5"}, headers=headers)
    assert answer.status_code == 422
    assert "whole number" in answer.context["form"].errors["quantity"][0]
    assert not StockMove.objects.exists()


@BOTH
def test_a_notion_gets_colours(maker_client: Client, headers: dict[str, str]) -> None:
    notion = make_notion_colour("overlock thread", "ink", "#26324a").notion
    url = reverse("notion-colour-new", args=[notion.pk])
    maker_client.post(url, {"name": "moss", "swatch": "#5d6b3f"}, headers=headers)
    again = maker_client.post(url, {"name": "Moss", "swatch": "#5d6b3f"}, headers=headers)
    assert again.status_code == 422
    assert "already" in again.context["form"].errors["name"][0]
    assert [colour.name for colour in notion.colours.all()] == ["ink", "moss"]
    moss = notion.colours.get(name="moss")
    change = reverse("notion-colour-change", args=[moss.pk])
    maker_client.post(change, {"name": "", "swatch": "#5d6b3f"}, headers=headers)
    moss.refresh_from_db()
    assert (moss.name, moss.swatch) == ("", "")


def test_a_notion_keeps_its_last_colour(maker_client: Client) -> None:
    colour = make_notion_colour("overlock thread", "ink")
    answer = maker_client.post(reverse("notion-colour-delete", args=[colour.pk]), follow=True)
    assert "keeps at least one colour" in read(answer)
    assert NotionColour.objects.count() == 1


def test_the_list_of_notions_answers_what_is_low(
    maker_client: Client, django_assert_num_queries: Any
) -> None:
    for n in range(55):
        stock(make_notion_colour(make_notion(f"tape {n:02}"), ""), 4)
    low = make_notion("size label", low_quantity=Decimal(20))
    stock(make_notion_colour(low), 12)
    Workroom.the()
    # Session, person, low, count, notions, colours, workroom.
    with django_assert_num_queries(7):
        page = read(maker_client.get(reverse("notion-list")))
    assert "size label</a> (12 pcs)" in page
    assert "Page 1 of 2" in page


def test_helpers_may_not_change_notions(helper_client: Client) -> None:
    colour = make_notion_colour("size label")
    for name, pk in [
        ("notion-change", colour.notion_id),
        ("notion-delete", colour.notion_id),
        ("notion-colour-new", colour.notion_id),
        ("notion-colour-change", colour.pk),
        ("notion-colour-delete", colour.pk),
    ]:
        assert helper_client.post(reverse(name, args=[pk]), notion_data()).status_code == 403, name
