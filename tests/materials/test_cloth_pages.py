"""The pages of cloth, with and without JavaScript."""

import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from planner.materials.models import Fabric, FabricColour, Workroom
from planner.materials.specs import cloth_of
from tests.answers import assert_all_refused, assert_refused_at, in_few_forms
from tests.factories import make_fabric, make_fabric_colour, make_style, stock

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}


def fabric_data(**changed: str) -> dict[str, str]:
    """A fabric form filled in as a person would."""
    return {
        "name": "ribbed jersey",
        "composition": "95 % cotton, 5 % elastane",
        "supplier": "",
        "full_width_mm": "60 in",
        "selvedge_mm": "1,5 cm",
        "weight_gsm": "5.3 oz/yd2",
        "stretch_percent": "40 %",
        "one_way": "on",
        "shrinkage_length_percent": "5",
        "shrinkage_width_percent": "3,5",
        "shrinkage_handling": "wash_first",
        "sold_by": "metre",
        "pack_quantity": "0.1",
        "minimum_quantity": "50 cm",
        "price": "12,50",
        "low_m": "5 m",
        "end_allowance_mm": "20",
        "damage_percent": "2",
        "lay_open": "on",
        **changed,
    }


def test_a_fabric_is_noted_in_whatever_units(maker_client: Client) -> None:
    answer = maker_client.post(reverse("fabric-new"), fabric_data())
    fabric = Fabric.objects.get()
    assert answer["Location"] == reverse("fabric-detail", args=[fabric.pk])
    assert (fabric.full_width_mm, fabric.selvedge_mm, fabric.weight_gsm) == (
        Decimal("1524"),
        Decimal("15"),
        Decimal("179.7"),
    )
    assert (fabric.shrinkage_width_percent, fabric.price) == (Decimal("3.5"), Decimal("12.50"))
    assert (fabric.pack_quantity, fabric.minimum_quantity, fabric.low_m) == (
        Decimal("0.10"),
        Decimal("0.50"),
        Decimal("5.00"),
    )
    assert (fabric.one_way, fabric.shades) == (True, False)


def test_cloth_says_that_it_shades(maker_client: Client) -> None:
    assert (
        "pieces that a style marks “side by side”" in maker_client.get(reverse("fabric-new")).content.decode()
    )
    page = maker_client.post(reverse("fabric-new"), fabric_data(shades="on"), follow=True).content.decode()
    assert "<dt>Shades</dt>" in page
    assert cloth_of(FabricColour(fabric=Fabric.objects.get(), name="ink")).shades


def test_what_is_sold_by_weight_or_roll_is_typed_so(maker_client: Client) -> None:
    url = reverse("fabric-new")
    maker_client.post(url, fabric_data(name="a", sold_by="kg", pack_quantity="500 g", minimum_quantity="1"))
    maker_client.post(
        url, fabric_data(name="b", sold_by="roll", pack_quantity="25 yd", minimum_quantity="2 rolls")
    )
    by_weight, by_roll = Fabric.objects.order_by("name")
    assert (by_weight.pack_quantity, by_weight.minimum_quantity) == (Decimal("0.50"), Decimal("1"))
    assert (by_roll.pack_quantity, by_roll.minimum_quantity) == (Decimal("22.86"), Decimal("2"))
    page = maker_client.get(reverse("fabric-change", args=[by_weight.pk])).content.decode()
    assert 'value="0.5 kg"' in page
    assert 'value="2 rolls"' in maker_client.get(reverse("fabric-change", args=[by_roll.pk])).content.decode()


@pytest.mark.parametrize("display", ["metric", "imperial"])
def test_what_stands_in_a_new_form_for_lengths_is_no_hindrance_where_weight_or_rolls_are_chosen(
    maker_client: Client, display: str
) -> None:
    Workroom.objects.update_or_create(pk=1, defaults={"display": display})
    url = reverse("fabric-new")
    shown = maker_client.get(url).context["form"].initial
    untouched = {name: shown[name] for name in ("pack_quantity", "minimum_quantity")}
    rest = {"end_allowance_mm": "20 mm"}
    assert untouched["minimum_quantity"] == ("0 yd" if display == "imperial" else "0 m")
    for sold_by, asked in (
        ("kg", "Sold by weight in steps of what?"),
        ("roll", "How much cloth is on a roll?"),
    ):
        answer = maker_client.post(url, fabric_data(name=sold_by, sold_by=sold_by, **untouched, **rest))
        assert list(answer.context["form"].errors) == ["pack_quantity"]
        assert asked in answer.content.decode()
        said = "0.5 kg" if sold_by == "kg" else "25 m"
        data = fabric_data(name=sold_by, sold_by=sold_by, **{**untouched, **rest, "pack_quantity": said})
        assert maker_client.post(url, data).status_code == 302
    assert list(Fabric.objects.order_by("name").values_list("pack_quantity", "minimum_quantity")) == [
        (Decimal("0.50"), 0),
        (Decimal(25), 0),
    ]


