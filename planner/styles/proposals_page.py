"""The page of proposed seams: what each joins, how it fits, and the operation that would sew it."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import chain, count
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from planner.common.fields import QuantityField
from planner.common.forms import PlainWords
from planner.core.notions.stitches import why_not
from planner.core.propose_seams import ProposedSeam, option_of, propose_seams
from planner.core.spec import StyleSpec
from planner.core.walk import SizeWalk
from planner.styles.actions import ConfirmedStep
from planner.styles.actions.seams import CHANGED
from planner.styles.family import option_key, parts_of
from planner.styles.models import Operation, Style
from planner.styles.operation_forms import StitchSelect
from planner.styles.seam_ways import Alternatives, joined
from planner.styles.seams_page import DrawnSide, WalkedSeam, walked

#: How large the drawings are, against those of the walk.
SMALL = 0.42
#: What an operation takes while nobody has timed it.
GUESSED_MINUTES = Decimal("1.00")
#: How the names of ticks begin.
_TICK = "seam-"


@dataclass(frozen=True)
class SeamRow:
    """A proposed seam: whether it is ticked, what it joins, how it was told, its walks and its drawn edges."""

    proposed: ProposedSeam
    tick: BoundField
    option: str
    sides: Sequence[Sequence[Alternatives]]
    walks: Sequence[WalkedSeam]
    drawn: Sequence[DrawnSide]
    base_size: str

    @property
    def in_base(self) -> SizeWalk | None:
        """What it measures in the base size, with the first of its ways; None where it has no outline in it."""
        sizes = self.walks[0].walk.sizes if self.walks else ()
        return next((size for size in sizes if size.size == self.base_size), None)


@dataclass(frozen=True)
class StepRow:
    """An operation that would sew some of them; `fields` are those of a new one, `by` chooses one that is there."""

    name: str
    option: str
    by: BoundField | None
    fields: Sequence[BoundField]
    seams: Sequence[SeamRow]


class ProposalsForm(PlainWords, forms.Form):
    """What is ticked of the proposed seams, and the operations that sew them, in sewing order."""

    def __init__(self, style: Style, spec: StyleSpec, *args: Any, **kwargs: Any) -> None:
        self.spec = spec
        self.steps = _steps(propose_seams(spec))
        self.operations = list(parts_of(style, Operation))
        self.taken = {one.name.casefold() for one in self.operations if one.style_id == style.pk}
        super().__init__(*args, **kwargs)
        for seams in self.steps:
            self._add_step(seams)
        for field in self.fields.values():
            if isinstance(field, forms.ChoiceField):
                field.error_messages["invalid_choice"] = "Please choose one of the list."
            for validator in field.validators:
                if getattr(validator, "code", "") == "max_length":
                    validator.message = "At most %(limit_value)s letters, please; this has %(show_value)s."

    def _add_step(self, seams: Sequence[ProposedSeam]) -> None:
        at, step = _at(seams), seams[0].step
        choices = [(str(one.pk), one.name) for one in self.operations if self._may_sew(one, seams)]
        if choices:
            alike = next((pk for pk, name in choices if name.lower() == step.name.lower()), "")
            self.fields[f"{at}-by"] = forms.ChoiceField(
                label="Sewn by", choices=[("", "a new operation"), *choices], required=False, initial=alike
            )
        self.fields[f"{at}-name"] = forms.CharField(
            label="Operation", max_length=80, initial=self._free_name(seams), required=False
        )
        self.fields[f"{at}-machine"] = forms.ChoiceField(
            label="Machine", choices=Operation.Machine.choices, initial=step.machine
        )
        self.fields[f"{at}-stitch"] = forms.ChoiceField(
            label="Stitch type (ISO 4915)", choices=Operation.StitchType.choices, initial=step.stitch_type,
            required=False, widget=StitchSelect,
        )  # fmt: skip
        self.fields[f"{at}-minutes"] = QuantityField(
            label="Standard minutes", above=0, minimum=None, maximum=600, initial=GUESSED_MINUTES,
            widget=forms.TextInput,
        )  # fmt: skip
        for one in seams:
            self.fields[_tick(one)] = forms.BooleanField(
                required=False, label=one.seam.name, initial=one.sure
            )

    def _may_sew(self, operation: Operation, seams: Sequence[ProposedSeam]) -> bool:
        """Whether every garment that has one of the seams has the operation."""
        return operation.option_id is None or option_key(operation.option) == option_of(seams)

    def _free_name(self, seams: Sequence[ProposedSeam]) -> str:
        """What a new operation is called: as usual, unless one is called so already, for other garments."""
        name, option = seams[0].step.name, option_of(seams)
        wished = chain(
            [name], [f"{name}, {option[1]}"] if option else [], (f"{name} {number}" for number in count(2))
        )
        return next(one for one in wished if one.casefold() not in self.taken)

    @property
    def is_stale(self) -> bool:
        """Something is ticked that is not proposed any more: somebody made it, or changed a piece."""
        return self.is_bound and any(key.startswith(_TICK) and key not in self.fields for key in self.data)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if self.is_stale:
            self.add_error(None, forms.ValidationError(CHANGED, code="stale"))
            return data
        if not any(data.get(_tick(one)) for seams in self.steps for one in seams):
            self.add_error(None, "No seam is ticked. Tick those that are right.")
        taken = set(self.taken)
        for seams in self.steps:
            at = _at(seams)
            if data.get(f"{at}-by") or not any(data.get(_tick(one)) for one in seams):
                continue
            data[f"{at}-name"] = name = " ".join(str(data.get(f"{at}-name") or "").split())
            if not name and f"{at}-name" not in self.errors:
                self.add_error(f"{at}-name", "Please fill this in.")
            elif name and name.casefold() in taken:
                self.add_error(f"{at}-name", f"The style has one called {name} already.")
            taken.add(name.casefold())
            machine, stitch = data.get(f"{at}-machine"), data.get(f"{at}-stitch")
            if machine and stitch and (reason := why_not(machine, stitch)):
                self.add_error(f"{at}-stitch", reason)
        return data

    def confirmed(self) -> list[ConfirmedStep]:
        """What was ticked, for `make_proposed`. Only of a form that is valid."""
        data, found = self.cleaned_data, []
        for seams in self.steps:
            at = _at(seams)
            keys = [one.key for one in seams if data.get(_tick(one))]
            if not keys:
                continue
            if data.get(f"{at}-by"):
                found.append(ConfirmedStep(keys, existing=int(data[f"{at}-by"])))
            else:
                found.append(
                    ConfirmedStep(
                        keys,
                        name=data[f"{at}-name"],
                        machine=data[f"{at}-machine"],
                        stitch_type=data[f"{at}-stitch"],
                        standard_minutes=data[f"{at}-minutes"],
                    )
                )
        return found

    # --- what the page shows ---

    @property
    def rows(self) -> list[StepRow]:
        """Every operation with its seams."""
        return [self._row(seams) for seams in self.steps]

    def _row(self, seams: Sequence[ProposedSeam]) -> StepRow:
        at, option = _at(seams), option_of(seams)
        return StepRow(
            name=seams[0].step.name,
            option=": ".join(option) if option else "",
            by=self[f"{at}-by"] if f"{at}-by" in self.fields else None,
            fields=[self[f"{at}-{what}"] for what in ("name", "machine", "stitch", "minutes")],
            seams=[self._seam_row(one) for one in seams],
        )

    def _seam_row(self, one: ProposedSeam) -> SeamRow:
        pieces = {piece.name: piece for piece in self.spec.pieces}
        alone = replace(self.spec, seams=(one.seam,))
        walks = walked(alone, self.display, draw=1, draw_size=self.spec.base_size).seams
        return SeamRow(
            proposed=one,
            tick=self[_tick(one)],
            option=": ".join(one.seam.option) if one.seam.option else "",
            sides=[side for number in (1, 2) if (side := joined(one.seam, number, pieces))],
            walks=walks,
            drawn=[_small(side) for side in walks[0].drawn] if walks else [],
            base_size=self.spec.base_size,
        )

    @property
    def answer(self) -> str:
        """The first line of the page."""
        every = [one for seams in self.steps for one in seams]
        if not every and self.spec.seams:
            return "Nothing more to propose: what the edges tell is there already."
        if not every:
            return "No seam can be told from the edges yet."
        unsure = sum(not one.sure for one in every)
        count = f"{len(every)} seam{'' if len(every) == 1 else 's'}"
        look = f", {unsure} of them to be looked at first" if unsure else ""
        return f"{count} can be told from the edges{look}. Nothing is made before you say so."

    @property
    def not_told(self) -> list[str]:
        """Pieces that no seam of the style and none of these joins."""
        met = {ref.piece for seam in self.spec.seams for ref in seam.edges}
        met |= {ref.piece for seams in self.steps for one in seams for ref in one.seam.edges}
        return [piece.name for piece in self.spec.pieces if piece.name not in met]


def _steps(proposed: Sequence[ProposedSeam]) -> list[list[ProposedSeam]]:
    """The seams by the operation that sews them, in sewing order."""
    steps: dict[str, list[ProposedSeam]] = {}
    for one in proposed:
        steps.setdefault(one.step.name, []).append(one)
    return list(steps.values())


def _at(seams: Sequence[ProposedSeam]) -> str:
    return f"step-{zlib.crc32(seams[0].step.name.encode()):08x}"


def _tick(one: ProposedSeam) -> str:
    return f"{_TICK}{zlib.crc32(one.key.encode()):08x}"


def _small(side: DrawnSide) -> DrawnSide:
    return replace(side, width_px=round(side.width_px * SMALL), height_px=round(side.height_px * SMALL))
