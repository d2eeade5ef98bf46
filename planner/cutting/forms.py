"""What is typed in this room."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from django import forms
from django.http import QueryDict

from planner.common.fields import LengthField
from planner.cutting.models import LayCloth

MOST_IN_A_BOX = 9_999


@dataclass(frozen=True)
class Boxes:
    """The boxes of the page that fills a batch: what they ask for, what was typed, what is wrong with it."""

    wanted: dict[int, int]
    typed: dict[int, str]
    errors: dict[int, str]


def read_boxes(data: QueryDict) -> Boxes:
    """Reads boxes named `q-<line quantity>`; blank counts as none."""
    wanted: dict[int, int] = {}
    typed: dict[int, str] = {}
    errors: dict[int, str] = {}
    for name in data:
        head, _, key = name.partition("-")
        if head != "q" or not (key.isascii() and key.isdigit()) or len(key) > 18:
            continue
        pk, text = int(key), data[name].strip()[:20]
        typed[pk] = text
        if not text:
            continue
        if not (text.isascii() and text.isdigit()) or len(text) > 6 or int(text) > MOST_IN_A_BOX:
            errors[pk] = f"type a whole number up to {MOST_IN_A_BOX}"
            continue
        wanted[pk] = int(text)
    return Boxes(wanted, typed, errors)


class LayCutForm(forms.Form):
    """The metres really used of each cloth of a lay."""

    def __init__(self, data: Mapping[str, str] | None, cloths: Iterable[LayCloth], planned_mm: float) -> None:
        super().__init__(data)
        self.cloths = list(cloths)
        for cloth in self.cloths:
            self.fields[self.name_of(cloth)] = LengthField(
                label=f"Really used of {cloth.fabric_colour}",
                default_unit="m",
                minimum_mm=Decimal(1),
                maximum_mm=Decimal(1_000_000),
                initial=Decimal(round(planned_mm)),
            )

    @staticmethod
    def name_of(cloth: LayCloth) -> str:
        """The field of a cloth."""
        return f"used-{cloth.pk}"

    def used_m(self) -> dict[int, Decimal]:
        """Metres by cloth; call it on a valid form."""
        return {cloth.pk: round(self.cleaned_data[self.name_of(cloth)] / 1000, 2) for cloth in self.cloths}


class LongerForm(forms.Form):
    """How much longer to nest."""

    seconds = forms.TypedChoiceField(
        label="Go on for",
        coerce=int,
        choices=[(20, "20 seconds"), (60, "1 minute"), (300, "5 minutes"), (1800, "half an hour")],
        initial=20,
    )
