"""The fields of what is told of one portion of a lay at the table, and which of them ask whether it is right."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django import forms

from planner.common.fields import MetresField, QuantityField
from planner.core.units import length_as_typed, mm_in, plain_number
from planner.cutting.portions import Portion
from planner.papers.layers import SPREADS, layers_in_words

#: More metres than any lay takes; what is typed above it is a slip.
MOST_M = Decimal(2_000)
MOST_NOTE = 300

#: Refusals that ask whether it is right all the same, each with a box to tick.
MORE_THAN_ROLL = "more_than_roll"
LESS_THAN_MARKER = "less_than_marker"
MORE_THAN_PLANNED = "more_than_planned"
ACROSS_A_FLAW = "across_a_flaw"
NARROWER_ROLL = "narrower_roll"


@dataclass(frozen=True)
class PortionFields:
    """A portion with its fields as they are drawn. `has_fault`: something is typed about flaws or faults."""

    portion: Portion
    spreads: forms.BoundField
    used: forms.BoundField
    roll: forms.BoundField
    note: forms.BoundField
    flaw_from: forms.BoundField
    flaw_to: forms.BoundField
    really: forms.BoundField
    less: forms.BoundField
    much: forms.BoundField
    across: forms.BoundField
    narrow: forms.BoundField

    @property
    def each(self) -> str:
        """What a spread takes as planned, in the unit that the metres are typed in, without it."""
        return str(self.spreads.field.widget.attrs["data-each"])

    @property
    def layers(self) -> str:
        """How many plies lie when all of it is spread and how often that is, where a spread is not a ply."""
        return layers_in_words(self.portion.spreads, self.portion.way)

    @property
    def asks_really(self) -> bool:
        """Whether to ask if the roll gave more than the books say: it was told so, or ticked before."""
        return self._is_asked(MORE_THAN_ROLL, self.really)

    @property
    def asks_less(self) -> bool:
        """Whether to ask if the plies took less than their marker is long: it was told so, or ticked before."""
        return self._is_asked(LESS_THAN_MARKER, self.less)

    @property
    def asks_much(self) -> bool:
        """Whether to ask if the plies took much more than planned: it was told so, or ticked before."""
        return self._is_asked(MORE_THAN_PLANNED, self.much)

    @property
    def asks_across(self) -> bool:
        """Whether to ask if a ply lies across a flaw: it was told so, or ticked before."""
        return self._is_asked(ACROSS_A_FLAW, self.across)

    @property
    def asks_narrow(self) -> bool:
        """Whether to ask if the lay was cut from a roll narrower than it: it was told so, or ticked before."""
        return self._is_asked(NARROWER_ROLL, self.narrow)

    @property
    def lost(self) -> str:
        """What is lost at flaws before the first spread, before the first two, and so on, in the same unit."""
        return str(self.spreads.field.widget.attrs.get("data-lost", ""))

    @property
    def filled(self) -> str:
        """The metres as the plan fills them in; sent along, they tell whether anybody typed others."""
        return str(self.used.field.prepare_value(self.used.field.initial))

    def _is_asked(self, code: str, tick: forms.BoundField) -> bool:
        errors = (*self.used.errors.as_data(), *self.roll.errors.as_data())
        return any(error.code == code for error in errors) or bool(tick.value())

    @property
    def has_fault(self) -> bool:
        """Whether something is typed, or wrong, about flaws or faults."""
        return any(field.value() or field.errors for field in (self.note, self.flaw_from, self.flaw_to))


def _planned_from(portion: Portion) -> str:
    if portion.to_buy:
        return "planned: cloth still to be bought"
    return f"planned: {portion.planned_roll}" if portion.planned_roll else ""


def fields_of(portion: Portion, unit: str) -> dict[str, forms.Field]:
    """The fields of a portion by the beginning of their names; `unit` is the one metres are typed in ("m", "yd")."""
    many = SPREADS[portion.way][1]
    each = length_as_typed(portion.each_m * 1000, unit).split()[0]
    # What is filled in is kept to the centimetre, also where it is shown in yards.
    attrs = {"data-each": each, "data-unit": unit, "data-metres": plain_number(mm_in(unit) / 1000)}
    if any(portion.lost_m):
        attrs["data-lost"] = " ".join(
            length_as_typed(lost * 1000, unit).split()[0] for lost in portion.lost_m
        )
    widget = forms.TextInput(attrs=attrs)
    rolls = {pk for pk, _ in portion.rolls}
    return {
        "spreads": QuantityField(
            label=f"{many.capitalize()} spread and cut",
            whole=True,
            required=False,
            maximum=999,
            initial=portion.spreads,
            widget=widget,
        ),
        "used": MetresField(
            label="Cloth used for them", required=False, above=0, maximum=MOST_M, initial=portion.planned_m,
            help_text="as it lies on the table, washed" if portion.is_washed_first else "",
        ),
        "roll": forms.ChoiceField(
            label="From roll",
            required=False,
            choices=portion.rolls,
            initial=str(portion.roll) if str(portion.roll) in rolls else "",
            help_text=_planned_from(portion),
        ),
        "note": forms.CharField(
            label="What happened", required=False, max_length=MOST_NOTE, help_text="a flaw, a fault, a recut"
        ),
        "from": MetresField(
            label="Flaw on what is left of the roll, from", required=False, maximum=MOST_M,
            help_text="measured from the end you have just cut",
        ),
        "to": MetresField(label="to", required=False, maximum=MOST_M),
        "really": forms.BooleanField(label="The roll really gave that much", required=False),
        "less": forms.BooleanField(label="It is right: not every ply was whole", required=False),
        "much": forms.BooleanField(label="It is right: so much cloth was used", required=False),
        "narrow": forms.BooleanField(label="It is right: every piece lay on the cloth", required=False),
        "across": forms.BooleanField(label="It is right: the flaw was cut with them, or is none", required=False),
    }  # fmt: skip