WRONG_FIGURES = (
    ("full_width_mm", "-150", "less than nothing"),
    ("full_width_mm", "wide", "is not a length"),
    ("full_width_mm", "1e300", "is not a length"),
    ("full_width_mm", "", "Please fill this in."),
    ("full_width_mm", "900 m", "at most 1000 cm"),
    ("selvedge_mm", "76.2 cm", "at most 500 mm"),
    ("shrinkage_length_percent", "200 %", "at most 50 %"),
    ("shrinkage_width_percent", "-1", "less than nothing"),
    ("weight_gsm", "0", "more than 0 gsm"),
    ("weight_gsm", "150 cm", "is not a weight"),
    ("price", "dear", "is not a number"),
    ("price", "-1", "less than nothing"),
    ("pack_quantity", "0", "more than 0"),
    ("pack_quantity", "2 kg", "is not a length"),
    ("minimum_quantity", "some", "is not a length"),
    ("sold_by", "barrel", "choose one of the list"),
    ("supplier", "999", "choose one of the list"),
    ("low_m", "much", "is not a length"),
    ("name", "", "Please fill this in."),
    ("repeat_length_mm", "0", "at least 0.1 cm"),
    ("repeat_width_mm", "3 m", "at most 200 cm"),
    ("repeat_width_mm", "broad", "is not a length"),
)


def test_a_wrong_figure_is_answered_at_its_field_and_kept(maker_client: Client) -> None:
    for wrong in in_few_forms(WRONG_FIGURES):
        typed = {field: figure for field, figure, _ in wrong}
        answer = maker_client.post(reverse("fabric-new"), fabric_data(**typed))
        form, page = assert_all_refused(answer, wrong), answer.content.decode()
        assert form["composition"].value() == "95 % cotton, 5 % elastane"
        assert all(f'aria-describedby="id_{field}' in page for field in typed)
        assert not Fabric.objects.exists()


def test_a_fabric_says_how_it_may_be_laid(maker_client: Client) -> None:
    data = fabric_data(
        lay_open="", lay_folded="on", is_tube="on", repeat_length_mm="6,4 cm", repeat_width_mm=""
    )
    assert maker_client.post(reverse("fabric-new"), data).status_code == 302
    fabric = Fabric.objects.get()
    assert (fabric.lay_open, fabric.lay_face_to_face, fabric.lay_folded, fabric.is_tube) == (
        False,
        False,
        True,
        True,
    )
    assert (fabric.repeat_length_mm, fabric.repeat_width_mm) == (Decimal("64"), None)
    page = maker_client.get(reverse("fabric-detail", args=[fabric.pk])).content.decode()
    assert "a tube; folded lengthwise, or as a tube" in page
    assert re.search(
        r"comes again every 6\.4\s*cm along", page.replace("\u202f", " ").replace("&#8239;", " ")
    )
    form = maker_client.get(reverse("fabric-change", args=[fabric.pk])).content.decode()
    assert re.search(r'name="repeat_length_mm" value="6\.4 cm"', form)
    assert "turn it end for end before it is laid face down" in form


def test_some_way_of_laying_is_needed(maker_client: Client) -> None:
    answer = maker_client.post(reverse("fabric-new"), fabric_data(lay_open=""))
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["lay_open"]
    assert "Tick at least one way" in answer.content.decode()
    assert not Fabric.objects.exists()


def test_a_tube_is_not_laid_face_to_face(maker_client: Client) -> None:
    answer = maker_client.post(reverse("fabric-new"), fabric_data(is_tube="on", lay_face_to_face="on"))
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["lay_face_to_face"]
    assert "lies in two layers already" in answer.content.decode()
    assert not Fabric.objects.exists()


def test_selvedges_may_not_eat_the_width(maker_client: Client) -> None:
    data = fabric_data(full_width_mm="30 cm", selvedge_mm="15 cm")
    answer = maker_client.post(reverse("fabric-new"), data)
    assert "leave nothing of the cloth" in answer.context["form"].errors["selvedge_mm"][0]
    assert 'value="15 cm"' in answer.content.decode()


def test_a_name_of_two_million_letters_is_answered_at_its_field(maker_client: Client) -> None:
    answer = maker_client.post(reverse("fabric-new"), fabric_data(name="x" * 2_000_000))
    assert answer.status_code == 422
    assert answer.context["form"].errors["name"] == ["At most 120 letters, please; this has 2000000."]


