"""Forms for cloth and suppliers; those of notions, machines and the workroom have files of their own."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator

from planner.common.fields import (
    FigureField,
    LengthField,
    MetresField,
    MoneyField,
    PercentField,
    ThicknessField,
    WeightField,
)
from planner.common.forms import PlainWords
from planner.common.meanwhile import Meanwhile
from planner.core import units
from planner.materials.models import (
    Fabric,
    FabricColour,
    StockMove,
    Supplier,
)
from planner.materials.sold import price_as_kept, price_as_told

_COLOUR_CODE = RegexValidator(re.compile(r"\A#[0-9a-fA-F]{6}\Z"), "Please choose a colour.")
#: More than any cloth to cut from stretches; what is typed above it is a slip.
MOST_STRETCH_PERCENT = 300
#: The ways a fabric may be laid, as the form shows them.
LAY_WAYS = ("lay_open", "lay_face_to_face", "lay_folded")
#: Nothing is nothing in whatever unit: a form shows “0 m” before it is said that the cloth is sold by weight.
_NOTHING = re.compile(r"\A0+(?:[.,]0+)?\s*(?:m|yd|kg|lb|rolls?)\Z", re.IGNORECASE)
SAME_NAME = {"name": {"unique": "There is one of this name already. Please choose another."}}


#: What is asked where a new cloth is not sold by length.
_SAY_STEPS = {
    Fabric.SoldBy.KG: "Sold by weight in steps of what? Write for example 0.5 kg or 1 lb.",
    Fabric.SoldBy.ROLL: "How much cloth is on a roll? Write for example 25 m or 27 yd.",
}


class SoldAmountField(FigureField):
    """How much cloth is sold at once: a length where it is sold by length or roll, a weight where by weight.

    Which of them it is, another field of the form says; so this one keeps the text and the form reads it.
    """

    inputmode = "text"

    def to_python(self, value: Any) -> Any:
        if value is None or isinstance(value, Decimal):
            return value
        return str(value).strip()

    def read(
        self, text: str, *, sold_by: str, length_unit: str, mass_unit: str, counts_rolls: bool = False
    ) -> Decimal:
        """Metres or kilograms, or rolls where `counts_rolls` and sold by the roll. Raises ValidationError."""
        if len(text) > 40:
            raise ValidationError(f"That is too long for a figure: {len(text):,} characters.")
        if _NOTHING.match(text):
            text = "0"
        try:
            if sold_by == Fabric.SoldBy.KG:
                figure = units.parse_mass_kg(text, mass_unit)
            elif sold_by == Fabric.SoldBy.ROLL and counts_rolls:
                figure = units.parse_quantity(text.lower().removesuffix("s").removesuffix("roll"))
            else:
                figure = units.parse_length_mm(text, length_unit) / 1000
        except units.UnitError as problem:
            raise ValidationError(str(problem)) from problem
        figure = self._rounded(figure)
        self._check_bounds(figure)
        return figure


class FabricForm(Meanwhile, PlainWords, forms.ModelForm):
    """A fabric with all its measures."""

    full_width_mm = LengthField(
        label="Full width", default_unit="cm", minimum_mm=50, maximum_mm=10_000, help_text="Edge to edge."
    )
    selvedge_mm = LengthField(label="Selvedge, each side", default_unit="mm", maximum_mm=500)
    weight_gsm = WeightField(label="Weight", maximum=3000, help_text="For example 180 gsm or 5.3 oz/yd2.")
    shrinkage_length_percent = PercentField(label="Shrinks in length", maximum=50)
    shrinkage_width_percent = PercentField(label="Shrinks in width", maximum=50)
    thickness_mm = ThicknessField(
        label="Thickness of one layer",
        required=False,
        minimum_mm="0.02",
        maximum_mm=20,
        help_text="Press a stack of ten layers lightly under a ruler: 8 mm high means 0.8 mm.",
        help_in_inches="Press a stack of ten layers lightly under a ruler: 5/16 in high means 1/32 in, or 0.031 in.",
    )
    stretch_percent = PercentField(
        label="Stretch across",
        maximum=9999,
        help_text="How much longer a strip gets when pulled: 50 % for 10 to 15 cm.",
    )
    end_allowance_mm = LengthField(label="Extra at each end of a lay", default_unit="mm", maximum_mm=500)
    damage_percent = PercentField(label="Allowance for flaws", maximum=50)
    pack_quantity = SoldAmountField(
        label="Sold in steps of",
        places=4,
        above=0,
        maximum="99999.99",
        help_text="A length, or a weight where sold by weight; for a roll, what is on it.",
    )
    minimum_quantity = SoldAmountField(
        label="Least that is sold",
        minimum=0,
        maximum="99999.99",
        help_text="A length, a weight or a number of rolls; 0 where any amount is sold.",
    )
    price = MoneyField(label="Price", help_text="For a metre, a roll or a kilogram, as it is sold.")
    repeat_length_mm = LengthField(
        label="Along the cloth it comes again every",
        default_unit="cm",
        required=False,
        minimum_mm=1,
        maximum_mm=2000,
        help_text="Stripes round the body: from one to the next that is the same. Left empty, pieces may lie anywhere.",
    )
    repeat_width_mm = LengthField(
        label="Across the cloth it comes again every",
        default_unit="cm",
        required=False,
        minimum_mm=1,
        maximum_mm=2000,
        help_text="Stripes up and down, or checks. The middles of front and back then lie on the same stripe.",
    )
    low_m = MetresField(label="Low when less than", help_text="0 where you never want to be told.")

    class Meta:
        model = Fabric
        fields = [
            "name",
            "composition",
            "supplier",
            "full_width_mm",
            "selvedge_mm",
            "weight_gsm",
            "thickness_mm",
            "stretch_percent",
            "one_way",
            "shades",
            "shrinkage_length_percent",
            "shrinkage_width_percent",
            "shrinkage_handling",
            "sold_by",
            "pack_quantity",
            "minimum_quantity",
            "price",
            "low_m",
            "end_allowance_mm",
            "damage_percent",
            "is_tube",
            "lay_open",
            "lay_face_to_face",
            "lay_folded",
            "repeat_length_mm",
            "repeat_width_mm",
        ]
        labels = {
            "one_way": "All pieces point the same way",
            "shades": "It shades",
            "shrinkage_handling": "How shrinkage is handled",
            "is_tube": "Knitted as a tube",
            "lay_open": "Open, face up",
            "lay_face_to_face": "Two plies face to face",
            "lay_folded": "Folded lengthwise, or as a tube",
        }
        help_texts = {
            "shades": "Its colour is not quite the same all over: pieces that a style marks “side by side” are "
            "then cut next to each other.",
            "is_tube": "Its full width is then all the way round. It is laid folded, or open where you slit it.",
            "lay_open": "One layer a ply: any piece, any number.",
            "lay_face_to_face": "Each outline gives a piece and its mirror image. Where all pieces point the same way, "
            "cut every second ply off and turn it end for end before it is laid face down, so that its direction "
            "is that of the first.",
            "lay_folded": "Two layers, half as wide: wider pieces do not fit.",
        }
        error_messages = SAME_NAME

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["supplier"].empty_label = "not noted"
        in_yards = self.display == "imperial"
        self.length_unit, self.mass_unit = ("yd", "lb") if in_yards else ("m", "kg")
        if in_yards:
            self.fields["price"].help_text = "For a yard, a roll or a pound, as it is sold."
        if in_yards and self.instance.pk is None:
            self.initial["pack_quantity"] = units.mm_in("yd") / 8000
        price = self.initial.get("price")
        if isinstance(price, Decimal) and self.instance.pk is not None:
            self.initial["price"] = price_as_told(price, self.instance.sold_by, self.display)
        for name in ("pack_quantity", "minimum_quantity"):
            stored = self.initial.get(name)
            if isinstance(stored, Decimal):
                self.initial[name] = self._as_typed(stored, counts_rolls=name == "minimum_quantity")

    def _as_typed(self, amount: Decimal, *, counts_rolls: bool) -> str:
        if counts_rolls and self.instance.sold_by == Fabric.SoldBy.ROLL:
            return f"{units.plain_number(amount)} roll{'' if amount == 1 else 's'}"
        if self.instance.sold_by == Fabric.SoldBy.KG:
            near = Decimal("0.005" if counts_rolls else "0.0005")
            return units.mass_as_typed(amount, self.mass_unit, within_kg=near)
        return units.length_as_typed(amount * 1000, self.length_unit)

    def _price_to_keep(self, typed: Decimal, sold_by: str) -> Decimal:
        """For a metre, a kilogram or a roll; what is left as it was shown stays to the last digit."""
        stored = self.instance.price
        shown = self.fields["price"].show(price_as_told(stored, sold_by, self.display))
        if sold_by == self.instance.sold_by and typed == Decimal(shown):
            return stored
        return price_as_kept(typed, sold_by, self.display)

    def clean_name(self) -> str:
        return free_name(self, Fabric)

    def clean_stretch_percent(self) -> Decimal:
        stretch: Decimal = self.cleaned_data["stretch_percent"]
        if stretch > MOST_STRETCH_PERCENT:
            times = units.plain_number(1 + stretch / 100)
            raise ValidationError(
                f"That would be {times} times as long when pulled; cloth to cut from stretches to four times at "
                f"the very most, which is {MOST_STRETCH_PERCENT} %. From 10 to 15 cm is 50 %."
            )
        return stretch

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        sold_by = cleaned.get("sold_by", "")
        self._check_untouched_steps(cleaned, sold_by)
        for name in ("pack_quantity", "minimum_quantity"):
            if isinstance(cleaned.get(name), str):
                try:
                    cleaned[name] = self.fields[name].read(
                        cleaned[name],
                        sold_by=sold_by,
                        length_unit=self.length_unit,
                        mass_unit=self.mass_unit,
                        counts_rolls=name == "minimum_quantity",
                    )
                except ValidationError as wrong:
                    self.add_error(name, wrong)
        if sold_by and cleaned.get("price") is not None:
            cleaned["price"] = self._price_to_keep(cleaned["price"], sold_by)
        width, selvedge = cleaned.get("full_width_mm"), cleaned.get("selvedge_mm")
        if width is not None and selvedge is not None and 2 * selvedge >= width:
            self.add_error("selvedge_mm", "Two selvedges of this width leave nothing of the cloth to cut.")
        self._check_ways(cleaned)
        return cleaned

    def _check_untouched_steps(self, cleaned: dict[str, Any], sold_by: str) -> None:
        """What stands in the form of a new cloth is a step of length: of another kind it has to be said."""
        steps = cleaned.get("pack_quantity")
        if self.instance.pk or sold_by not in _SAY_STEPS or steps != self.initial.get("pack_quantity"):
            return
        del cleaned["pack_quantity"]
        self.add_error("pack_quantity", _SAY_STEPS[sold_by])

    def _check_ways(self, cleaned: dict[str, Any]) -> None:
        """It may be laid in one way at least, and a tube in one of its own."""
        if not any(cleaned.get(way) for way in LAY_WAYS):
            self.add_error("lay_open", "Tick at least one way, or nothing can be cut from it.")
        if cleaned.get("is_tube") and cleaned.get("lay_face_to_face"):
            self.add_error(
                "lay_face_to_face",
                "A tube lies in two layers already: tick folded, and open where you slit it.",
            )


class SupplierForm(Meanwhile, PlainWords, forms.ModelForm):
    """Somebody things are bought from."""

    class Meta:
        model = Supplier
        fields = ["name", "contact"]
        labels = {"contact": "How to reach them"}
        error_messages = SAME_NAME

    def clean_name(self) -> str:
        return free_name(self, Supplier)


class ColourForm(Meanwhile, PlainWords, forms.ModelForm):
    """A colour of a fabric."""

    swatch = forms.CharField(
        label="Looks like", widget=forms.TextInput(attrs={"type": "color"}), validators=[_COLOUR_CODE]
    )

    class Meta:
        model = FabricColour
        fields = ["name", "swatch"]
        labels = {"name": "Name of the colour"}

    def clean_name(self) -> str:
        return free_name(self, FabricColour, fabric=self.instance.fabric)


class NoteForm(PlainWords, forms.Form):
    """Whatever may carry a note."""

    note = forms.CharField(label="Note", max_length=200, required=False)


class CountClothForm(NoteForm):
    """What is really left."""

    metres = MetresField(label="What is there now", maximum=9999)
    field_order = ["metres", "note"]


class TakeOutClothForm(NoteForm):
    """What leaves the shelf."""

    metres = MetresField(label="How much is taken out", above=0, maximum=9999)
    reason = forms.ChoiceField(
        label="Why", choices=[(c.value, c.label) for c in (StockMove.Reason.DAMAGED, StockMove.Reason.USED)]
    )
    field_order = ["metres", "reason", "note"]


def free_name(form: forms.ModelForm, model: type[Any], **within: Any) -> str:
    """The name, without needless spaces; refused where another row has it, in whatever letters."""
    name = " ".join(str(form.cleaned_data["name"]).split())
    others = model.objects.filter(name__iexact=name, **within).exclude(pk=form.instance.pk)
    if others.exists():
        shown = f"“{name}”" if name else "a nameless colour"
        raise ValidationError(f"There is {shown} already. Please choose another name.")
    return name
