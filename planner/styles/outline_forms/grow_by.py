"""The grow-by table: how far each corner of the base size moves in the other sizes."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from planner.common.fields import LengthField
from planner.common.forms import PlainWords
from planner.core import units
from planner.core.grow import Move, grow, moves_between, same_step
from planner.core.grow_points import GrowBase, GrowPoint, PointKind, grow_base
from planner.core.outline import Outline, outline_from_json
from planner.styles.models import Piece, Size
from planner.styles.outline_forms.meanwhile import SizesMeanwhile

WAYS = (("along", "along"), ("across", "across"))
#: Figures nearer than this say the same (mm).
_SAME_MM = 0.01


class MoveField(LengthField):
    """How far a point moves: may be less than nothing, and is kept to a thousandth of a mm."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            default_unit="mm", minimum_mm=-2000, maximum_mm=2000, places=3, required=False, **kwargs
        )

    def parse(self, text: str) -> Decimal:
        return units.parse_length_mm(text, self.default_unit, allow_negative=True)

    def show(self, value: Decimal) -> str:
        return units.length_as_typed(value, self.default_unit, within_mm=Decimal("0.005"))

    def prepare_value(self, value: Any) -> Any:
        """Without its unit: the cells are small, and the page says what a bare number is in."""
        shown = super().prepare_value(value)
        return shown if isinstance(value, str) or shown is None else shown.rsplit(" ", 1)[0]


@dataclass(frozen=True)
class Row:
    """A point of the table and its cells: a pair for the same step, then one for each size but the base."""

    point: GrowPoint
    cells: tuple[tuple[BoundField, BoundField | None], ...]

    @property
    def names(self) -> list[str]:
        """The name in parts, between which a line may break."""
        return self.point.name.split("/")

    @property
    def wrong(self) -> list[BoundField]:
        """Cells that could not be read: what is wrong stands below the row, which no message makes wider."""
        return [field for pair in self.cells for field in pair if field is not None and field.errors]

    @property
    def columns(self) -> int:
        """How many columns the table has."""
        return 1 + 2 * len(self.cells)


