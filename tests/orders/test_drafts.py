"""Lines as they are typed: read with care, checked against the style."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.orders.choices import find_style, style_choices, style_names
from planner.orders.drafts import (
    MOST_LINES,
    LineDraft,
    check_lines,
    copy_of,
    line_data,
    match_styles,
    next_key,
    quantity_or_none,
    read_lines,
    read_quantity,
)
from planner.orders.screens import typed_totals
from planner.styles.models import Detail, Option
from tests import factories as make
from tests.orders.conftest import line_fields


@pytest.mark.parametrize(
    ("text", "number"), [("", 0), ("  ", 0), ("0", 0), (" 12 ", 12), ("007", 7), ("9999", 9999)]
)
def test_a_box_holds_a_whole_number_or_nothing(text, number):
    assert read_quantity(text) == number


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("x", "type a whole number"),
        ("1e9", "type a whole number"),
        ("2 3", "type a whole number"),
        ("+3", "type a whole number"),
        ("-3", "less than nothing"),
        ("−3", "less than nothing"),
        ("2.5", "only whole garments"),
        ("2,5", "only whole garments"),
        ("10000", "at most 9,999"),
        ("9" * 5000, "at most 9,999"),
        ("½", "type a whole number"),
        ("²", "type a whole number"),
    ],
)
def test_what_a_box_cannot_hold_is_said(text, why):
    with pytest.raises(ValueError, match=why):
        read_quantity(text)


@given(st.text(max_size=20))
def test_any_text_in_a_box_is_a_number_in_bounds_or_an_answer(text):
    quantity = quantity_or_none(text)
    assert quantity is None or 0 <= quantity <= 9999


@given(st.dictionaries(st.text(max_size=30), st.text(max_size=30)), st.lists(st.text(max_size=8), max_size=8))
def test_any_fields_at_all_can_be_read(typed, keys):
    assert len(read_lines(typed, keys)) <= len(keys)


def checked(*lines):
    typed = {name: str(value) for line in lines for name, value in line.items()}
    keys = [next(iter(line)).split("-")[1] for line in lines]
    drafts = read_lines(typed, keys)
    match_styles(drafts, style_names())
    return drafts, check_lines(drafts)


def test_a_line_that_is_right_becomes_database_keys(style):
    drafts, problems = checked(line_fields(4, XS="2", M=" 3 ", L="", XL="0"))
    assert problems == []
    (line,) = line_data(drafts)
    sizes = {size.name: size.pk for size in style.size_range.sizes.all()}
    assert line.quantities == {sizes["XS"]: 2, sizes["M"]: 3}
    assert line.style_pk == style.pk
    assert line.colourway_pk == style.colourways.get(name="ink").pk
    assert line.option_pks == {style.details.get().options.get(name="rib band").pk}
    assert (line.key, line.line_pk) == (4, None)


@pytest.mark.parametrize(
    ("fields", "place", "text"),
    [
        ({"neck": ""}, "option:neck", "Choose the neck."),
        ({"neck": "collar"}, "option:neck", "Choose the neck."),
        ({"colourway": ""}, "colourway", "Choose a colourway."),
        ({"colourway": "moss"}, "colourway", "Choose a colourway."),
        ({"style": "999"}, "style", "There is no style “999”. Type a style's number."),
        ({"style": " "}, "style", "Type the style's number."),
        ({"M": "x"}, "size:M", "M: type a whole number, such as 12, not “x”."),
        (
            {"M": "1", "3XL": "4"},
            "size:3XL",
            "110 box top has no size 3XL. Empty that box, or type another style.",
        ),
        ({"M": "0"}, "sizes", "Type at least one quantity."),
    ],
)
def test_each_slip_is_said_at_its_field(style, fields, place, text):
    # Another style holds a colourway of that name; it is none of this style's.
    make.make_style("120", colourways=("moss",))
    drafts, problems = checked(line_fields(0, **{"M": "1", **fields}))
    assert [(p.line, p.field, p.text) for p in problems] == [(0, place, text)]
    assert drafts[0].errors(place) == [text]


def test_blank_lines_are_left_out_but_one_line_is_needed(style):
    drafts, problems = checked(line_fields(0, M=1), {"line-1-style": "", "line-1-size-M": ""})
    assert problems == []
    assert [line.key for line in line_data(drafts)] == [0]
    _, problems = checked({"line-0-style": ""}, {"line-1-style": ""})
    assert [(p.line, p.text) for p in problems] == [(0, "Type the style's number.")]
    assert "at least one line" in check_lines([])[0].text


def test_far_too_many_lines_are_one_problem(style):
    drafts = read_lines({}, [str(i) for i in range(5000)])
    assert len(drafts) == MOST_LINES + 1
    assert "at most 100 lines" in check_lines(drafts)[0].text


def test_a_style_is_found_by_number_name_or_both(style):
    make.make_style("120", "wrap top")
    make.make_style("130", "wrap top")
    names = style_names()
    found = lambda typed: getattr(find_style(typed, names), "number", None)  # noqa: E731
    assert [found(t) for t in ("110", " 110 ", "110 box top", "BOX  top")] == ["110"] * 4
    assert [found(t) for t in ("11", "", "wrap top", "x" * 10_000)] == [None] * 4


def test_a_style_no_longer_sold_is_only_kept_where_it_was(style):
    style.retired = True
    style.save()
    drafts, problems = checked(line_fields(0, M=1))
    assert [p.text for p in problems] == ["110 box top is no longer sold."]
    assert check_lines(drafts, kept_styles=frozenset([style.pk])) == []


def test_where_there_is_one_choice_it_is_chosen(style):
    hem = Detail.objects.create(style=style, name="hem", position=1)
    Option.objects.create(detail=hem, name="turned up")
    style.colourways.filter(name="chalk").delete()
    drafts = [LineDraft(0, style_text="110")]
    match_styles(drafts, style_names())
    assert (drafts[0].options, drafts[0].colourway) == ({"hem": "turned up"}, "ink")


def test_a_copy_is_of_the_next_colourway_with_empty_boxes(style):
    drafts, _ = checked(line_fields(0, M=1))
    copy = copy_of(drafts[0], 7, drafts)
    assert (copy.key, copy.line_pk, copy.colourway, copy.quantities) == (7, None, "chalk", {})
    assert copy.options == {"neck": "rib band"}
    assert copy_of(copy, 8, [*drafts, copy]).colourway == ""


def test_keys_of_lines_taken_out_are_not_used_again():
    assert next_key([]) == 0
    assert next_key([LineDraft(3)], ["5", "x", "9" * 99]) == 6


def test_choices_take_four_queries_however_many_styles(style, django_assert_num_queries):
    make.make_style("120", colourways=("ink", "chalk", "moss"))
    with django_assert_num_queries(5):
        choices = style_choices([name.pk for name in style_names()])
    assert len(choices) == 2
    choice = choices[style.pk]
    assert list(choice.sizes) == ["XS", "S", "M", "L", "XL", "XXL"]
    assert [(d.name, list(d.options)) for d in choice.details] == [("neck", ["self band", "rib band"])]
    assert choice.colourway("ink").swatches == (("#26324a", "jersey, ink"), ("#26324a", "rib, ink"))
    assert style_choices([]) == {}


def test_sizes_are_summed_small_to_large_whichever_line_has_them():
    """The first line has no S: it stands before the M of both all the same."""
    drafts = [LineDraft(0, quantities={"M": "3", "L": "x"}), LineDraft(1, quantities={"S": "1", "M": "2"})]
    assert typed_totals(drafts) == (6, (("S", 1), ("M", 5)))
