import re
from contextlib import suppress
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core import units
from planner.core.units import UnitError

PARSERS = [
    units.parse_length_mm,
    units.parse_areal_weight_gsm,
    units.parse_mass_kg,
    units.parse_percent,
    units.parse_quantity,
]
lengths = st.decimals(0, 20_000, places=3, allow_nan=False, allow_infinity=False)


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("1.5 m", "1500"),
        ("1.5m", "1500"),
        ("60 in", "1524"),
        ('5/8"', "15.875"),
        ("5/8 in.", "15.875"),
        ("1 5/8 yd", "1485.9"),
        ("1-5/8 yd", "1485.9"),
        ("1⅝ yd", "1485.9"),
        ("1 ⅝ yd", "1485.9"),
        ("⅝”", "15.875"),
        ("12,5 cm", "125"),
        ("12.5\u2009cm", "125"),
        ("12.5\u00a0CM", "125"),
        ("2'6\"", "762"),
        ("2 ft 6 in", "762"),
        ("2′ 6″", "762"),
        ("3 Metres", "3000"),
        ("0.5", "0.5"),
        (",5", "0.5"),
        ("+7", "7"),
        ("1 234.5 mm", "1234.5"),
        ("1,234.5 mm", "1234.5"),
        ("1.234,5 mm", "1234.5"),
        ("1,234,567 mm", "1234567"),
        ("1.234 m", "1234"),
        ("0,125 m", "125"),
        ("1234,567 mm", "1234.567"),
        ("0", "0"),
    ],
)
def test_a_length_is_read_as_people_write_it(typed: str, mm: str) -> None:
    assert units.parse_length_mm(typed) == Decimal(mm)


def test_a_bare_number_takes_the_unit_of_its_field() -> None:
    assert units.parse_length_mm("12", "cm") == 120
    assert units.parse_length_mm("1/2", "yd") == Decimal("457.2")
    assert units.parse_length_mm("12 mm", "cm") == 12


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "  ",
        "m",
        "-",
        "+",
        "abc",
        "1.2.3 m",
        "1..5",
        "5.",
        "1 5/0 yd",
        "1 5/3 yd",
        "5 kg",
        "6 in 2 ft",
        "5 ft 6",
        "2 m 3 m",
        "nan",
        "inf",
        "1e300",
        "1e3",
        "٣ m",
        "12²",
        "9999999999 m",
        "-1 m",
        "−1 m",
        "5 % m",
        "1,23,4 m",
        "1/2/3",
        "½½",
    ],
)
def test_what_is_no_length_is_refused_with_an_example(typed: str) -> None:
    with pytest.raises(UnitError, match="for example"):
        units.parse_length_mm(typed)


def test_a_comma_that_may_be_either_is_refused_rather_than_wrong_by_a_thousand() -> None:
    with pytest.raises(UnitError, match=r"can mean 1234 or 1\.234"):
        units.parse_length_mm("1,234 mm")


def test_the_message_names_what_was_typed() -> None:
    with pytest.raises(UnitError, match="“ten metres” is not a length"):
        units.parse_length_mm("ten metres")


def test_a_text_that_is_far_too_long_is_refused_unread() -> None:
    with pytest.raises(UnitError, match="too long") as refused:
        units.parse_length_mm("9" * 5_000_000)
    assert len(str(refused.value)) < 200


def test_negative_lengths_only_where_they_are_allowed() -> None:
    assert units.parse_length_mm("-2.5 cm", allow_negative=True) == -25
    assert units.parse_percent("−3 %", allow_negative=True) == -3
    with pytest.raises(UnitError, match="less than nothing"):
        units.parse_percent("-3")


@pytest.mark.parametrize(
    ("typed", "gsm"),
    [("180 gsm", 180), ("180 g/m2", 180), ("180 g/m²", 180), ("180 G / m2", 180), ("180", 180)],
)
def test_the_weight_of_cloth(typed: str, gsm: int) -> None:
    assert units.parse_areal_weight_gsm(typed) == gsm


def test_an_ounce_of_cloth_is_an_ounce_a_square_yard() -> None:
    assert units.parse_areal_weight_gsm("5.3 oz") == units.parse_areal_weight_gsm("5.3 oz/yd²")


@pytest.mark.parametrize(("typed", "percent"), [("5 %", "5"), ("5", "5"), ("0,5", "0.5"), ("12.5%", "12.5")])
def test_percent(typed: str, percent: str) -> None:
    assert units.parse_percent(typed) == Decimal(percent)


@pytest.mark.parametrize("typed", ["%", "percent", "%%", "5 % %", "- %"])
def test_a_per_cent_sign_alone_is_no_percentage(typed: str) -> None:
    with pytest.raises(UnitError, match="for example"):
        units.parse_percent(typed)


