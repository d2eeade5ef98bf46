"""Figures as people type them, at the fields of a form."""

from decimal import Decimal

import pytest
from django import forms
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from planner.common.fields import (
    LengthField,
    MetresField,
    MoneyField,
    PercentField,
    QuantityField,
    WeightField,
)
from planner.common.forms import PlainWords


@pytest.mark.parametrize(
    ("field", "typed", "figure"),
    [
        (LengthField(default_unit="cm"), "150", "1500"),
        (LengthField(default_unit="cm"), "60 in", "1524"),
        (LengthField(default_unit="cm"), "12,5 cm", "125"),
        (LengthField(default_unit="m"), "1 5/8 yd", "1485.9"),
        (LengthField(default_unit="mm"), " 15 ", "15"),
        (WeightField(), "180 gsm", "180"),
        (WeightField(), "5.3 oz/yd2", "179.7"),
        (PercentField(), "5 %", "5"),
        (PercentField(), "2,5", "2.5"),
        (MoneyField(), "12.50", "12.50"),
        (MoneyField(), "€ 12,50", "12.50"),
        (MoneyField(), "12.5 EUR", "12.50"),
        (MoneyField(), "USD 7", "7"),
        (QuantityField(), "2.5", "2.5"),
        (QuantityField(whole=True), "12", "12"),
    ],
)
def test_typed_figures_are_read(field: forms.Field, typed: str, figure: str) -> None:
    assert field.clean(typed) == Decimal(figure)


def in_yards() -> MetresField:
    """As a workroom in yards has it."""
    field = MetresField()
    field.use_display("imperial")
    return field


@pytest.mark.parametrize(
    ("metres", "shown"), [("7.26", "7.94 yd"), ("0.46", "0.5 yd"), ("9.14", "10 yd"), ("0.50", "0.55 yd")]
)
def test_what_is_kept_to_the_centimetre_is_filled_in_with_two_decimals_of_a_yard(
    metres: str, shown: str
) -> None:
    """7.26 m are 7.9396 yd, which nobody measures."""
    assert in_yards().prepare_value(Decimal(metres)) == shown
    assert MetresField().prepare_value(Decimal(metres)) == f"{Decimal(metres).normalize():f} m"


@given(st.decimals(0, 9_999, places=2))
def test_yards_filled_in_are_read_as_the_centimetre_they_stand_for(metres: Decimal) -> None:
    field = in_yards()
    shown = field.prepare_value(metres)
    assert field.clean(shown) == metres
    assert len(shown.split()[0].partition(".")[2]) <= 2


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        (LengthField(), "", "Please fill this in."),
        (LengthField(), "-5 cm", "less than nothing"),
        (LengthField(), "wide", "is not a length"),
        (LengthField(), "1e300", "is not a length"),
        (LengthField(), "9" * 39, "too large"),
        (LengthField(), "1" * 50, "too long"),
        (LengthField(), "180 gsm", "is not a length"),
        (LengthField(minimum_mm=100), "9 cm", "at least 10 cm"),
        (LengthField(maximum_mm=1000, default_unit="m"), "2", "at most 1 m"),
        (LengthField(above_mm=0), "0", "more than 0 cm"),
        (WeightField(), "0", "more than 0 gsm"),
        (WeightField(), "heavy", "is not a weight"),
        (PercentField(maximum=60), "200 %", "at most 60 %"),
        (PercentField(), "-1", "less than nothing"),
        (MoneyField(), "dear", "is not a number"),
        (MoneyField(), "NaN", "is not a number"),
        (QuantityField(whole=True), "2.5", "whole number"),
        (QuantityField(maximum=10), "11", "at most 10"),
        (QuantityField(), "Infinity", "is not a number"),
    ],
)
def test_what_cannot_be_a_figure_is_refused_in_plain_words(field: forms.Field, typed: str, said: str) -> None:
    with pytest.raises(ValidationError) as refused:
        field.clean(typed)
    assert said in refused.value.messages[0]


def test_blank_is_none_where_it_may_be_blank() -> None:
    assert LengthField(required=False).clean("  ") is None


class WidthForm(PlainWords, forms.Form):
    width_mm = LengthField(default_unit="cm")
    name = forms.CharField(max_length=5, required=False)


def test_a_stored_length_is_shown_in_the_unit_of_the_field() -> None:
    assert 'value="150 cm"' in str(WidthForm(initial={"width_mm": Decimal("1500.0")})["width_mm"])


def test_what_was_typed_is_kept_when_it_is_wrong() -> None:
    form = WidthForm({"width_mm": "wide", "name": ""})
    assert not form.is_valid()
    assert 'value="wide"' in str(form["width_mm"])


def test_in_an_imperial_workroom_a_bare_number_is_inches() -> None:
    form = WidthForm({"width_mm": "60", "name": ""}, display="imperial")
    assert form.is_valid()
    assert form.cleaned_data["width_mm"] == Decimal("1524.0")


def test_imperial_writing_brings_back_the_same_tenth_of_a_millimetre() -> None:
    shown = WidthForm(initial={"width_mm": Decimal("1500.0")}, display="imperial")["width_mm"].value()
    assert shown == "59.055 in"
    form = WidthForm({"width_mm": shown}, display="imperial", initial={"width_mm": Decimal("1500.0")})
    assert form.is_valid()
    assert form.cleaned_data["width_mm"] == Decimal("1500.0")
    assert not form.has_changed()


def test_too_many_letters_are_counted() -> None:
    form = WidthForm({"width_mm": "1", "name": "x" * 5_000_000})
    assert form.errors["name"] == ["At most 5 letters, please; this has 5000000."]
