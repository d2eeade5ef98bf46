"""The form of one step of sewing: which machine, which stitch, how it is set, what to look at."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from planner.common.fields import DialField, QuantityField
from planner.core.notions.stitches import made_by, whole_name, why_not, why_not_this
from planner.materials.models import Machine
from planner.styles.models import Operation
from planner.styles.part_forms import PartForm

#: Layers where nobody says otherwise: two edges joined.
USUAL_LAYERS = 2


class StitchSelect(forms.Select):
    """Stitch types, each marked with the machines that make it, so that the page can offer only those."""

    def create_option(self, name: str, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **kwargs)
        if value:
            kinds = [kind for kind in Operation.Machine.values if str(value) in made_by(kind)]
            option["attrs"]["data-made-by"] = ",".join(kinds)
        return option


class OwnMachineField(forms.ModelChoiceField):
    """The workroom's own machines, gathered by their kind."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(Machine.objects.all(), required=False, **kwargs)

    def offer(self, machines: Sequence[Machine]) -> None:
        """Lists the machines under their kinds."""
        groups: dict[str, list[tuple[int, str]]] = {}
        for machine in machines:
            groups.setdefault(machine.get_kind_display(), []).append((machine.pk, machine.name))
        self.choices = [("", self.empty_label), *groups.items()]


class OperationForm(PartForm):
    """One step of sewing."""

    template = "styles/operation_fields.html"

    own_machine = OwnMachineField(
        label="On this machine",
        empty_label="any of the kind",
        error_messages={"invalid_choice": "Please choose one of the list."},
    )
    standard_minutes = QuantityField(
        above=0,
        minimum=None,
        maximum=600,
        label="Standard minutes",
        initial=Decimal(1),
        widget=forms.TextInput,
    )
    stitch_length_mm = DialField(
        label="Stitch length", minimum_mm="0.3", maximum_mm=12, required=False,
        help_text="In mm, as on the dial.",
    )  # fmt: skip
    stitch_width_mm = DialField(
        label="Stitch width or needle span", minimum_mm="0.5", maximum_mm=25, required=False,
        help_text="In mm. Empty: as the machine is usually set.",
    )  # fmt: skip
    layers = QuantityField(
        whole=True, minimum=1, maximum=20, label="Layers of cloth", initial=USUAL_LAYERS, required=False,
        widget=forms.TextInput, help_text="Under the needle: 3 where a folded band is set.",
    )  # fmt: skip
    differential_feed = QuantityField(
        minimum="0.5", maximum="2.5", label="Differential feed", required=False, widget=forms.TextInput,
        help_text="1 is neutral; up to 2 gathers, less than 1 stretches.",
    )  # fmt: skip

    class Meta:
        model = Operation
        fields = [
            "name", "option", "machine", "own_machine", "stitch_type", "standard_minutes", "stitch_length_mm",
            "stitch_width_mm", "layers", "differential_feed", "tension_note", "needle_note", "setup_note",
            "quality_note",
        ]  # fmt: skip
        labels = {
            "stitch_type": "Stitch type (ISO 4915)",
            "tension_note": "Tension",
            "needle_note": "Needle",
            "setup_note": "Set-up note",
            "quality_note": "What to look at",
        }
        help_texts = {
            "tension_note": "For example needle 4, loopers 3.",
            "needle_note": "For example ball point 75.",
            "setup_note": "Thread, attachments, test on a scrap: what whoever sews needs to know.",
            "quality_note": "For example: join of the band just behind the shoulder seam.",
        }
        widgets = {
            "stitch_type": StitchSelect,
            "setup_note": forms.Textarea(attrs={"rows": 2}),
            "quality_note": forms.Textarea(attrs={"rows": 2}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["own_machine"].offer(Machine.objects.all())

    def clean_layers(self) -> int:
        layers = self.cleaned_data.get("layers")
        return USUAL_LAYERS if layers is None else int(layers)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        kind, machine, stitch = data.get("machine"), data.get("own_machine"), data.get("stitch_type")
        if kind and stitch and (reason := why_not(kind, stitch)):
            self.add_error("stitch_type", reason)
        if kind and machine:
            self._check_own_machine(kind, machine, stitch or "")
        return data

    def _check_own_machine(self, kind: str, machine: Machine, stitch: str) -> None:
        if machine.kind not in {kind, Machine.Kind.OTHER}:
            text = f"{machine} is {whole_name(machine.kind)}, and this step is sewn "
            text += "by hand." if kind == Operation.Machine.HAND else f"on {whole_name(kind)}."
            self.add_error("own_machine", text)
        elif stitch and "stitch_type" not in self.errors:
            noted = set(machine.stitches.values_list("stitch_type", flat=True))
            if reason := why_not_this(machine.name, noted, stitch):
                self.add_error("stitch_type", reason)
