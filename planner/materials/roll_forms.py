"""Forms for what is done to a roll on its own page."""

from __future__ import annotations

from django import forms

from planner.common.fields import MetresField
from planner.common.forms import PlainWords
from planner.materials.forms import NoteForm


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
