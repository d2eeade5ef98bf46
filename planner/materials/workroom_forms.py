"""The form for the habits of the workroom."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.validators import RegexValidator

from planner.common.fields import (
    LengthField,
    MetresField,
    MoneyField,
    PercentField,
    QuantityField,
    ThicknessField,
)
from planner.common.forms import PlainWords
from planner.common.meanwhile import Meanwhile
from planner.materials.models import Workroom


class MinutesField(QuantityField):
    """Minutes of work at the table."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(minimum=0, maximum=600, **kwargs)


class WorkroomForm(Meanwhile, PlainWords, forms.ModelForm):
    """The habits of the workroom."""

    labour_rate_per_hour = MoneyField(label="An hour's work costs", maximum="99999.99")
    overhead_percent = PercentField(
        label="Overhead", maximum=500, help_text="Rent, light, machines: on top of work and materials."
    )
    margin_percent = PercentField(
        label="Margin", maximum="95", help_text="What of the price is left after costs. 60 % of 50 is 30."
    )
    table_length_mm = LengthField(
        label="Length of the cutting table", default_unit="m", minimum_mm=300, maximum_mm=50_000
    )
    most_plies = QuantityField(
        label="Most plies cut at once",
        whole=True,
        minimum=1,
        maximum=200,
        help_text="Shears and rotary cutters: 1 to 2, thin jersey up to 4.",
    )
    piece_gap_mm = LengthField(label="Gap between pieces", default_unit="mm", maximum_mm=100)
    cut_thickness_mm = ThicknessField(
        label="Most cloth the tool cuts",
        places=1,
        required=False,
        minimum_mm="0.1",
        maximum_mm=300,
        help_text="How high a stack: a small round knife about 10 to 15 mm. Left empty, only the plies are counted.",
        help_in_inches="How high a stack: a small round knife about 3/8 to 5/8 in. Left empty, only the plies are"
        " counted.",
    )
    keep_remnant_m = MetresField(
        label="An end is kept from",
        maximum=100,
        help_text="What is left of a roll and shorter counts as waste.",
    )
    lay_minutes = MinutesField(
        label="Making a lay ready", help_text="Before the first ply, and clearing up after it."
    )
    spread_minutes = MinutesField(label="Laying a ply")
    spread_metre_minutes = MinutesField(label="and for each metre of it")
    mark_minutes = MinutesField(label="Marking a piece", help_text="For each piece drawn on the lay, once.")
    cut_minutes = MinutesField(
        label="Cutting a piece", help_text="For each piece drawn on the lay, through all plies."
    )
    bundle_size = QuantityField(
        label="Garments in a bundle",
        whole=True,
        minimum=0,
        maximum=1000,
        help_text="At most; 0 makes one bundle for each order line.",
    )
    lead_days = QuantityField(label="Days from cutting to dispatch", whole=True, minimum=0, maximum=365)
    nests_ahead = forms.BooleanField(
        label="Nest ahead what is ordered",
        required=False,
        help_text="While nothing else is to do, lays of what is ordered are worked out, so that a batch is planned"
        " sooner and a little shorter. It takes minutes after orders change: switch it off to spare a battery.",
    )
    currency = forms.CharField(
        label="Currency",
        max_length=3,
        help_text="Its three letters: EUR, USD, GBP.",
        validators=[RegexValidator(r"\A[A-Za-z]{3}\Z", "Please type the three letters of a currency.")],
    )

    class Meta:
        model = Workroom
        fields = [
            "name",
            "display",
            "paper",
            "currency",
            "labour_rate_per_hour",
            "overhead_percent",
            "margin_percent",
            "table_length_mm",
            "most_plies",
            "piece_gap_mm",
            "cut_thickness_mm",
            "keep_remnant_m",
            "lay_minutes",
            "spread_minutes",
            "spread_metre_minutes",
            "mark_minutes",
            "cut_minutes",
            "bundle_size",
            "lead_days",
            "nests_ahead",
        ]
        labels = {"name": "Name of the workroom", "display": "Lengths are shown in", "paper": "Printed on"}

    def clean_currency(self) -> str:
        return str(self.cleaned_data["currency"]).upper()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in ("most_plies", "bundle_size", "lead_days"):
            if cleaned.get(name) is not None:
                cleaned[name] = int(cleaned[name])
        return cleaned
