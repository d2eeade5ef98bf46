"""Form fields that take figures with units as people type them: `1.5 m`, `60 in`, `5.3 oz/yd2`, `12,5 cm`.

Each cleans to a Decimal in one unit (mm, g/m², percent, money, a count), shows its first value in the unit of
the field, and keeps what was typed when that cannot be read. Units themselves live in planner.core.units.
"""

from __future__ import annotations

import re
import unicodedata
from decimal import ROUND_HALF_UP, Decimal
from typing import Any, Literal

from django import forms
from django.core.exceptions import ValidationError

from planner.core import units

LengthUnit = Literal["mm", "cm", "m", "in", "yd"]

#: Nobody types a figure longer than this; what is longer is not even parsed.
LONGEST_FIGURE = 40
#: The unit a workroom that measures in yards and inches types in, where a metric one types in the first.
_IMPERIAL: dict[str, LengthUnit] = {"mm": "in", "cm": "in", "m": "yd"}
#: The code of a currency before or behind an amount; which currency it is, the workroom says once.
_CURRENCY_CODE = re.compile(r"^\s*[A-Za-z]{3}(?=[\s\d])|(?<=[\s\d])[A-Za-z]{3}\s*$")


class FigureField(forms.CharField):
    """A text input that reads as a Decimal. Subclasses say how a figure is parsed and shown."""

    inputmode = "decimal"

    def __init__(
        self,
        *,
        places: int = 2,
        minimum: Decimal | int | str | None = None,
        maximum: Decimal | int | str | None = None,
        above: Decimal | int | str | None = None,
        **kwargs: Any,
    ) -> None:
        """`minimum` and `maximum` are allowed themselves, `above` is not; `places` stay after the point."""
        self.places = places
        self.minimum = None if minimum is None else Decimal(minimum)
        self.maximum = None if maximum is None else Decimal(maximum)
        self.above = None if above is None else Decimal(above)
        kwargs.setdefault("error_messages", {}).setdefault("required", "Please fill this in.")
        super().__init__(**kwargs)

    def parse(self, text: str) -> Decimal:
        """The figure in the field's base unit. Raises units.UnitError with what is wrong."""
        raise NotImplementedError

    def show(self, value: Decimal) -> str:
        """The figure as a person would type it."""
        return units.plain_number(value)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {**super().widget_attrs(widget), "inputmode": self.inputmode, "autocomplete": "off"}

    def prepare_value(self, value: Any) -> Any:
        """What was typed stays as it is; a stored figure is shown with its unit."""
        if isinstance(value, (Decimal, int, float)) and not isinstance(value, bool):
            return self.show(Decimal(str(value)))
        return value

    def to_python(self, value: Any) -> Decimal | None:
        if isinstance(value, (Decimal, int, float)):
            return self._rounded(Decimal(str(value)))
        text = (super().to_python(value) or "").strip()
        if not text:
            return None
        if len(text) > LONGEST_FIGURE:
            raise ValidationError(f"That is too long for a figure: {len(text):,} characters.", code="invalid")
        try:
            figure = self._rounded(self.parse(text))
        except units.UnitError as problem:
            raise ValidationError(str(problem), code="invalid") from problem
        self._check_bounds(figure)
        return figure

    def run_validators(self, value: Any) -> None:
        """Nothing: the validators of a text field are about letters, and the bounds are checked already."""

    def _rounded(self, figure: Decimal) -> Decimal:
        return figure.quantize(Decimal(1).scaleb(-self.places), ROUND_HALF_UP)

    def _check_bounds(self, figure: Decimal) -> None:
        """Of the rounded figure, so that a bound may be typed in another unit."""
        if self.minimum is not None and figure < self.minimum:
            raise ValidationError(f"This must be at least {self.show(self.minimum)}.", code="min_value")
        if self.above is not None and figure <= self.above:
            raise ValidationError(f"This must be more than {self.show(self.above)}.", code="min_value")
        if self.maximum is not None and figure > self.maximum:
            raise ValidationError(f"This must be at most {self.show(self.maximum)}.", code="max_value")


class LengthField(FigureField):
    """A length, cleaned to mm. A bare number takes `default_unit`."""

    # A phone's number pad has no letters, and "60 in" needs them.
    inputmode = "text"

    def __init__(
        self,
        *,
        default_unit: LengthUnit = "cm",
        minimum_mm: Decimal | int | str | None = Decimal(0),
        maximum_mm: Decimal | int | str | None = Decimal(900_000),
        above_mm: Decimal | int | str | None = None,
        places: int = 1,
        **kwargs: Any,
    ) -> None:
        self.default_unit: LengthUnit = default_unit
        super().__init__(places=places, minimum=minimum_mm, maximum=maximum_mm, above=above_mm, **kwargs)

    def use_display(self, display: str) -> None:
        """In a workroom that measures in yards and inches, bare numbers are yards or inches."""
        if display == "imperial":
            self.default_unit = _IMPERIAL.get(self.default_unit, self.default_unit)

    def parse(self, text: str) -> Decimal:
        return units.parse_length_mm(text, self.default_unit)

    def show(self, value: Decimal) -> str:
        return units.length_as_typed(value, self.default_unit)