def test_weights_and_plain_numbers() -> None:
    assert units.parse_mass_kg("250 g") == Decimal("0.25")
    assert units.parse_mass_kg("2,5") == Decimal("2.5")
    assert units.parse_quantity(" 1 200 ") == 1200
    with pytest.raises(UnitError):
        units.parse_quantity("12 m")


@given(st.text(max_size=120), st.sampled_from(PARSERS))
def test_no_text_breaks_a_parser(text: str, parse: object) -> None:
    with suppress(UnitError):
        assert parse(text).is_finite()  # type: ignore[operator]


@given(st.text(alphabet="0123456789.,/ -'\"mcindyft½⅝\u2009%", max_size=15), st.sampled_from(PARSERS))
def test_no_text_made_of_figures_breaks_a_parser(text: str, parse: object) -> None:
    with suppress(UnitError):
        assert parse(text) >= 0  # type: ignore[operator]


@pytest.mark.parametrize(
    ("display", "kind", "step_mm"),
    [
        ("metric", "cloth", "10"),
        ("imperial", "cloth", "114.3"),
        ("metric", "small", "1"),
        ("imperial", "small", "1.5875"),
    ],
)
@given(mm=lengths)
def test_what_is_printed_reads_back_within_half_a_step(
    display: units.Display, kind: units.LengthKind, step_mm: str, mm: Decimal
) -> None:
    back = units.parse_length_mm(units.format_length(mm, display, kind))
    assert abs(back - mm) <= Decimal(step_mm) / 2
    assert units.parse_length_mm(units.format_length(back, display, kind)) == back


@given(mm=lengths, display=st.sampled_from(["metric", "imperial"]), kind=st.sampled_from(["cloth", "small"]))
def test_what_must_suffice_is_never_printed_shorter(
    mm: Decimal, display: units.Display, kind: units.LengthKind
) -> None:
    back = units.parse_length_mm(units.format_length(mm, display, kind, at_least=True))
    assert back >= mm - units.PACK_NOISE


@given(mm=lengths, unit=st.sampled_from(["mm", "cm", "m", "in", "yd"]))
def test_a_length_shown_as_typed_comes_back_to_a_tenth_of_a_millimetre(mm: Decimal, unit: str) -> None:
    assert abs(units.parse_length_mm(units.length_as_typed(mm, unit)) - mm) < Decimal("0.05")


@pytest.mark.parametrize(
    ("mm", "display", "kind", "shown"),
    [
        (7800, "metric", "cloth", "7.8\u2009m"),
        (7814, "metric", "cloth", "7.81\u2009m"),
        (8000, "metric", "cloth", "8.0\u2009m"),
        (2800, "metric", "spread", "2.80\u2009m"),  # it stands beside others
        (2812, "metric", "spread", "2.81\u2009m"),
        (7886.7, "imperial", "cloth", "8\u2009⅝\u2009yd"),
        (457.2, "imperial", "cloth", "½\u2009yd"),
        (1828.8, "imperial", "cloth", "2\u2009yd"),
        (125, "metric", "small", "12.5\u2009cm"),
        (6.5, "metric", "small", "6.5\u2009mm"),
        (123.825, "imperial", "small", "4\u00a07/8\u2009in"),
        (15.875, "imperial", "small", "5/8\u2009in"),
        (-125, "metric", "small", "−12.5\u2009cm"),
        # What rounds to nothing is not less than nothing.
        (-0.0, "metric", "cloth", "0.0\u2009m"),
        (-2, "metric", "cloth", "0.0\u2009m"),
        (-0.01, "metric", "small", "0\u2009mm"),
        (-2, "imperial", "cloth", "0\u2009yd"),
        (-100, "imperial", "cloth", "−⅛\u2009yd"),
    ],
)
def test_lengths_in_print(mm: float, display: units.Display, kind: units.LengthKind, shown: str) -> None:
    assert units.format_length(mm, display, kind) == shown


def test_other_things_in_print() -> None:
    assert units.format_weight(180) == "180\u2009g/m²"
    assert units.format_weight(Decimal("179.7"), "imperial") == "5.3\u2009oz/yd²"
    assert units.format_mass(2.5) == "2.50\u2009kg"
    assert units.plain_number(Decimal("5.00")) == "5"
    assert units.plain_number(-0.0) == "0"