def test_a_name_of_five_million_letters_changes_nothing(maker_client: Client) -> None:
    answer = maker_client.post(reverse("fabric-new"), fabric_data(name="x" * 5_000_000))
    assert answer.status_code == 422
    assert "name" in answer.context["form"].errors
    assert not Fabric.objects.exists()


def test_a_name_is_given_once_in_whatever_letters(maker_client: Client) -> None:
    make_fabric("Ribbed  jersey".replace("  ", " "))
    answer = maker_client.post(reverse("fabric-new"), fabric_data(name=" ribbed   JERSEY "))
    assert "There is “ribbed JERSEY” already" in answer.context["form"].errors["name"][0]


def test_saving_unchanged_changes_nothing_even_in_inches(maker_client: Client) -> None:
    fabric = make_fabric(pack_quantity=Decimal("0.5"), minimum_quantity=Decimal("3"))
    before = Fabric.objects.values().get()
    Workroom.objects.update_or_create(pk=1, defaults={"display": "imperial"})
    url = reverse("fabric-change", args=[fabric.pk])
    form = maker_client.get(url).context["form"]
    sent = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in sent.items() if value not in (None, False)}
    shown = {name: form.fields[name].prepare_value(value) for name, value in sent.items()}
    assert shown["full_width_mm"] == "59.055 in"
    assert maker_client.post(url, shown).status_code == 302
    assert Fabric.objects.values().get() == before


def test_the_facts_follow_what_is_typed_and_keep_nothing(maker_client: Client) -> None:
    data = fabric_data(full_width_mm="150", weight_gsm="180 gsm", price="20", sold_by="kg", pack_quantity="1")
    page = maker_client.get(reverse("fabric-facts"), data, headers=HTMX).content.decode()
    assert "<html" not in page
    assert "147\N{THIN SPACE}cm" in page
    assert "0.270 kg a metre" in page
    assert "3.704 m a kilogram" in page
    assert "5.40\N{THIN SPACE}EUR a metre" in page
    assert not Fabric.objects.exists()


def test_where_the_workroom_measures_in_yards_so_do_the_facts(maker_client: Client) -> None:
    """0.27 kg a metre × 0.9144 ÷ 0.45359237 = 0.5443 lb a yard; 9.07 a pound are 4.94 a yard."""
    Workroom.objects.update_or_create(pk=1, defaults={"display": "imperial"})
    data = fabric_data(
        full_width_mm="150 cm", weight_gsm="180 gsm", price="9.07", sold_by="kg", pack_quantity="1 kg"
    )
    page = maker_client.get(reverse("fabric-facts"), data, headers=HTMX).content.decode()
    assert "0.544 lb a yard" in page
    assert "1.837 yd a pound" in page
    assert "4.94\N{THIN SPACE}EUR a yard" in page
    assert "for 10\N{THIN SPACE}yd on the table" in page
    assert "metre" not in page


def test_the_facts_leave_out_what_is_wrong(maker_client: Client) -> None:
    data = fabric_data(full_width_mm="wide", price="")
    page = maker_client.get(reverse("fabric-facts"), data).content.decode()
    assert "needs width and selvedge" in page


def test_the_list_answers_what_is_low(maker_client: Client) -> None:
    fabric = make_fabric("voile", low_m=Decimal(5))
    stock(make_fabric_colour(fabric, "ink"), 4)
    page = maker_client.get(reverse("fabric-list")).content.decode()
    assert re.search(r"Low: <a[^>]*>voile, ink</a> \(4.0\u2009m\)", page)


def test_an_empty_list_teaches_the_next_step(maker_client: Client, helper_client: Client) -> None:
    assert "Add the first fabric" in maker_client.get(reverse("fabric-list")).content.decode()
    assert "Add the first fabric" not in helper_client.get(reverse("fabric-list")).content.decode()


@pytest.mark.parametrize("headers", [{}, HTMX], ids=["plain", "htmx"])
def test_a_colour_is_added_and_renamed(maker_client: Client, headers: dict[str, str]) -> None:
    fabric = make_fabric()
    url = reverse("colour-new", args=[fabric.pk])
    form_page = maker_client.get(url, headers=headers).content.decode()
    assert ("<html" in form_page) == (not headers)
    assert f'action="{url}"' in form_page
    answer = maker_client.post(url, {"name": "moss", "swatch": "#5d6b3f"}, headers=headers)
    colour = FabricColour.objects.get()
    assert (colour.name, colour.swatch, colour.fabric) == ("moss", "#5d6b3f", fabric)
    if headers:
        assert 'id="colours"' in answer.content.decode()
        assert "moss is saved." in answer.content.decode()
    else:
        assert answer["Location"] == reverse("fabric-detail", args=[fabric.pk])
    change = reverse("colour-change", args=[colour.pk])
    maker_client.post(change, {"name": "fern", "swatch": "#5d6b3f"}, headers=headers)
    assert FabricColour.objects.get().name == "fern"