class DialField(LengthField):
    """A length as it stands on the dial of a machine: mm in every workroom, since machines are marked in mm."""

    def __init__(self, *, places: int = 2, **kwargs: Any) -> None:
        super().__init__(default_unit="mm", places=places, **kwargs)

    def use_display(self, display: str) -> None:
        """Nothing changes."""

    def show(self, value: Decimal) -> str:
        return f"{units.plain_number(value)} mm"


class ThicknessField(LengthField):
    """How thick cloth is, by default to a hundredth of a mm: in mm, or in decimals of an inch.

    `help_in_inches` stands in place of the help text where the workroom measures in inches.
    """

    def __init__(self, *, places: int = 2, help_in_inches: str, **kwargs: Any) -> None:
        self.help_in_inches = help_in_inches
        super().__init__(default_unit="mm", places=places, **kwargs)

    def use_display(self, display: str) -> None:
        super().use_display(display)
        if display == "imperial":
            self.help_text = self.help_in_inches

    def show(self, value: Decimal) -> str:
        """With as few decimals as are read as the same again."""
        return units.length_as_typed(value, self.default_unit, within_mm=Decimal(5).scaleb(-self.places - 1))


class SumOfLengthsField(LengthField):
    """Lengths measured one by one, cleaned to their sum in mm: `19.5 + 20 cm` as well as `39.5`."""

    def parse(self, text: str) -> Decimal:
        return sum((super(SumOfLengthsField, self).parse(part) for part in text.split("+")), Decimal(0))


class MetresField(LengthField):
    """A length of cloth, cleaned to metres as stock is kept; the bounds are metres too."""

    def __init__(
        self,
        *,
        minimum: Any = 0,
        maximum: Any = "99999.99",
        above: Any = None,
        places: int = 2,
        **kwargs: Any,
    ) -> None:
        super().__init__(
            default_unit="m", minimum_mm=minimum, maximum_mm=maximum, above_mm=above, places=places, **kwargs
        )

    def parse(self, text: str) -> Decimal:
        return super().parse(text) / 1000

    def show(self, value: Decimal) -> str:
        """With as few decimals as are read as the same again: in yards what is kept to the centimetre has no more."""
        within_mm = Decimal(500).scaleb(-self.places)
        return units.length_as_typed(value * 1000, self.default_unit, within_mm=within_mm)


class WeightField(FigureField):
    """A weight of cloth by area, cleaned to g/m². A bare number is g/m², in a workroom in inches oz/yd²."""

    inputmode = "text"
    default_unit = "gsm"

    def __init__(self, *, places: int = 1, above: Any = 0, maximum: Any = 5000, **kwargs: Any) -> None:
        super().__init__(places=places, above=above, maximum=maximum, **kwargs)

    def parse(self, text: str) -> Decimal:
        return units.parse_areal_weight_gsm(text, self.default_unit)

    def use_display(self, display: str) -> None:
        """In a workroom that measures in yards and inches, bare numbers are ounces a square yard."""
        if display == "imperial":
            self.default_unit = "oz/yd2"

    def show(self, value: Decimal) -> str:
        """With as few decimals as are read as the same again."""
        return units.areal_weight_as_typed(
            value, self.default_unit, within_gsm=Decimal(5).scaleb(-self.places - 1)
        )


class PercentField(FigureField):
    """A percentage, cleaned to the number before the sign: `5 %` is Decimal("5.0")."""

    def __init__(self, *, minimum: Any = 0, maximum: Any = 100, places: int = 1, **kwargs: Any) -> None:
        super().__init__(minimum=minimum, maximum=maximum, places=places, **kwargs)

    def parse(self, text: str) -> Decimal:
        return units.parse_percent(text)

    def show(self, value: Decimal) -> str:
        return f"{units.plain_number(value)} %"


class MoneyField(FigureField):
    """An amount of money in the workroom's currency."""

    def __init__(
        self, *, minimum: Any = 0, maximum: Any = "9999999.99", places: int = 2, **kwargs: Any
    ) -> None:
        super().__init__(minimum=minimum, maximum=maximum, places=places, **kwargs)

    def parse(self, text: str) -> Decimal:
        bare = "".join(sign for sign in text if unicodedata.category(sign) != "Sc")
        return units.parse_quantity(_CURRENCY_CODE.sub("", bare) or text)

    def show(self, value: Decimal) -> str:
        return f"{value:.{self.places}f}"


class QuantityField(FigureField):
    """A plain number: of packs, pieces, kilograms. `whole` refuses 2.5 and cleans to a whole Decimal."""

    def __init__(
        self,
        *,
        whole: bool = False,
        minimum: Any = 0,
        maximum: Any = "999999.99",
        places: int = 2,
        **kwargs: Any,
    ) -> None:
        self.whole = whole
        self.inputmode = "numeric" if whole else "decimal"
        super().__init__(minimum=minimum, maximum=maximum, places=0 if whole else places, **kwargs)

    def parse(self, text: str) -> Decimal:
        figure = units.parse_quantity(text, whole=self.whole)
        if self.whole and figure != figure.to_integral_value():
            raise units.UnitError("This must be a whole number, without a part after the point.")
        return figure
