"""Forms for the workroom's own machines, their stitches, and what unpicking a seam gave."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from functools import cached_property
from typing import Any

from django import forms

from planner.common.fields import DialField, LengthField, SumOfLengthsField
from planner.common.forms import PlainWords
from planner.common.meanwhile import Meanwhile
from planner.core.notions import unpicked
from planner.core.notions.stitches import (
    ANY_STITCH,
    place_word,
    stitch_name,
    threads_at,
    threads_in_words,
    why_not,
)
from planner.core.spec import Position
from planner.materials.forms import free_name
from planner.materials.machines import steps_on
from planner.materials.models import Machine, MachineStitch

#: The field in which the thread of a position is typed.
FIELDS: Mapping[Position, str] = {"needle": "needle_mm", "looper": "looper_mm", "cover": "cover_mm"}
#: Steps told by name before the rest is only counted.
_TOLD = 4


class MachineForm(Meanwhile, PlainWords, forms.ModelForm):
    """A machine, and the stitch types it makes."""

    makes = forms.MultipleChoiceField(
        label="Makes the stitch types (ISO 4915)",
        choices=[(number, f"{stitch_name(number)}: {threads_in_words(number)}") for number in sorted(ANY_STITCH)],
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text="Tick what you use. With none ticked, whatever such a machine can make is taken for possible.",
    )  # fmt: skip

    class Meta:
        model = Machine
        fields = ["name", "kind", "setup_note"]
        help_texts = {
            "name": "What you call it in the workroom.",
            "setup_note": "Needles, feed, tensions, the foot that stays on.",
        }
        widgets = {"setup_note": forms.Textarea(attrs={"rows": 2})}
        error_messages = {"name": {"unique": "There is one of this name already. Please choose another."}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("makes", [stitch.stitch_type for stitch in self.noted])

    @cached_property
    def noted(self) -> list[MachineStitch]:
        """The stitch types it makes as they are stored."""
        return list(self.instance.stitches.all()) if self.instance.pk else []

    def stored(self) -> dict[str, Any]:
        return super().stored() | {"makes": sorted(stitch.stitch_type for stitch in self.noted)}

    def clean_name(self) -> str:
        return free_name(self, Machine)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        kind, makes = cleaned.get("kind"), cleaned.get("makes")
        if kind and makes is not None:
            for reason in filter(None, (why_not(kind, number) for number in makes)):
                self.add_error("makes", reason)
        if self.instance.pk and makes is not None:
            self._keep_what_is_used(kind, makes)
        return cleaned

    def _keep_what_is_used(self, kind: str | None, makes: list[str]) -> None:
        """Steps of sewing that name the machine go on being possible; a measured ratio is not thrown away by a tick."""
        steps = steps_on(self.instance)
        misfits = [step for step in steps if kind and kind != "other" and step.machine != kind]
        if misfits:
            self.add_error("kind", f"It is named by {told(misfits)}. Change that first.")
        for stitch in self.noted:
            if stitch.stitch_type in makes:
                continue
            number = stitch.stitch_type
            sewn = [step for step in steps if step.stitch_type == number]
            if sewn:
                self.add_error(
                    "makes", f"{number} on this machine is named by {told(sewn)}. Change that first."
                )
            elif stitch.unpicked_mm is not None:
                self.add_error(
                    "makes", f"{number} is measured on this machine. Forget the measurement first."
                )
        new = [step for step in steps if makes and step.stitch_type and step.stitch_type not in makes]
        missing = [s for s in new if s.stitch_type not in {stitch.stitch_type for stitch in self.noted}]
        for number in sorted({step.stitch_type for step in missing}):
            sewn = [step for step in missing if step.stitch_type == number]
            self.add_error("makes", f"{number} on this machine is named by {told(sewn)}. Tick it too.")


def told(steps: list[Any]) -> str:
    """Steps of sewing by name and style: "join shoulders of 110, hem of 110 and 3 more"."""
    names = [f"{step} of {step.style.number}" for step in steps[:_TOLD]]
    more = len(steps) - len(names)
    return f"{', '.join(names)} and {more} more" if more else " and ".join(
        filter(None, [", ".join(names[:-1]), names[-1]])
    )  # fmt: skip


class StitchForm(Meanwhile, PlainWords, forms.ModelForm):
    """How a machine is usually set for one of its stitch types."""

    stitch_length_mm = DialField(
        label="Stitch length", minimum_mm="0.3", maximum_mm=12, required=False,
        help_text="As on the dial, for example 2.5 mm.",
    )  # fmt: skip
    width_mm = DialField(
        label="Stitch width or needle span", minimum_mm="0.5", maximum_mm=25, required=False,
        help_text="From the needle to the edge, or from the first needle to the last.",
    )  # fmt: skip

    class Meta:
        model = MachineStitch
        fields = ["stitch_length_mm", "width_mm"]


class UnpickedForm(Meanwhile, PlainWords, forms.Form):
    """A length of seam and every thread that came out of it, for the positions the stitch type has.

    Of a `stitch` of a machine of the workroom, or of any of that `number`.
    """

    unpicked_mm = LengthField(
        label="Length of seam unpicked", default_unit="cm", minimum_mm=None, above_mm=0, maximum_mm=None,
        help_text="15 cm from the middle of a seam, cut off square at both ends.",
    )  # fmt: skip

    def __init__(
        self, *args: Any, stitch: MachineStitch | None = None, number: str = "", **kwargs: Any
    ) -> None:
        self.instance = stitch or MachineStitch(stitch_type=number)
        self.number = self.instance.stitch_type
        self.base_fields = {**self.declared_fields, **_threads_of(self.number)}
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        seam = cleaned.get("unpicked_mm")
        if seam is None:
            return cleaned
        for problem in unpicked.unpicked_problems(self.number, float(seam), self.threads_mm, self.display):
            name = "unpicked_mm" if problem.where == "seam" else FIELDS[problem.where]  # type: ignore[index]
            self.add_error(name, problem.text)
        return cleaned

    @property
    def threads_mm(self) -> dict[Position, float]:
        """What came out at each position, as far as it can be read."""
        values: dict[str, Decimal | None] = self.cleaned_data
        return {
            place: float(value) for place, name in FIELDS.items() if (value := values.get(name)) is not None
        }

    @property
    def measured(self) -> unpicked.Measured:
        """The ratios of a form that is right."""
        return unpicked.measured(self.number, float(self.cleaned_data["unpicked_mm"]), self.threads_mm)


def _threads_of(number: str) -> dict[str, forms.Field]:
    """A field for the thread of every position that a stitch type has."""
    return {
        FIELDS[place]: SumOfLengthsField(
            label=_threads_label(number, place, count), default_unit="cm", minimum_mm=None, above_mm=0,
            maximum_mm=None, help_text=_sum_hint(count),
        )
        for place, count in threads_at(number).items()
    }  # fmt: skip


def _threads_label(number: str, place: Position, count: int) -> str:
    """ "Needle thread", "Both looper threads", "All 3 needle threads"."""
    word = "cover" if place == "cover" else place_word(number, place)
    if count == 1:
        return f"{word.capitalize()} thread"
    return f"{'Both' if count == 2 else f'All {count}'} {word} threads"


def _sum_hint(count: int) -> str:
    """How several lengths are typed."""
    lengths = " + ".join(("31", "29.5", "30", "30.5")[:count])
    return "" if count == 1 else f"One after the other with a plus between: {lengths}."
