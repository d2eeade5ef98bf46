"""Order lines from a list: what is read, what is said of what cannot be."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from planner.materials.models import Workroom
from planner.orders.drafts import MOST_LINES
from planner.orders.listed import MOST_BYTES, ListError, read_list, text_of_file
from planner.orders.models import Order
from planner.styles.models import Option
from tests.orders.conftest import line_fields, order_form

HTMX = {"HX-Request": "true"}


def read(text: str) -> list[tuple[str, str, str, dict[str, str]]]:
    return [(line.style, line.options, line.colourway, line.quantities) for line in read_list(text)]


# ---- reading ----


def test_a_row_for_each_size_makes_a_line_for_each_kind():
    text = (
        "style,options,colourway,size,quantity\n110,rib band,ink,S,2\n110,rib band,ink,M,3\n"
        "110,,moss,M,1\n110,rib band,ink,M,4\n\n"
    )
    assert read(text) == [
        ("110", "rib band", "ink", {"S": "2", "M": "7"}),
        ("110", "", "moss", {"M": "1"}),
    ]


@pytest.mark.parametrize("between", ["\t", ";", ","])
def test_a_column_for_each_size_does_too(between):
    text = "\ufeffStyle,Colour,S,M,L\r\n110,ink,2,,1\r\n110,moss,,4,\r\n".replace(",", between)
    assert read(text) == [("110", "", "ink", {"S": "2", "L": "1"}), ("110", "", "moss", {"M": "4"})]


def test_other_columns_and_short_rows_are_no_hindrance():
    text = "price,style,size,qty\n9.50,110,M,2\n9.50,110\n9.50,110,,3\n"
    assert read(text) == [("110", "", "", {"M": "2", "?": "3"})]


def test_what_is_no_number_stays_to_be_put_right():
    assert read("style,size,quantity\n110,M,two\n110,M,3\n110,L,1\n110,L,x")[0][3] == {"M": "two", "L": "x"}


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "Paste rows"),
        (" \n ", "Paste rows"),
        (",,,\n,", "Paste rows"),
        ("\ufeff", "Paste rows"),
        ('"', "Paste rows"),
        ("110,ink,2", "must name the columns"),
        ("style", "must name the columns"),
        ("style,colourway,size\n110,ink,M", "size or quantity, and not both"),
        ("style,size,quantity\n", "no row under the heads"),
        ("style,size,quantity\n" + "".join(f"{n},M,1\n" for n in range(MOST_LINES + 1)), "makes 101 lines"),
        ("style,size,quantity\n" + "110,M,1\n" * 5001, "more than 5,000 rows"),
        ("style,size,quantity\n110,M," + "1" * 200_000, "no list of rows"),
        ("x" * (MOST_BYTES + 1), "500 thousand"),
    ],
)
def test_a_list_that_cannot_be_read_says_why(text, why):
    with pytest.raises(ListError, match=why):
        read_list(text)


@pytest.mark.parametrize(
    ("data", "why"),
    [(b"\x89PNG\r\n\x1a\n", "not text in UTF-8"), (b"a" * (MOST_BYTES + 1), "larger than 500 kB")],
)
def test_a_file_that_cannot_be_read_says_why(data, why):
    with pytest.raises(ListError, match=why):
        text_of_file(data)


# ---- on the form ----


@pytest.fixture
def asked(maker_client, style):
    """Sends the form of a new order with a list."""
    Workroom.the()

    def send(text="", line=None, headers=HTMX, **more):
        data = {**order_form(line or {"line-0-style": ""}), "do": "list", "list": text, **more}
        return maker_client.post(reverse("order-new"), data, headers=headers)

    return send


@pytest.mark.django_db
def test_what_a_style_does_not_have_is_named_for_what_was_written(asked):
    Option.objects.filter(name="self band").update(name="band, wide")
    answer = asked('style,options,colour,M\n110,"collar; neck: band, wide; tie",lilac,3\n')
    page = answer.content.decode()
    assert answer.context["entry"].drafts[0].options["neck"] == "band, wide", (
        "a comma in a name parts nothing"
    )
    assert "has no option “collar”." in page
    assert "has no option “tie”." in page
    assert "has no colourway “lilac”. Nothing is saved yet." in page


@pytest.mark.django_db
def test_a_column_of_a_details_name_chooses_its_options_and_parts_the_lines(asked):
    answer = asked(
        "style,Neck,colour,S,M\n110,Rib band,ink,1,3\n110,self band,ink,2,\n110,polo,ink,1,\n110,,ink,,4\n"
    )
    drafts = answer.context["entry"].drafts
    assert [(draft.options.get("neck", ""), draft.quantities) for draft in drafts] == [
        ("rib band", {"S": "1", "M": "3"}), ("self band", {"S": "2"}), ("", {"S": "1"}), ("", {"M": "4"}),
    ]  # fmt: skip
    assert "has no option “Neck=polo”." in answer.content.decode()


@pytest.mark.django_db
@pytest.mark.parametrize("headers", [HTMX, {}])
def test_a_pasted_list_becomes_lines_spelt_as_the_style_spells_them(asked, maker_client, headers):
    text = "style\toptions\tcolour\tm\tL\n110\tRIB BAND\tInk\t3\t1\n"
    answer = asked(text, headers=headers)
    (draft,) = answer.context["entry"].drafts
    assert (draft.colourway, draft.options["neck"]) == ("ink", "rib band")
    assert draft.quantities == {"M": "3", "L": "1"}
    page = answer.content.decode()
    assert "1 line with 4 garments came from the list. Nothing is saved yet." in page
    assert not Order.objects.exists()


@pytest.mark.django_db
def test_lines_of_a_list_stand_after_what_is_typed_and_are_saved_as_any_others(asked, maker_client):
    answer = asked("style,options,colourway,M\n110,neck: self band,chalk,5", line_fields(S=2))
    first, second = answer.context["entry"].drafts
    assert (first.quantities["S"], second.quantities, second.key) == ("2", {"M": "5"}, 1)
    typed = [line_fields(S=2), line_fields(1, neck="self band", colourway="chalk", M=5)]
    maker_client.post(reverse("order-new"), order_form(*typed))
    assert [line.quantities.get().quantity for line in Order.objects.get().lines.all()] == [2, 5]


@pytest.mark.django_db
def test_what_no_style_knows_is_kept_marked_and_told(asked):
    rows = (
        "style,options,colourway,size,quantity\n110,rib bnd,ink,M,2\n999,,ink,M,1\n110,rib band,pink,XXS,-3\n"
    )
    page = asked(rows).content.decode()
    assert "3 lines with 3 garments came from the list. 3 of them want putting right where marked." in page
    assert (
        "110 box top has no option “rib bnd”. 110 box top has no colourway “pink”. Nothing is saved yet."
        in page
    )
    for said in (
        "Choose the neck.",
        "There is no style “999”.",
        "Choose a colourway.",
        "“-3” is less than nothing",
    ):
        assert said in page


@pytest.mark.django_db
def test_a_file_is_read_as_what_is_pasted(asked):
    file = SimpleUploadedFile(
        "orders.csv", "style;options;colourway;S\n110;rib band;ink;4\n".encode("utf-8-sig")
    )
    answer = asked(list_file=file)
    assert [draft.quantities for draft in answer.context["entry"].drafts] == [{"S": "4"}]


@pytest.mark.django_db
@pytest.mark.parametrize("headers", [HTMX, {}])
def test_a_list_that_cannot_be_read_leaves_all_that_is_typed(asked, headers):
    answer = asked("what is this?", line_fields(M=7), headers=headers)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "The first row must name the columns" in page
    assert "what is this?</textarea>" in page
    assert 'value="7"' in page
    assert "Nothing is saved yet" not in page
