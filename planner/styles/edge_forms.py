"""The form for the edges of a piece: a row for each, with its name, its allowance, and whether it is cut or joined."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from planner.common.fields import LengthField
from planner.common.forms import PlainWords
from planner.core.edge_cuts import SHORTEST_PART_MM, CutAlong, notches_along
from planner.core.edge_names import Suggestion
from planner.core.outline import Outline, Point, path_length_mm
from planner.core.typed_outline import LONGEST_NAME
from planner.core.units import format_length, parse_length_mm
from planner.styles.actions.edges import EdgeChange
from planner.styles.edge_drawing import COLOURS, letter_of, turn_points
from planner.styles.models import Piece

#: Names of edges as the trade has them, offered while typing.
TRADE_NAMES = (
    "neckline", "shoulder", "armhole", "side", "hem", "sleeve head", "underarm", "sleeve hem", "cuff edge",
    "centre front", "centre back", "yoke edge", "front edge", "waist", "inseam", "crotch", "fold edge", "long edge",
    "end", "outer edge", "facing edge", "opening", "pocket edge",
)  # fmt: skip


@dataclass(frozen=True)
class Row:
    """One edge as the form shows it."""

    index: int
    name: BoundField
    allowance: BoundField
    cut: BoundField
    far: BoundField
    step: BoundField
    join: BoundField | None
    suggestion: Suggestion | None

    @property
    def number(self) -> int:
        """As people count."""
        return self.index + 1

    @property
    def colour(self) -> int:
        """As in the drawing."""
        return self.index % COLOURS + 1

    @property
    def open(self) -> bool:
        """Whether something is to be cut or joined, or was refused."""
        fields = (self.cut, self.far, self.step, self.join)
        return any(field is not None and (field.errors or field.value()) for field in fields)


class StepField(LengthField):
    """How much further from one size to the next; may be less than nothing."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(minimum_mm=-500, maximum_mm=500, required=False, **kwargs)

    def parse(self, text: str) -> Decimal:
        return parse_length_mm(text, self.default_unit, allow_negative=True)


#: Choices of where an edge is cut that say from which of its corners a length is told.
FROM_START, FROM_END = "start", "end"
#: A notch this near to a turn that is offered is not offered beside it (mm).
_SAME_PLACE_MM = 1.0

#: Said where the edges that the form was filled in for are others by now.
EDGES_CHANGED = (
    "Somebody else changed these edges while you were typing. Nothing of yours is saved yet: edges may have other "
    "numbers now, so look at the drawing first."
)


