"""The form for a seam: the edges it joins, how often, and the operation that sews it."""

from __future__ import annotations

from typing import Any

from django import forms

from planner.common.fields import QuantityField
from planner.styles.models import PieceOutline, Seam, SeamEdge, Style
from planner.styles.part_forms import PartForm

#: Rows offered for the edges of a seam.
SEAM_EDGES = 4


class SeamForm(PartForm):
    """A seam with the edges it joins."""

    times = QuantityField(
        whole=True, minimum=1, maximum=60, label="Such seams in a garment", initial=1, widget=forms.TextInput
    )

    class Meta:
        model = Seam
        fields = ["name", "option", "times", "operation"]
        labels = {"operation": "Sewn by the operation"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["operation"].queryset = self.style.operations.all()
        self.fields["operation"].empty_label = None
        current = list(self.instance.edges.select_related("piece")) if self.instance.pk else []
        choices = _edge_choices(self.style, current)
        for i in range(max(SEAM_EDGES, len(current) + 1)):
            initial = f"{current[i].piece_id}|{current[i].edge}" if i < len(current) else ""
            self.fields[f"edge_{i}"] = forms.ChoiceField(
                choices=choices, required=False, initial=initial, label=f"Edge {i + 1}",
                error_messages={"invalid_choice": "Please choose one of the list."},
            )  # fmt: skip
        self.fields["edge_0"].help_text = "The first edge gives the seam its length."

    def clean_times(self) -> int:
        return int(self.cleaned_data["times"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        rows = [name for name in self.fields if name.startswith("edge_")]
        chosen = [data[row] for row in rows if data.get(row)]
        if len(set(chosen)) < len(chosen):
            self.add_error("edge_0", "An edge stands there twice. How often it is sewn says “such seams”.")
        elif not chosen and not any(row in self.errors for row in rows):
            self.add_error("edge_0", "Choose at least one edge; it gives the seam its length.")
        data["edges"] = [tuple(value.split("|", 1)) for value in chosen]
        return data

    def save(self, commit: bool = True) -> Seam:  # noqa: FBT001, FBT002
        seam = super().save(commit)
        seam.edges.all().delete()
        SeamEdge.objects.bulk_create(
            SeamEdge(seam=seam, piece_id=int(piece), edge=edge, position=i)
            for i, (piece, edge) in enumerate(self.cleaned_data["edges"])
        )
        return seam


def _edge_choices(style: Style, current: list[SeamEdge]) -> list[Any]:
    """Edges by piece, as any outline of the piece names them; one that is used but gone stays to be seen."""
    names: dict[int, tuple[str, dict[str, str]]] = {
        piece.pk: (piece.name, {}) for piece in style.pieces.all()
    }
    outlines = PieceOutline.objects.filter(piece__style=style).order_by("size__position")
    for pk, edges in outlines.values_list("piece", "shape__edges"):
        for name, _ in edges or ():
            names[pk][1][name] = name
    for edge in current:
        names[edge.piece_id][1].setdefault(edge.edge, f"{edge.edge} (no outline has it)")
    groups = [
        (piece, [(f"{pk}|{edge}", f"{piece}: {label}") for edge, label in edges.items()])
        for pk, (piece, edges) in names.items()
        if edges
    ]
    return [("", "–"), *groups]