def test_areas_in_print() -> None:
    """By definition an inch is 25.4 mm, so a square inch 645.16 mm²."""
    assert units.format_area(296_000) == "2\u2009960\u2009cm²"
    assert units.format_area(296_000, "imperial") == "458.8\u2009in²"
    assert units.format_area(Decimal("645.16"), "imperial") == "1.0\u2009in²"
    assert units.area_as_told(296_049, places=1) == "2\u2009960.5"
    assert units.area_as_told(-64_516, "imperial", places=1) == "-100.00"
    assert units.area_as_told(-0.1) == "0"


def test_units_of_length_in_millimetres() -> None:
    """By definition: 1 in = 25.4 mm, 1 yd = 36 in (NIST SP 811)."""
    assert [units.mm_in(unit) for unit in ("mm", "m", "in", "yd")] == [
        1,
        1000,
        Decimal("25.4"),
        Decimal("914.4"),
    ]
    assert units.mm_in("yd") / units.mm_in("in") == 36
    assert units.sixteenths_of_inch(Decimal("25.4")) == 16
    with pytest.raises(KeyError):
        units.mm_in("furlong")


@pytest.mark.parametrize(
    ("metres", "told"),
    # 7.26 m are 7.9396 yd, to the centimetre 7.94; 0.46 m are half a yard (0.4572 m) to the centimetre.
    [("7.26", "7.94"), ("0.46", "0.5"), ("9.14", "10"), ("0", "0"), ("0.01", "0.01")],
)
def test_metres_that_were_told_stand_in_yards_to_the_centimetre(metres: str, told: str) -> None:
    assert units.format_metres_told(Decimal(metres), "imperial") == f"{told}\u2009yd"
    assert units.format_metres_told(Decimal(metres)) == f"{metres}\u2009m"


def test_money_is_rounded_half_up_to_the_minor_unit() -> None:
    assert units.format_money(Decimal("12.345"), "eur") == "12.35\u2009EUR"
    assert units.format_money(Decimal("-0.005"), "GBP") == "-0.01\u2009GBP"
    assert units.format_money(Decimal("1234.5"), "JPY") == "1235\u2009JPY"
    assert units.format_money(Decimal("-0.001"), "GBP") == "0.00\u2009GBP"


@pytest.mark.parametrize(
    ("need", "pack", "minimum", "bought"),
    [
        ("7.81", "0.1", "0", "7.9"),
        ("7.8", "0.1", "0", "7.8"),
        (0.1 + 0.2, "0.1", "0", "0.3"),  # the noise of floats buys nothing
        ("0.2", "0.1", "1", "1"),
        ("0.2", "0.3", "1", "1.2"),
        ("0", "25", "25", "0"),
        ("-3", "25", "0", "0"),
        ("26", "25", "0", "50"),
    ],
)
def test_rounding_up_to_packs(need: str | float, pack: str, minimum: str, bought: str) -> None:
    need_number = need if isinstance(need, float) else Decimal(need)
    assert units.round_up_to_pack(need_number, Decimal(pack), Decimal(minimum)) == Decimal(bought)


@given(
    need=st.decimals(0, 10_000, places=4),
    pack=st.decimals("0.01", 100, places=2),
    minimum=st.decimals(0, 100, places=2),
)
def test_what_is_bought_covers_the_need_by_less_than_a_pack(
    need: Decimal, pack: Decimal, minimum: Decimal
) -> None:
    bought = units.round_up_to_pack(need, pack, minimum)
    assert bought % pack == 0
    assert bought >= need
    assert bought < max(need, minimum) + pack


def test_nonsense_is_not_rounded() -> None:
    with pytest.raises(ValueError, match="more than nothing"):
        units.round_up_to_pack(1, 0)
    with pytest.raises(ValueError, match="no quantity"):
        units.round_up_to_pack(float("nan"), 1)
    with pytest.raises(ValueError, match="no quantity"):
        units.format_length(float("inf"))


def test_where_a_whole_number_is_wanted_no_half_is_offered():
    with pytest.raises(units.UnitError, match=r"is not a whole number. Write for example 12\.$"):
        units.parse_quantity("two", whole=True)
    with pytest.raises(units.UnitError, match=r"12 or 2\.5"):
        units.parse_quantity("two")


def test_the_inch_stands_in_one_place() -> None:
    """NIST SP 811: 1 in = 25.4 mm exactly. The registry says the same, and nobody else has a factor of their own."""
    assert units.mm_in("in") == Decimal(str(units.MM_PER_INCH))
    root, of_units = Path(units.__file__).parents[3], Path(units.__file__).parent
    sources = [*(root / "planner").rglob("*.py"), *(root / "static").rglob("*.js")]
    others = [path for path in sources if of_units not in path.parents]
    assert [path for path in others if re.search(r"\b25\.4\b", path.read_text(encoding="utf-8"))] == []
    assert units.cm2_in_area_unit("imperial") == Decimal("6.4516")
