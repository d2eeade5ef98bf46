"""Forms for a roll that comes in, and for what is done to it on its own page."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from planner.common.fields import LengthField, MetresField
from planner.common.forms import PlainWords
from planner.core.units import format_length
from planner.materials.forms import NoteForm

#: A roll wider or narrower than its cloth by more than this share is asked about (from memory: mills allow a few per
#: cent); one wider by this factor is a slip. A narrow one may be a piece that was split along the grain.
ASKED_SHARE, SLIP_FACTOR = Decimal("0.2"), 3


class WidthAsked(PlainWords, forms.Form):
    """The own width of a roll, of a cloth `fabric_width_mm` wide.

    A width far from the cloth's is asked about: it is taken once it is ticked that it is so.
    """

    full_width_mm = LengthField(
        label="Its own width",
        required=False,
        minimum_mm=50,
        maximum_mm=10_000,
        help_text="Only where it differs from the fabric's.",
    )
    is_so_wide = forms.BooleanField(label="Yes, this roll is so wide", required=False)

    def __init__(self, *args: Any, fabric_width_mm: Decimal, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fabric_width_mm = fabric_width_mm
        self._tick = self.fields["is_so_wide"]
        if not self.data.get("is_so_wide"):
            del self.fields["is_so_wide"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        is_so_wide = cleaned.pop("is_so_wide", False)
        width: Decimal | None = cleaned.get("full_width_mm")
        if width is None:
            return cleaned
        own, of_cloth = self._in_words(width), self._in_words(self.fabric_width_mm)
        if width > SLIP_FACTOR * self.fabric_width_mm:
            self.add_error(
                "full_width_mm",
                f"{own} is more than {SLIP_FACTOR} times as wide as this cloth, which is {of_cloth}. If that is "
                "wrong, change it with the fabric.",
            )
        elif abs(width - self.fabric_width_mm) > ASKED_SHARE * self.fabric_width_mm and not is_so_wide:
            self.add_error(
                "full_width_mm",
                f"This cloth is {of_cloth} wide, edge to edge. If the roll is really {own}, tick that it is so.",
            )
            self.fields["is_so_wide"] = self._tick
            self.order_fields(self.field_order)
        return cleaned

    def _in_words(self, width_mm: Decimal) -> str:
        return format_length(float(width_mm), self.display, "small")  # type: ignore[arg-type]


class ReceiveClothForm(WidthAsked, NoteForm):
    """A roll that came in."""

    metres = MetresField(label="Length", above=0, maximum=9999, help_text="For example 25 m or 27 yd.")
    shade_lot = forms.CharField(label="Shade lot", max_length=40, required=False)
    number = forms.CharField(
        label="Roll number", max_length=40, required=False, help_text="Left empty, it gets one."
    )
    field_order = ["metres", "shade_lot", "number", "full_width_mm", "is_so_wide", "note"]


class RollWidthForm(WidthAsked):
    """The width of a roll measured again; left empty, it is as wide as its cloth."""

    field_order = ["full_width_mm", "is_so_wide"]


class FlawForm(PlainWords, forms.Form):
    """Where a roll must not be cut from."""

    from_m = MetresField(label="From", maximum=9999, help_text="From the outer end, which is 0.")
    to_m = MetresField(label="To", above=0, maximum=9999)
    note = forms.CharField(
        label="What it is", max_length=120, required=False, help_text="For example hole, stain, join."
    )


class PartRollForm(NoteForm):
    """A piece that is cut off a roll to be kept."""

    metres = MetresField(label="How much is cut off", above=0, maximum=9999)
    number = forms.CharField(
        label="Its number",
        max_length=40,
        required=False,
        help_text="Left empty, it is called after the roll.",
    )
    field_order = ["metres", "number", "note"]
