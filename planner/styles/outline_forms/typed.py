"""Outlines typed or pasted, a line for each point: points as x, y, or measures of a half from its fold."""

from __future__ import annotations

from typing import Any

from django import forms

from planner.common.forms import PlainWords
from planner.core.outline import Outline, outline_from_json
from planner.core.typed_outline import (
    MOST_CHARACTERS,
    MOST_POINTS,
    TypedOutline,
    as_typed,
    as_typed_from_fold,
    read_from_fold,
    read_outline,
)
from planner.styles.models import Piece, Size
from planner.styles.outline_forms.meanwhile import SizesMeanwhile


class PointsForm(SizesMeanwhile, PlainWords, forms.Form):
    """Points typed or pasted, for one size or several."""

    template = "styles/_way_points.html"

    size = forms.MultipleChoiceField(
        label="Sizes of this outline", widget=forms.CheckboxSelectMultiple
    )  # fmt: skip
    unit = forms.ChoiceField(
        label="Bare numbers are in",
        choices=[
            ("mm", "millimetres"),
            ("cm", "centimetres"),
            ("in", "inches"),
            ("m", "metres"),
            ("yd", "yards"),
        ],
    )
    half = forms.BooleanField(required=False, label="This is half: unfold it on the line y = 0")
    points = forms.CharField(
        label="Points, one a line", strip=False, max_length=MOST_CHARACTERS,
        widget=forms.Textarea(attrs={"rows": 14, "spellcheck": "false", "data-most": MOST_CHARACTERS}),
    )  # fmt: skip

    def __init__(
        self,
        piece: Piece,
        sizes: list[Size],
        *args: Any,
        chosen: Size,
        display: str = "metric",
        **kwargs: Any,
    ) -> None:
        self.sizes = sizes
        unit = "in" if display == "imperial" else "cm"
        stored = piece.outlines.filter(size=chosen).first()
        initial = {
            "size": [chosen.name],
            "unit": unit,
            "points": self.written(outline_from_json(stored.shape), unit) if stored else "",
        }
        super().__init__(*args, initial=initial, display=display, **kwargs)
        self.fields["size"].choices = [(size.name, size.name) for size in sizes]
        self.fields["size"].error_messages["required"] = "Tick the size this outline is for."
        field = self.fields["points"]
        # A browser cuts a long paste off at maxlength without a word; half an outline is worse than none.
        field.widget.attrs.pop("maxlength", None)
        for validator in field.validators:
            if getattr(validator, "code", "") == "max_length":
                validator.message = (
                    "This is %(show_value)s characters long; at most %(limit_value)s are read, "
                    f"and an outline has at most {MOST_POINTS:,} points."
                )

    def written(self, outline: Outline, unit: str) -> str:
        """What is stored, as it would be typed."""
        return as_typed(outline, unit=unit)

    def read(self, data: dict[str, Any]) -> TypedOutline:
        """What is typed, as an outline."""
        return read_outline(data["points"], unit=data["unit"], half=data.get("half", False))

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        data["outlines"] = {}
        if "points" not in data or "unit" not in data:
            return data
        reading = self.read(data)
        if reading.outline is None:
            self.add_error("points", [str(problem) for problem in reading.problems])
        else:
            data["outlines"] = {
                size: reading.outline for size in self.sizes if size.name in data.get("size", ())
            }
            data["shape"] = reading.outline
        return data


class FoldForm(PointsForm):
    """A paper piece as it is measured: down the fold, and out from it."""

    template = "styles/_way_fold.html"
    half = None

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["points"].label = "Down the fold, out from it, edge: one point a line"

    def written(self, outline: Outline, unit: str) -> str:
        return as_typed_from_fold(outline, unit=unit)

    def read(self, data: dict[str, Any]) -> TypedOutline:
        return read_from_fold(data["points"], unit=data["unit"])
