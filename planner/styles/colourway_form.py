"""The form of a colourway: which cloth colour fills each role, and which thread each position of a machine carries."""

from __future__ import annotations

from typing import Any

from django import forms

from planner.materials.models import FabricColour, NotionColour
from planner.styles.family import parts_of
from planner.styles.models import ClothRole, Colourway, ColourwayCloth, ColourwayThread
from planner.styles.part_forms import PartForm


class ColourwayForm(PartForm):
    """Which cloth colour fills each role, and the thread; needles, loopers and cover may carry others."""

    template = "styles/colourway_fields.html"
    beside_columns = ("role_", "thread_")

    class Meta:
        model = Colourway
        fields = ["name", "thread"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        threads = NotionColour.objects.select_related("notion").filter(notion__kind="thread")
        self.fields["thread"].queryset = threads
        self.fields["thread"].empty_label = "not chosen yet"
        known = (
            dict(self.instance.threads.values_list("position", "notion_colour")) if self.instance.pk else {}
        )
        for position in ColourwayThread.Position:
            self._add_choice(
                f"thread_{position.value}", threads, position.label.capitalize(), known.get(position.value),
                "as the thread",
            )  # fmt: skip
        self.roles = list(parts_of(self.style, ClothRole))
        have = dict(self.instance.cloths.values_list("role", "fabric_colour")) if self.instance.pk else {}
        colours = FabricColour.objects.select_related("fabric")
        for role in self.roles:
            self._add_choice(
                f"role_{role.pk}", colours, f"Cloth for {role.name}", have.get(role.pk), "not chosen yet"
            )
        self.note_stored()

    @property
    def cloth_fields(self) -> list[forms.BoundField]:
        """The cloth of each role."""
        return [self[f"role_{role.pk}"] for role in self.roles]

    @property
    def thread_fields(self) -> list[forms.BoundField]:
        """The thread of each position on the machine."""
        return [self[f"thread_{position.value}"] for position in ColourwayThread.Position]

    def _add_choice(self, name: str, rows: Any, label: str, initial: Any, empty: str) -> None:
        self.fields[name] = forms.ModelChoiceField(
            rows, required=False, label=label, initial=initial, empty_label=empty,
            error_messages={"invalid_choice": "Please choose one of the list."},
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        others = any(data.get(f"thread_{position.value}") for position in ColourwayThread.Position)
        if others and not data.get("thread") and "thread" not in self.errors:
            self.add_error("thread", "Choose the thread that the other positions carry.")
        return data

    def save(self, commit: bool = True) -> Colourway:  # noqa: FBT001, FBT002
        colourway = super().save(commit)
        colourway.cloths.all().delete()
        chosen = {role: self.cleaned_data[f"role_{role.pk}"] for role in self.roles}
        ColourwayCloth.objects.bulk_create(
            ColourwayCloth(colourway=colourway, role=role, fabric_colour=colour)
            for role, colour in chosen.items()
            if colour
        )
        colourway.threads.all().delete()
        places = {
            place.value: self.cleaned_data[f"thread_{place.value}"] for place in ColourwayThread.Position
        }
        ColourwayThread.objects.bulk_create(
            ColourwayThread(colourway=colourway, position=place, notion_colour=thread)
            for place, thread in places.items()
            if thread and thread != colourway.thread
        )
        return colourway
