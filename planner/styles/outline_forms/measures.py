"""Outlines by a few measures: rectangle, trapezoid and strip. A row for every size, or one for all of them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from decimal import Decimal
from typing import Any, ClassVar, cast

from django import forms
from django.forms.boundfield import BoundField

from planner.common.fields import LengthField
from planner.common.forms import PlainWords
from planner.core.builders import FourNames, Lies, StraightSide, strip, strip_cut_size_mm, trapezoid
from planner.core.outline import LARGEST_MM, Outline, OutlineError, outline_from_json, rectangle
from planner.core.typed_outline import LONGEST_NAME
from planner.styles.models import Piece, Size
from planner.styles.outline_forms.meanwhile import SizesMeanwhile

#: Measures nearer than this are the same; stored ones are rounded (mm).
_SAME_MM = 0.1

#: The units lengths are typed in, as the form says them.
_UNITS = {"mm": "millimetres", "cm": "centimetres", "m": "metres", "in": "inches", "yd": "yards"}

Measures = tuple[float, ...]


class MeasuresForm(SizesMeanwhile, PlainWords, forms.Form):
    """A table of measures: one row for every size, or for all that have no own row; and four names of edges."""

    template = "styles/_way_measures.html"
    names_cells = True
    #: (key, heading of the column, label for one size)
    columns: ClassVar[tuple[tuple[str, str, str], ...]] = ()
    #: (key, label, name unless another is typed) in the order of the ring.
    edges: ClassVar[tuple[tuple[str, str, str], ...]] = (
        ("right", "Right edge", "right"),
        ("top", "Top edge", "top"),
        ("left", "Left edge", "left"),
        ("bottom", "Bottom edge", "bottom"),
    )
    edges_heading = "Edge names, grain upright"
    missing = ""
    together = ""

    def __init__(self, piece: Piece, sizes: list[Size], *args: Any, **kwargs: Any) -> None:
        self.sizes = sizes
        self.base_fields = {}
        for key, _, label in self.columns:
            self.base_fields[key] = measure(f"{label}, every size")
            for size in sizes:
                self.base_fields[f"{key}_{size.pk}"] = measure(f"{label} in {size.name}")
        self.base_fields |= self.more_fields()
        for key, label, _ in self.edges:
            self.base_fields[key] = forms.CharField(max_length=LONGEST_NAME, required=False, label=label)
        super().__init__(*args, initial=self._stored(piece), **kwargs)

    # What each kind of piece says for itself.

    def more_fields(self) -> dict[str, forms.Field]:
        """Fields besides the measures and the names."""
        return {}

    def more_initial(self, piece: Piece) -> dict[str, Any]:
        """What they say before anything is stored."""
        return {}

    def built(self, measures: Measures, names: FourNames, data: dict[str, Any]) -> Outline:
        """The outline with these measures in mm. Raises OutlineError."""
        raise NotImplementedError

    def measured(self, shape: Outline) -> tuple[Measures, dict[str, Any]] | None:
        """The measures of a stored outline in mm and what more fields say of it; None where it is another."""
        raise NotImplementedError

    # What they have in common.

    def _stored(self, piece: Piece) -> dict[str, Any]:
        """What is stored already, where it is such a piece."""
        initial: dict[str, Any] = {key: name for key, _, name in self.edges} | self.more_initial(piece)
        found: dict[int, Measures] = {}
        for row in piece.outlines.filter(size__in=self.sizes):
            shape = outline_from_json(row.shape)
            known = self.measured(shape.at_origin()) if len(shape.points) == 4 else None
            if known is None:
                continue
            found[row.size_id] = tuple(round(mm, 1) for mm in known[0])
            initial |= known[1]
            if [edge.start for edge in shape.edges] == [0, 1, 2, 3]:
                names = zip(self.edges, shape.edges, strict=True)
                initial |= {key: edge.name for (key, _, _), edge in names}
        if len(found) == len(self.sizes) and len(set(found.values())) == 1:
            return initial | self._row("", next(iter(found.values())))
        for pk, measures in found.items():
            initial |= self._row(f"_{pk}", measures)
        return initial

    def _row(self, suffix: str, measures: Measures) -> dict[str, float]:
        return {f"{key}{suffix}": mm for (key, _, _), mm in zip(self.columns, measures, strict=True)}

    def bare_unit(self) -> str:
        """What a number without a unit is taken as, in words."""
        unit = cast("LengthField", self.fields[self.columns[0][0]]).default_unit
        return _UNITS[unit]

    def headings(self) -> list[str]:
        """The headings of the columns."""
        return [heading for _, heading, _ in self.columns]

    def rows(self) -> Iterator[tuple[str, list[BoundField]]]:
        """(size or "every size", its fields) as the table shows them."""
        yield "every size", [self[key] for key, _, _ in self.columns]
        for size in self.sizes:
            yield size.name, [self[f"{key}_{size.pk}"] for key, _, _ in self.columns]

    def more(self) -> list[BoundField]:
        """The fields between table and names."""
        return [self[name] for name in self.more_fields()]

    def edge_names(self) -> list[BoundField]:
        """The fields for the names of the four edges."""
        return [self[key] for key, _, _ in self.edges]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        first, second, third, fourth = (
            " ".join(data.get(k, "").split()) or name for k, _, name in self.edges
        )
        outlines: dict[Size, Outline] = {}
        for size in self.sizes:
            suffix, measures = self._measures(data, size)
            if not measures or any(name in self.errors for name in self.more_fields()):
                continue
            try:
                outlines[size] = self.built(measures, (first, second, third, fourth), data)
            except OutlineError as problem:
                text = str(problem)
                self.add_error(f"{self.columns[0][0]}{suffix}", f"{text[0].upper()}{text[1:]}.")
        if not outlines and not self.errors:
            self.add_error(self.columns[0][0], self.missing)
        data["outlines"] = {} if self.errors else outlines
        return data

    def _measures(self, data: dict[str, Any], size: Size) -> tuple[str, Measures]:
        """The row that holds for a size and its measures in mm, none where some lack: answered at those.

        What the row of the size leaves empty is taken from the row for every size.
        """
        keys = [key for key, _, _ in self.columns]
        suffix = f"_{size.pk}" if any(data.get(f"{key}_{size.pk}") for key in keys) else ""
        values = {key: data.get(f"{key}{suffix}") or data.get(key) for key in keys}
        if all(values.values()):
            return suffix, tuple(float(mm) for mm in values.values() if mm is not None)
        if any(values.values()):
            one_by_one = any(data.get(f"{key}_{other.pk}") for key in keys for other in self.sizes)
            at = f"_{size.pk}" if one_by_one else ""
            for key, value in values.items():
                if not value and not self.has_error(f"{key}{at}") and not self.has_error(key):
                    self.add_error(f"{key}{at}", self.together)
        return suffix, ()


class RectangleForm(MeasuresForm):
    """Length along the grain and width across it."""

    columns = (
        ("length", "Length, along the grain", "Length along the grain"),
        ("width", "Width, across", "Width across"),
    )
    missing = "Type the length and width, here for every size or in a row for one."
    together = "Length and width go together."

    def built(self, measures: Measures, names: FourNames, data: dict[str, Any]) -> Outline:
        return rectangle(*measures, names)

    def measured(self, shape: Outline) -> tuple[Measures, dict[str, Any]] | None:
        upright = math.dist(shape.points[0], (0, 0)) < _SAME_MM and shape.points[1][1] < _SAME_MM
        if not upright or abs(shape.area_mm2 - shape.length_mm * shape.width_mm) > 1.0:
            return None
        return (shape.length_mm, shape.width_mm), {}


class TrapezoidForm(MeasuresForm):
    """Length along the grain between two ends of different width."""

    columns = (
        ("length", "Length, along the grain", "Length along the grain"),
        ("bottom_width", "Width at the bottom", "Width at the bottom"),
        ("top_width", "Width at the top", "Width at the top"),
    )
    missing = "Type the length and both widths, here for every size or in a row for one."
    together = "Length and both widths go together."

    def more_fields(self) -> dict[str, forms.Field]:
        sides = [
            (StraightSide.NONE, "both sides slope alike"),
            (StraightSide.LEFT, "the left side is straight"),
            (StraightSide.RIGHT, "the right side is straight"),
        ]
        return {"straight": forms.ChoiceField(label="Sides", choices=[(str(s), text) for s, text in sides])}

    def more_initial(self, piece: Piece) -> dict[str, Any]:
        return {"straight": str(StraightSide.NONE)}

    def built(self, measures: Measures, names: FourNames, data: dict[str, Any]) -> Outline:
        return trapezoid(*measures, straight=StraightSide(data["straight"]), names=names)

    def measured(self, shape: Outline) -> tuple[Measures, dict[str, Any]] | None:
        (x0, bottom_from), (x1, top_from), (x2, top_to), (x3, bottom_to) = shape.points
        length = shape.length_mm
        if max(abs(x0), abs(x3), abs(x1 - length), abs(x2 - length)) > _SAME_MM:
            return None
        right, left = top_from - bottom_from, bottom_to - top_to
        measures = (length, bottom_to - bottom_from, top_to - top_from)
        if abs(left - right) <= _SAME_MM:
            return measures, {"straight": str(StraightSide.NONE)}
        if abs(left) <= _SAME_MM:
            return measures, {"straight": str(StraightSide.LEFT)}
        return (measures, {"straight": str(StraightSide.RIGHT)}) if abs(right) <= _SAME_MM else None


class StripForm(MeasuresForm):
    """Length and width of a strip, cut or finished: a binding, a tie, a band."""

    columns = (("length", "Length", "Length"), ("width", "Width", "Width"))
    edges = (
        ("long", "One long edge", "long edge"),
        ("end", "One end", "end"),
        ("other_long", "Other long edge", "other long edge"),
        ("other_end", "Other end", "end"),
    )
    edges_heading = "Edge names"
    missing = "Type the length and width, here for every size or in a row for one."
    together = "Length and width go together."

    def more_fields(self) -> dict[str, forms.Field]:
        layers = [
            ("0", "its cut size"),
            ("1", "finished, one layer"),
            ("2", "finished, 2 layers (folded in half)"),
            ("3", "finished, 3 layers (flat inside)"),
            ("4", "finished, 4 layers (edges turned in)"),
        ]
        lies = [
            (Lies.ALONG, "along the grain"),
            (Lies.ACROSS, "across the grain"),
            (Lies.BIAS, "on the bias (45°)"),
        ]
        return {
            "layers": forms.ChoiceField(label="Length and width are", choices=layers),
            "edge_allowance": allowance(
                "Seam allowance at each long edge", "0 where both are turned in. A cut size has it already."
            ),
            "end_allowance": allowance("Seam allowance at each end"),
            "lies": forms.ChoiceField(
                label="Its length lies",
                choices=[(str(way), text) for way, text in lies],
                help_text="Bands and bindings of knit lie across, where it stretches most.",
            ),
        }

    def more_initial(self, piece: Piece) -> dict[str, Any]:
        seam = piece.seam_allowance_mm
        return {
            "layers": "2" if piece.is_band else "0",
            "edge_allowance": seam,
            "end_allowance": seam,
            "lies": str(Lies.ACROSS if piece.is_band else Lies.ALONG),
        }

    def built(self, measures: Measures, names: FourNames, data: dict[str, Any]) -> Outline:
        length_mm, width_mm = measures
        layers = int(data["layers"])
        if layers:
            length_mm, width_mm = strip_cut_size_mm(
                length_mm,
                width_mm,
                layers=layers,
                edge_allowance_mm=float(data["edge_allowance"] or 0),
                end_allowance_mm=float(data["end_allowance"] or 0),
            )
        return strip(length_mm, width_mm, lies=Lies(data["lies"]), names=names)

    def measured(self, shape: Outline) -> tuple[Measures, dict[str, Any]] | None:
        (ax, ay), (bx, by), (cx, cy), _ = shape.points
        length, width = math.hypot(bx - ax, by - ay), math.hypot(cx - bx, cy - by)
        if abs(length * width - shape.area_mm2) > 1.0:
            return None
        turn = math.degrees(math.atan2(by - ay, bx - ax))
        ways = {0: Lies.ALONG, 90: Lies.ACROSS, 45: Lies.BIAS}
        lies = next((way for degrees, way in ways.items() if abs(turn - degrees) < 0.1), None)
        return None if lies is None else ((length, width), {"lies": str(lies), "layers": "0"})


def measure(label: str) -> LengthField:
    """A length above zero that may be left empty."""
    return LengthField(
        default_unit="cm",
        above_mm=0,
        minimum_mm=None,
        maximum_mm=str(int(LARGEST_MM)),
        required=False,
        label=label,
    )


def allowance(label: str, help_text: str = "") -> LengthField:
    """A seam allowance; nothing typed is none."""
    return LengthField(
        default_unit="mm",
        maximum_mm=Decimal(200),
        required=False,
        label=label,
        help_text=help_text,
    )