class EdgesForm(PlainWords, forms.Form):
    """A row for every edge of the outline the names are given on.

    The template carries `version` as a hidden field of that name. Sent with another one than that of the edges as they
    are now the form is refused once, as `is_stale`, for its rows are told apart by their numbers alone.
    """

    def __init__(
        self, piece: Piece, outline: Outline, suggestions: Sequence[Suggestion], data: Any = None,
        *, display: str = "metric", take: str = "", notches: Sequence[Point] = (),
    ) -> None:  # fmt: skip
        """`take` is "all", or the index of an edge, whose suggestion stands in place of what was there.

        `notches` are those of the outline, in mm: an edge may be cut at one.
        """
        self.outline = outline
        self.notches = notches
        self.suggestions = suggestions
        self.display = display
        told = repr((outline.as_json(), sorted(piece.edge_allowances.items()), notches))
        self.version = hashlib.sha256(told.encode()).hexdigest()[:16]
        sent = "" if data is None or take else data.get("version", "")
        self.is_stale = bool(sent) and sent != self.version
        self.base_fields = dict(self._fields(piece))
        if data is not None and take:
            data = self._with_suggestions(data, take)
        super().__init__(data, display=display)

    def _fields(self, piece: Piece) -> Iterator[tuple[str, forms.Field]]:
        count = len(self.outline.edges)
        for i, edge in enumerate(self.outline.edges):
            named = f"edge {i + 1}"
            yield f"name_{i}", forms.CharField(
                max_length=LONGEST_NAME, initial=edge.name, label=f"Name of {named}",
                widget=forms.TextInput(attrs={"list": "edge-names", "autocomplete": "off", "data-edge": i}),
            )  # fmt: skip
            own = piece.edge_allowances.get(edge.name)
            yield f"allowance_{i}", LengthField(
                default_unit="mm", maximum_mm=100, required=False, label=f"Allowance at {named}",
                initial=None if own is None else Decimal(str(own)),
            )  # fmt: skip
            yield from self._cutting(i, named)
            if count > 1:
                following = (i + 1) % count + 1
                label = f"Join {named} with edge {following}"
                yield f"join_{i}", forms.BooleanField(required=False, label=label)

    def _cutting(self, i: int, named: str) -> Iterator[tuple[str, forms.Field]]:
        """Where an edge is cut: at a turn, at a notch, or so far from one of its corners."""
        turns = turn_points(self.outline, i)
        at_turns = [turn.from_start_mm for turn in turns]
        letter, last = letter_of(i), letter_of((i + 1) % len(self.outline.edges))
        choices = [("", "in one piece")]
        choices += [(str(turn.index), f"cut {self._far(turn.from_start_mm)} from {letter}") for turn in turns]
        for number, far in enumerate(self._notches_of(i)):
            if all(abs(far - at) > _SAME_PLACE_MM for at in at_turns):
                choices.append((f"notch {number}", f"cut at the notch, {self._far(far)} from {letter}"))
        choices.append((FROM_START, f"cut as far from {letter} as told below"))
        if last != letter:
            choices.append((FROM_END, f"cut as far from {last} as told below"))
        yield f"cut_{i}", forms.ChoiceField(choices=choices, required=False, label=f"Cut {named} in two")
        yield f"far_{i}", LengthField(required=False, above_mm=0, label=f"So far along {named}")
        yield f"step_{i}", StepField(label=f"Further along {named} in each size up")

    def _notches_of(self, i: int) -> list[float]:
        return notches_along(self.outline, i, self.notches)

    def _far(self, far_mm: float) -> str:
        return format_length(far_mm, display=self.display, kind="small")  # type: ignore[arg-type]

    def _with_suggestions(self, data: Any, take: str) -> dict[str, Any]:
        taken = {name: data.get(name) for name in self.base_fields if name in data}
        for suggestion in self.suggestions:
            if suggestion.is_known and take in ("all", str(suggestion.index)):
                taken[f"name_{suggestion.index}"] = suggestion.name
        return taken

    def rows(self) -> list[Row]:
        """The edges in the order of the ring; a suggestion only where it says something else."""
        return [
            Row(
                i, self[f"name_{i}"], self[f"allowance_{i}"],
                self[f"cut_{i}"], self[f"far_{i}"], self[f"step_{i}"],
                self[f"join_{i}"] if f"join_{i}" in self.fields else None,
                next((s for s in self.suggestions if s.index == i and s.is_known and self._is_new(s)), None),
            )
            for i in range(len(self.outline.edges))
        ]  # fmt: skip

    def _is_new(self, suggestion: Suggestion) -> bool:
        """Whether it says something else than what is typed; “left side” is a side already."""
        return not f" {self.typed(suggestion.index)}".lower().endswith(f" {suggestion.name}".lower())

    def typed(self, i: int) -> str:
        """The name of an edge as it stands in the form now."""
        return str(self[f"name_{i}"].value() or "")

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if self.is_stale:
            self.add_error(None, forms.ValidationError(EDGES_CHANGED, code="stale"))
        changes = [self._change(data, i) for i in range(len(self.outline.edges))]
        self._clean_joins(changes)
        allowances: dict[str, tuple[int, Decimal | None]] = {}
        for i, change in enumerate(changes):
            first, allowance = allowances.setdefault(change.name, (i, change.allowance_mm))
            if change.name and not any(ch.isalnum() for ch in change.name):
                self.add_error(f"name_{i}", "Name it with letters, for example neckline or side.")
            if change.name and allowance != change.allowance_mm and f"allowance_{i}" not in self.errors:
                same = f"Edges of one name have one allowance; edge {first + 1} is called {change.name} too."
                self.add_error(f"allowance_{i}", same)
        data["changes"] = changes
        return data

    def _change(self, data: Mapping[str, Any], i: int) -> EdgeChange:
        cut = data.get(f"cut_{i}") or ""
        return EdgeChange(
            " ".join((data.get(f"name_{i}") or "").split()), data.get(f"allowance_{i}"),
            int(cut) if cut.isdecimal() else None, bool(data.get(f"join_{i}")), self._along(data, i, cut),
        )  # fmt: skip

    def _along(self, data: Mapping[str, Any], i: int, cut: str) -> CutAlong | None:
        """Where along it an edge is cut, where it is neither left whole nor cut at a turn."""
        far, step = data.get(f"far_{i}"), data.get(f"step_{i}")
        if cut.startswith("notch"):
            return CutAlong(self._notches_of(i)[int(cut.split()[1])], at_notch=True)
        if cut not in (FROM_START, FROM_END):
            if not cut and (far or step) and f"cut_{i}" not in self.errors:
                self.add_error(f"cut_{i}", "Choose the corner this is measured from, or empty both boxes.")
            return None
        whole = path_length_mm(self.outline.edge_path(i))
        if far is None:
            if f"far_{i}" not in self.errors:
                self.add_error(f"far_{i}", "Type how far from the corner it is cut.")
            return None
        if not SHORTEST_PART_MM <= far <= whole - SHORTEST_PART_MM:
            self.add_error(f"far_{i}", f"The edge is {self._far(whole)} long: cut it between its ends.")
            return None
        return CutAlong(float(far), float(step or 0), from_end=cut == FROM_END)

    def _clean_joins(self, changes: Sequence[EdgeChange]) -> None:
        joined = [i for i, change in enumerate(changes) if change.join_next]
        if joined and len(joined) == len(changes):
            self.add_error(f"join_{joined[-1]}", "One edge at least must keep its ends: leave one join out.")
        for i in joined:
            if changes[i].is_cut or changes[(i + 1) % len(changes)].is_cut:
                self.add_error(
                    f"join_{i}", "Cut and join in two steps, please: keep the one, then do the other."
                )