@pytest.mark.parametrize("headers", [{}, HTMX], ids=["plain", "htmx"])
@pytest.mark.parametrize(
    ("data", "field"),
    [
        ({"name": " INK ", "swatch": "#000000"}, "name"),
        ({"name": "", "swatch": "#000000"}, "name"),
        ({"name": "x" * 61, "swatch": "#000000"}, "name"),
        ({"name": "moss", "swatch": "green"}, "swatch"),
        ({"name": "moss", "swatch": "#00000g"}, "swatch"),
    ],
)
def test_a_wrong_colour_is_answered_at_its_field(
    maker_client: Client, headers: dict[str, str], data: dict[str, Any], field: str
) -> None:
    colour = make_fabric_colour("jersey", "ink")
    answer = maker_client.post(reverse("colour-new", args=[colour.fabric_id]), data, headers=headers)
    assert_refused_at(answer, field, typed=data[field])
    assert FabricColour.objects.count() == 1


def test_a_colour_may_keep_its_name(maker_client: Client) -> None:
    colour = make_fabric_colour("jersey", "ink")
    url = reverse("colour-change", args=[colour.pk])
    assert maker_client.post(url, {"name": "ink", "swatch": "#111111"}).status_code == 302


def test_a_used_fabric_stays_and_says_why(maker_client: Client) -> None:
    make_style("110", "box top")
    fabric = Fabric.objects.get(name="jersey")
    answer = maker_client.post(reverse("fabric-delete", args=[fabric.pk]), follow=True)
    assert "jersey cannot be deleted: it is held by styles (110 box top)." in answer.content.decode()


def test_an_unused_fabric_is_deleted_after_asking(maker_client: Client) -> None:
    fabric = make_fabric_colour().fabric
    page = maker_client.get(reverse("fabric-detail", args=[fabric.pk])).content.decode()
    assert 'data-ask="Delete jersey with all its colours?"' in page
    answer = maker_client.post(reverse("fabric-delete", args=[fabric.pk]), follow=True)
    assert "jersey is deleted." in answer.content.decode()
    assert not Fabric.objects.exists()


@pytest.mark.parametrize("name", ["fabric-delete", "colour-delete"])
def test_nothing_is_deleted_by_looking(maker_client: Client, name: str) -> None:
    colour = make_fabric_colour()
    pk = colour.fabric_id if name == "fabric-delete" else colour.pk
    assert maker_client.get(reverse(name, args=[pk])).status_code == 405


def test_helpers_look_and_do_not_change(helper_client: Client) -> None:
    colour = make_fabric_colour()
    for name in ("fabric-list", "notion-list", "supplier-list"):
        assert helper_client.get(reverse(name)).status_code == 200
    page = helper_client.get(reverse("fabric-detail", args=[colour.fabric_id])).content.decode()
    assert "Add a colour" not in page
    assert "Change the fabric" not in page
    fabric_pk = colour.fabric_id
    for name, args in [
        ("fabric-new", []),
        ("fabric-change", [fabric_pk]),
        ("fabric-delete", [fabric_pk]),
        ("colour-new", [fabric_pk]),
        ("colour-change", [colour.pk]),
        ("colour-delete", [colour.pk]),
        ("notion-new", []),
        ("supplier-new", []),
        ("workroom", []),
    ]:
        assert helper_client.post(reverse(name, args=args), {"name": "x"}).status_code == 403, name
    assert Fabric.objects.get().name == "jersey"


def test_who_is_not_signed_in_is_sent_to_sign_in(client: Client, db: None) -> None:
    assert client.get(reverse("fabric-list")).status_code == 302


def test_the_list_asks_the_database_the_same_number_of_times(
    maker_client: Client, django_assert_num_queries: Any
) -> None:
    for n in range(51):
        for colour in ("ink", "moss"):
            stock(make_fabric_colour(make_fabric(f"cloth {n:02}", low_m=Decimal(5)), colour), 3, roll="1")
    Workroom.the()
    # Session, person, count, fabrics, colours, low, workroom.
    with django_assert_num_queries(7):
        page = maker_client.get(reverse("fabric-list")).content.decode()
    assert "Page 1 of 2" in page
    assert "cloth 49" in page
    assert ">cloth 50<" not in page


def test_the_page_of_a_fabric_asks_the_database_the_same_number_of_times(
    maker_client: Client, django_assert_num_queries: Any
) -> None:
    fabric = make_fabric()
    for n in range(30):
        stock(make_fabric_colour(fabric, f"colour {n}"), 3)
    Workroom.the()
    # Session, person, fabric, colours, workroom.
    with django_assert_num_queries(5):
        maker_client.get(reverse("fabric-detail", args=[fabric.pk]))
