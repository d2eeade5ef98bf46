"""What is asked before a marker is printed in one length."""

from __future__ import annotations

from decimal import Decimal

from django import forms

from planner.common.fields import LengthField
from planner.common.forms import PlainWords
from planner.papers.marker_wide import LONGEST_MM, NARROWEST_MM


class RollWidthForm(PlainWords, forms.Form):
    """How wide the paper on the printer's roll is; empty for as wide as the lay needs."""

    roll = LengthField(
        label="Width of the paper on the roll",
        default_unit="cm",
        minimum_mm=Decimal(int(NARROWEST_MM)),
        maximum_mm=Decimal(int(LONGEST_MM)),
        required=False,
        help_text="Leave it empty for paper as wide as the lay needs. Narrower paper gives several lengths to join.",
    )

    @property
    def roll_mm(self) -> float | None:
        """The width in mm; None for what the lay needs. Call it on a valid form."""
        found = self.cleaned_data["roll"]
        return None if found is None else float(found)
