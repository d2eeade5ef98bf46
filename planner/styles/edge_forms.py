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
from planner.core.edge_names import Suggestion
from planner.core.outline import Outline
from planner.core.typed_outline import LONGEST_NAME
from planner.core.units import format_length
from planner.styles.actions.edges import EdgeChange
from planner.styles.edge_drawing import COLOURS, turn_points
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
    cut: BoundField | None
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
        return any(field is not None and (field.errors or field.value()) for field in (self.cut, self.join))


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
        *, display: str = "metric", take: str = "",
    ) -> None:  # fmt: skip
        """`take` is "all", or the index of an edge, whose suggestion stands in place of what was there."""
        self.outline = outline
        self.suggestions = suggestions
        self.display = display
        told = repr((outline.as_json(), sorted(piece.edge_allowances.items())))
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
            turns = turn_points(self.outline, i)
            if turns:
                choices = [("", "in one piece"), *((str(turn.index), self._place(turn)) for turn in turns)]
                yield (
                    f"cut_{i}",
                    forms.ChoiceField(choices=choices, required=False, label=f"Cut {named} in two"),
                )
            if count > 1:
                following = (i + 1) % count + 1
                label = f"Join {named} with edge {following}"
                yield f"join_{i}", forms.BooleanField(required=False, label=label)

    def _place(self, turn: Any) -> str:
        far = format_length(turn.from_start_mm, display=self.display, kind="small")  # type: ignore[arg-type]
        return f"cut {far} from {turn.letter}"

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
                self[f"cut_{i}"] if f"cut_{i}" in self.fields else None,
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
            if change.name and allowance != change.allowance_mm and f"allowance_{i}" not in self.errors:
                same = f"Edges of one name have one allowance; edge {first + 1} is called {change.name} too."
                self.add_error(f"allowance_{i}", same)
        data["changes"] = changes
        return data

    def _change(self, data: Mapping[str, Any], i: int) -> EdgeChange:
        cut = data.get(f"cut_{i}")
        return EdgeChange(
            " ".join((data.get(f"name_{i}") or "").split()), data.get(f"allowance_{i}"),
            int(cut) if cut else None, bool(data.get(f"join_{i}")),
        )  # fmt: skip

    def _clean_joins(self, changes: Sequence[EdgeChange]) -> None:
        joined = [i for i, change in enumerate(changes) if change.join_next]
        if joined and len(joined) == len(changes):
            self.add_error(f"join_{joined[-1]}", "One edge at least must keep its ends: leave one join out.")
        for i in joined:
            if changes[i].cut_at is not None or changes[(i + 1) % len(changes)].cut_at is not None:
                self.add_error(
                    f"join_{i}", "Cut and join in two steps, please: keep the one, then do the other."
                )
