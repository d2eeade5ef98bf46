"""The two ways to enter an outline: a rectangle by its measures, or points typed and pasted."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from planner.common.fields import LengthField
from planner.common.forms import PlainWords
from planner.core.outline import LARGEST_MM, Outline, outline_from_json, rectangle
from planner.core.typed_outline import LONGEST_NAME, MOST_CHARACTERS, MOST_POINTS, as_typed, read_outline
from planner.styles.models import Piece, Size

#: Names of the sides with the grain upright, in the order of :func:`planner.core.outline.rectangle`.
SIDES = (("left", "Left edge"), ("top", "Top edge"), ("right", "Right edge"), ("bottom", "Bottom edge"))


class RectangleForm(PlainWords, forms.Form):
    """Length along the grain and width across it: one row for every size, or for all that have no own row."""

    def __init__(self, piece: Piece, sizes: list[Size], *args: Any, **kwargs: Any) -> None:
        self.sizes = sizes
        self.base_fields = {
            "length": _measure("Length along the grain, every size"),
            "width": _measure("Width across, every size"),
        }
        for size in sizes:
            self.base_fields[f"length_{size.pk}"] = _measure(f"Length in {size.name}")
            self.base_fields[f"width_{size.pk}"] = _measure(f"Width in {size.name}")
        for name, label in SIDES:
            self.base_fields[name] = forms.CharField(max_length=LONGEST_NAME, required=False, label=label)
        super().__init__(*args, initial=self._stored(piece), **kwargs)

    def _stored(self, piece: Piece) -> dict[str, Any]:
        """What is stored already, where it is a rectangle."""
        initial: dict[str, Any] = {name: name for name, _ in SIDES}
        measures: dict[int, tuple[float, float]] = {}
        for row in piece.outlines.filter(size__in=self.sizes):
            shape = outline_from_json(row.shape)
            if len(shape.points) != 4 or abs(shape.area_mm2 - shape.length_mm * shape.width_mm) > 1.0:
                continue
            measures[row.size_id] = (round(shape.length_mm, 1), round(shape.width_mm, 1))
            if len(shape.edges) == 4:
                initial |= {name: edge.name for (name, _), edge in zip(SIDES, shape.edges, strict=True)}
        if len(measures) == len(self.sizes) and len(set(measures.values())) == 1:
            initial["length"], initial["width"] = next(iter(measures.values()))
            return initial
        for pk, (length, width) in measures.items():
            initial[f"length_{pk}"], initial[f"width_{pk}"] = length, width
        return initial

    def rows(self) -> Iterator[tuple[str, BoundField, BoundField]]:
        """(size or "every size", length, width) as the table shows them."""
        yield "every size", self["length"], self["width"]
        for size in self.sizes:
            yield size.name, self[f"length_{size.pk}"], self[f"width_{size.pk}"]

    def sides(self) -> list[BoundField]:
        """The fields for the names of the four edges."""
        return [self[name] for name, _ in SIDES]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        names = tuple(" ".join(data.get(name, "").split()) or name for name, _ in SIDES)
        outlines: dict[Size, Outline] = {}
        for size in self.sizes:
            measures = self._measures(data, size)
            if measures:
                outlines[size] = rectangle(*measures, names)
        if not outlines and not self.errors:
            self.add_error("length", "Type the length and width, here for every size or in a row for one.")
        data["outlines"] = outlines
        return data

    def _measures(self, data: dict[str, Any], size: Size) -> tuple[float, float] | None:
        """Length and width in mm of one size; half a pair of measures is answered at the other half."""
        suffix = f"_{size.pk}" if data.get(f"length_{size.pk}") or data.get(f"width_{size.pk}") else ""
        length, width = data.get(f"length{suffix}"), data.get(f"width{suffix}")
        if length and width:
            return float(length), float(width)
        for here, there in (("length", "width"), ("width", "length")):
            field = f"{there}{suffix}"
            if data.get(f"{here}{suffix}") and not data.get(field) and not self.has_error(field):
                self.add_error(field, "Length and width go together.")
        return None


def _measure(label: str) -> LengthField:
    return LengthField(
        default_unit="cm",
        above_mm=0,
        minimum_mm=None,
        maximum_mm=str(int(LARGEST_MM)),
        required=False,
        label=label,
    )


class PointsForm(PlainWords, forms.Form):
    """Points typed or pasted, for one size or several."""

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
            "points": as_typed(outline_from_json(stored.shape), unit=unit) if stored else "",
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

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        data["outlines"] = {}
        if "points" not in data or "unit" not in data:
            return data
        reading = read_outline(data["points"], unit=data["unit"], half=data.get("half", False))
        if reading.outline is None:
            self.add_error("points", [str(problem) for problem in reading.problems])
        else:
            data["outlines"] = {
                size: reading.outline for size in self.sizes if size.name in data.get("size", ())
            }
            data["shape"] = reading.outline
        return data