class GrowForm(SizesMeanwhile, PlainWords, forms.Form):
    """Moves of named corners in mm: one step for every size up, or a size's own figure from the base size."""

    template = "styles/_way_grow.html"
    names_cells = True

    #: The base size as it was when the page was opened: its letters stand for these points.
    drawn_from = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, piece: Piece, sizes: list[Size], *args: Any, base_size: Size, **kwargs: Any) -> None:
        self.sizes, self.base_size = sizes, base_size
        self.others = [size for size in sizes if size != base_size]
        stored = {row.size: outline_from_json(row.shape) for row in piece.outlines.filter(size__in=sizes)}
        self.outline: Outline | None = stored.get(base_size)
        self.base: GrowBase | None = grow_base(self.outline) if self.outline else None
        initial = self._stored(stored) | {"drawn_from": self._mark()}
        super().__init__(*args, initial=initial, **kwargs)
        for point in self.points:
            for way, text in WAYS:
                if way == "across" and point.on_fold:
                    continue
                for suffix, where in self._columns():
                    field = MoveField(label=f"{point.letter} {text}, {where}")
                    field.use_display(self.display)
                    self.fields[_key(point, way, suffix)] = field

    @property
    def points(self) -> tuple[GrowPoint, ...]:
        """The points of the base size, none while it has no outline."""
        return self.base.points if self.base else ()

    def _columns(self) -> Iterator[tuple[str, str]]:
        yield "step", "each size up"
        for size in self.others:
            yield str(size.pk), size.name

    def _mark(self) -> str:
        if self.outline is None:
            return ""
        return hashlib.sha256(json.dumps(self.outline.as_json()).encode()).hexdigest()[:16]

    # --- what is stored -----------------------------------------------------------------------------------

    def _stored(self, stored: Mapping[Size, Outline]) -> dict[str, Any]:
        """The table that made what is stored, where a table did."""
        others = {size.name: shape for size, shape in stored.items() if size != self.base_size}
        if self.outline is None or not others:
            return {}
        moves = moves_between(self.outline, others) or {}
        initial: dict[str, Any] = {}
        for point in self.points:
            if point.name in moves:
                for number, (way, _) in enumerate(WAYS):
                    figures = {size: move[number] for size, move in moves[point.name].items()}
                    initial |= self._shown(point, way, figures)
        return initial

    def _shown(self, point: GrowPoint, way: str, figures: Mapping[str, float]) -> dict[str, float]:
        """A row's figures as one step where they are, else size by size; a corner that stands still as none."""
        if point.kind is PointKind.CORNER and not any(abs(mm) > _SAME_MM for mm in figures.values()):
            return {}
        steps = {
            size.name: i - self.sizes.index(self.base_size)
            for i, size in enumerate(self.sizes)
            if size != self.base_size
        }
        if figures.keys() == steps.keys():
            size = next(name for name in (self._nearest(), *steps) if name in steps)
            step = figures[size] / steps[size]
            if all(abs(figures[name] - step * count) <= _SAME_MM for name, count in steps.items()):
                return {_key(point, way, "step"): round(step, 3) + 0.0}
        return {
            _key(point, way, str(size.pk)): figures[size.name] + 0.0
            for size in self.others
            if size.name in figures
        }

    def _nearest(self) -> str:
        """The size next to the base size, larger if there is one."""
        here = self.sizes.index(self.base_size)
        beside = self.sizes[here + 1 : here + 2] or self.sizes[max(here - 1, 0) : here]
        return beside[0].name if beside else ""

    # --- what is shown ------------------------------------------------------------------------------------

    def _row(self, point: GrowPoint) -> Row:
        pairs = []
        for suffix, _ in self._columns():
            across = None if point.on_fold else self[_key(point, "across", suffix)]
            pairs.append((self[_key(point, "along", suffix)], across))
        return Row(point, tuple(pairs))

    def main_rows(self) -> list[Row]:
        """Corners, turns and points on the fold."""
        return [self._row(point) for point in self.points if point.kind is not PointKind.MIDDLE]

    def middle_rows(self) -> list[Row]:
        """Points half-way along an edge, wanted now and then."""
        return [self._row(point) for point in self.points if point.kind is PointKind.MIDDLE]

    def middles_used(self) -> bool:
        """Whether one of these is filled in or wrong, so that they must be seen."""
        return any(
            cell.value() or cell.errors
            for row in self.middle_rows()
            for pair in row.cells
            for cell in pair
            if cell is not None
        )

    # --- what is typed ------------------------------------------------------------------------------------

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        data["outlines"] = {}
        if self.outline is None:
            self.add_error(None, f"Draw the base size, {self.base_size.name}, first.")
            return data
        if data.get("drawn_from") != self._mark():
            text = "The base size was changed meanwhile. Look whether the letters still stand at the same points."
            self.add_error(None, text)
            self.data = self.data.copy()
            self.data[self.add_prefix("drawn_from")] = self._mark()
        if self.errors:
            return data
        moves = {point.name: self._moves(data, point) for point in self.points}
        if not any(move for by_size in moves.values() for move in by_size.values()):
            self.add_error(None, "Type how far at least one corner moves, here or in a size's own column.")
            return data
        grown = grow(self.outline, {name: by_size for name, by_size in moves.items() if by_size})
        for problem in grown.problems:
            self.add_error(self._field_of(problem.point, problem.size, data), problem.text)
        if not grown.problems:
            made = grown.outlines
            data["outlines"] = {size: made[size.name] for size in self.others if size.name in made}
            drawn = {self.base_size: self.outline} | data["outlines"]
            data["drawn"] = {size: drawn[size] for size in self.sizes if size in drawn}
        return data

    def _moves(self, data: Mapping[str, Any], point: GrowPoint) -> dict[str, Move]:
        """The moves of a point in the sizes for which something is typed."""
        figures: dict[str, dict[str, float]] = {}
        for way, _ in WAYS:
            step = data.get(_key(point, way, "step"))
            if step is not None:
                names = [size.name for size in self.sizes]
                for size, move in same_step((float(step), 0.0), names, self.base_size.name).items():
                    figures.setdefault(size, {})[way] = move[0]
            for size in self.others:
                own = data.get(_key(point, way, str(size.pk)))
                if own is not None:
                    figures.setdefault(size.name, {})[way] = float(own)
        return {
            size: (by_way.get("along", 0.0), by_way.get("across", 0.0)) for size, by_way in figures.items()
        }

    def _field_of(self, name: str, size_name: str, data: Mapping[str, Any]) -> str | None:
        """The cell a problem belongs to: the size's own where something is typed there."""
        point = next((point for point in self.points if point.name == name), None)
        size = next((size for size in self.others if size.name == size_name), None)
        if point is None or size is None:
            return None
        keys = [_key(point, way, suffix) for suffix in (str(size.pk), "step") for way, _ in WAYS]
        return next((key for key in keys if data.get(key) is not None), None)


def _key(point: GrowPoint, way: str, suffix: str) -> str:
    return f"{way}_{point.letter}_{suffix}"
