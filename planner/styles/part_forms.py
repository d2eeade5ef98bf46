"""Forms for the parts of a style. Each knows its style and offers only what belongs to it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from planner.common.fields import LengthField, QuantityField
from planner.common.forms import PlainWords
from planner.materials.models import FabricColour, NotionColour
from planner.styles.actions import next_position, reason_to_keep
from planner.styles.models import (
    ClothRole,
    Colourway,
    ColourwayCloth,
    Detail,
    Operation,
    Option,
    Piece,
    Style,
    StyleNotion,
)

#: Rows offered for new options of a detail.
NEW_OPTIONS = 3


class OptionChoice(forms.ModelChoiceField):
    """An option named together with its detail."""

    def label_from_instance(self, obj: Option) -> str:
        return f"{obj.detail.name}: {obj.name}"


class PartForm(PlainWords, forms.ModelForm):
    """A part of a style: its name is told apart in the style, a new one goes behind the others."""

    def __init__(self, style: Style, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.style = style
        self.instance.style = style
        if "option" in self.fields:
            options = Option.objects.filter(detail__style=style).select_related("detail")
            self.fields["option"] = OptionChoice(
                options.order_by("detail__position", "detail__pk", "position"),
                required=False,
                label="Belongs to the option",
                empty_label="every garment",
                error_messages={"invalid_choice": "Please choose one of the list."},
            )

    def siblings(self) -> Any:
        """All parts of this kind in the style."""
        return type(self.instance)._default_manager.filter(style=self.style)

    def clean_name(self) -> str:
        name = " ".join(self.cleaned_data["name"].split())
        if self.siblings().exclude(pk=self.instance.pk).filter(name__iexact=name).exists():
            raise ValidationError(f"The style has one called {name} already.")
        return name

    def save(self, commit: bool = True) -> Any:  # noqa: FBT001, FBT002 - Django's own signature
        if self.instance.pk is None and hasattr(self.instance, "position"):
            self.instance.position = next_position(self.siblings())
        return super().save(commit)


class RoleForm(PartForm):
    """A cloth role."""

    class Meta:
        model = ClothRole
        fields = ["name"]
        help_texts = {"name": "For example body, rib, facing, contrast."}


class DetailForm(PartForm):
    """A detail with its options, each in a row of its own so that a new name keeps what belongs to it."""

    class Meta:
        model = Detail
        fields = ["name"]
        help_texts = {"name": "A place where the maker offers a choice, for example neck or sleeve."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.options = list(self.instance.options.all()) if self.instance.pk else []
        for option in self.options:
            self._add_row(f"option_{option.pk}", f"Option {option.name}", option.name)
        for i in range(1, NEW_OPTIONS + 1 if self.options else NEW_OPTIONS + 2):
            self._add_row(f"new_{i}", "Further option" if self.options else f"Option {i}", "")
        if self.options:
            first = self.fields[f"option_{self.options[0].pk}"]
            first.help_text = "An empty row takes the option away."

    def _add_row(self, name: str, label: str, initial: str) -> None:
        field = forms.CharField(max_length=40, required=False, label=label, initial=initial)
        field.validators[0].message = "At most %(limit_value)s letters, please; this has %(show_value)s."
        self.fields[name] = field

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        rows = [name for name in self.fields if name.startswith(("option_", "new_"))]
        seen: set[str] = set()
        for row in rows:
            data[row] = name = " ".join(str(data.get(row) or "").split())
            if name and name.lower() in seen:
                self.add_error(row, f"The option {name} stands there twice.")
            seen.add(name.lower())
        for option in self.options:
            if not data[f"option_{option.pk}"]:
                reason = reason_to_keep(option)
                if reason:
                    self.add_error(f"option_{option.pk}", reason)
        if not any(data[row] for row in rows) and not self.errors:
            self.add_error(rows[0], "Name the options, two or more.")
        return data

    def save(self, commit: bool = True) -> Detail:  # noqa: FBT001, FBT002
        detail = super().save(commit)
        # Two options may change names with each other: rename by way of a name nobody types.
        kept = [option for option in self.options if self.cleaned_data[f"option_{option.pk}"]]
        detail.options.exclude(pk__in=[option.pk for option in kept]).delete()
        for option in kept:
            Option.objects.filter(pk=option.pk).update(name=f"\x00{option.pk}")
        names = [self.cleaned_data[f"option_{option.pk}"] for option in kept]
        for position, (option, name) in enumerate(zip(kept, names, strict=True)):
            Option.objects.filter(pk=option.pk).update(name=name, position=position)
        new = [self.cleaned_data[row] for row in self.fields if row.startswith("new_")]
        Option.objects.bulk_create(
            Option(detail=detail, name=name, position=position)
            for position, name in enumerate(filter(None, new), len(kept))
        )
        return detail


class PieceForm(PartForm):
    """A piece, without its outlines."""

    count = QuantityField(
        whole=True, minimum=1, maximum=60, label="Pieces in a garment", initial=1, widget=forms.TextInput
    )
    seam_allowance_mm = LengthField(
        default_unit="mm", maximum_mm=60, label="Seam allowance in the outline", initial=Decimal(7)
    )

    class Meta:
        model = Piece
        fields = [
            "name", "role", "option", "count", "pair", "may_turn", "is_band", "seam_allowance_mm",
        ]  # fmt: skip
        labels = {
            "role": "Cut from the cloth",
            "pair": "Cut as a mirrored pair",
            "may_turn": "May be turned end for end",
            "is_band": "A band, shorter than its opening",
        }
        help_texts = {"name": "For example front, sleeve, neck band."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["role"].queryset = self.style.roles.all()
        self.fields["role"].empty_label = None

    def clean_count(self) -> int:
        return int(self.cleaned_data["count"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("pair") and data.get("count", 2) % 2:
            self.add_error("count", "A mirrored pair is cut an even number of times, for example 2.")
        return data


class OperationForm(PartForm):
    """One step of sewing."""

    standard_minutes = QuantityField(
        above=0,
        minimum=None,
        maximum=600,
        label="Standard minutes",
        initial=Decimal(1),
        widget=forms.TextInput,
    )

    class Meta:
        model = Operation
        fields = ["name", "option", "machine", "stitch_type", "standard_minutes", "setup_note"]
        labels = {"stitch_type": "Stitch type (ISO 4915)", "setup_note": "Set-up note"}
        help_texts = {
            "setup_note": "Thread, feed, attachments, test on a scrap: what whoever sews needs to know."
        }
        widgets = {"setup_note": forms.Textarea(attrs={"rows": 2})}


class NotionForm(PartForm):
    """What a garment takes of a notion."""

    quantity = QuantityField(
        above=0, minimum=None, maximum=9999, label="So many a garment", initial=Decimal(1), required=False,
        widget=forms.TextInput,
    )  # fmt: skip
    ratio = QuantityField(
        above=0, minimum=None, maximum=5, label="Length for one length of seam", initial=Decimal(1),
        required=False, widget=forms.TextInput, help_text="1 for clear elastic cut 1 : 1.",
    )  # fmt: skip
    tail_mm = LengthField(
        default_unit="mm", maximum_mm=500, label="Tail at each end", initial=Decimal(20), required=False
    )

    class Meta:
        model = StyleNotion
        fields = ["notion_colour", "option", "basis", "quantity", "seam", "ratio", "tail_mm"]
        labels = {"notion_colour": "Notion", "basis": "Counted", "seam": "Along the seam"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        colours = NotionColour.objects.select_related("notion").exclude(notion__kind="thread")
        self.fields["notion_colour"].queryset = colours
        self.fields["notion_colour"].help_text = "Thread is not listed: it follows from seams and colourway."
        self.fields["seam"].queryset = self.style.seams.all()
        self.fields["seam"].empty_label = "–"

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        along = data.get("basis") == StyleNotion.Basis.SEAM
        if along and not data.get("seam"):
            self.add_error("seam", "Choose the seam it is sewn along.")
        notion = data.get("notion_colour")
        if along and notion and notion.notion.unit != "m":
            self.add_error("basis", f"{notion} is counted in pieces, so it cannot run along a seam.")
        if not along:
            data["seam"] = None
        for name, usual in (("quantity", Decimal(1)), ("ratio", Decimal(1)), ("tail_mm", Decimal(20))):
            if data.get(name) is None and name not in self.errors:
                data[name] = usual
        return data


class ColourwayForm(PartForm):
    """Which cloth colour fills each role, and the thread."""

    class Meta:
        model = Colourway
        fields = ["name", "thread"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        threads = NotionColour.objects.select_related("notion").filter(notion__kind="thread")
        self.fields["thread"].queryset = threads
        self.fields["thread"].empty_label = "not chosen yet"
        self.roles = list(self.style.roles.all())
        have = dict(self.instance.cloths.values_list("role", "fabric_colour")) if self.instance.pk else {}
        colours = FabricColour.objects.select_related("fabric")
        for role in self.roles:
            self.fields[f"role_{role.pk}"] = forms.ModelChoiceField(
                colours, required=False, label=f"Cloth for {role.name}", initial=have.get(role.pk),
                empty_label="not chosen yet",
                error_messages={"invalid_choice": "Please choose one of the list."},
            )  # fmt: skip

    def save(self, commit: bool = True) -> Colourway:  # noqa: FBT001, FBT002
        colourway = super().save(commit)
        colourway.cloths.all().delete()
        chosen = {role: self.cleaned_data[f"role_{role.pk}"] for role in self.roles}
        ColourwayCloth.objects.bulk_create(
            ColourwayCloth(colourway=colourway, role=role, fabric_colour=colour)
            for role, colour in chosen.items()
            if colour
        )
        return colourway
