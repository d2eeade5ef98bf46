"""The form for a seam: the edges on its two sides, how often, the operation that sews it, and how it is fitted."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from planner.common.fields import QuantityField
from planner.core.notions.band_pieces import edge_names
from planner.core.seam_counts import Count, counts_in_words, missed_times, often, times_there
from planner.core.spec import EdgeRef, SeamSpec, StyleSpec
from planner.styles.family import option_key, parts_of
from planner.styles.models import Band, Operation, Piece, PieceOutline, Seam, SeamEdge, Style
from planner.styles.part_forms import PartForm
from planner.styles.seams_page import WalkedSeam, walks_of
from planner.styles.specs import style_specs

#: Rows offered for the edges on each side of a seam; more where more are used.
SIDE_ROWS = 3
#: What each side is, said above its rows.
SIDES = ((1, "First side", "gives the seam its finished length"), (2, "Second side", "is sewn to it"))
_FULLER = {Seam.Fullness.EASED, Seam.Fullness.GATHERED, Seam.Fullness.PLEATED}


@dataclass(frozen=True)
class Side:
    """One side of the seam as the form shows it."""

    number: int
    title: str
    meaning: str
    rows: tuple[tuple[BoundField, BoundField], ...]


@dataclass(frozen=True)
class TimesTold:
    """How often the edges of a seam occur in a garment, and how many seams of it they make.

    `times` is what stands in the form, None where it cannot be read. `is_missed`: the edges occur more often.
    """

    counts: tuple[Count, ...]
    makes: int
    times: int | None
    is_missed: bool

    @property
    def said(self) -> str:
        """In a sentence without a full stop: "In a garment the shoulder of front occurs twice, …: 2 such seams"."""
        occur = ", ".join(f"the {one.edge} of {one.piece} occurs {often(one.occurs)}" for one in self.counts)
        if not self.makes:
            return f"In a garment {occur}: fewer than one such seam takes"
        return f"In a garment {occur}: {self.makes} such seam{'' if self.makes == 1 else 's'}"


class SeamForm(PartForm):
    """A seam. The first side gives it its length; the second is sewn to it, perhaps made to fit."""

    template = "styles/seam_fields.html"
    beside_columns = ("edge_", "takes_")

    times = QuantityField(
        whole=True, minimum=1, maximum=60, label="Such seams in a garment", initial=1, widget=forms.TextInput
    )
    ratio = QuantityField(
        above=0, minimum="0.1", maximum=9, places=3, required=False, initial=Decimal(1),
        label="Second side before sewing, for each 1 of the first", widget=forms.TextInput,
        help_text="1.5 where it is gathered from one and a half times, 0.85 for a band that is stretched to fit.",
    )  # fmt: skip

    class Meta:
        model = Seam
        fields = ["name", "option", "times", "operation", "match", "fullness", "ratio"]
        labels = {
            "operation": "Sewn by the operation",
            "fullness": "The second side is",
            "match": "Stripes run on over it",
        }
        help_texts = {
            "match": "On cloth whose pattern comes again, its pieces are laid so that stripes meet at its upper end."
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["operation"].queryset = parts_of(self.style, Operation)
        self.fields["operation"].empty_label = None
        self.fields["fullness"].choices = [
            (value, "as long as the first" if value == Seam.Fullness.NONE else label)
            for value, label in Seam.Fullness.choices
        ]
        current = list(self.instance.edges.select_related("piece")) if self.instance.pk else []
        choices = edge_choices(self.style, current)
        for number, *_ in SIDES:
            here = [edge for edge in current if edge.side == number]
            for i in range(max(SIDE_ROWS, len(here) + 1)):
                self._add_row(number, i, choices, here[i] if i < len(here) else None)
        self.note_stored()

    def _add_row(self, side: int, i: int, choices: list[Any], edge: SeamEdge | None) -> None:
        word = f"{'First' if side == 1 else 'Second'} side, edge {i + 1}"
        self.fields[f"edge_{side}_{i}"] = forms.ChoiceField(
            choices=choices, required=False, initial=f"{edge.piece_id}|{edge.edge}" if edge else "", label=word,
            error_messages={"invalid_choice": "Please choose one of the list."},
        )  # fmt: skip
        self.fields[f"takes_{side}_{i}"] = QuantityField(
            whole=True, minimum=1, maximum=12, required=False, initial=edge.takes if edge else 1,
            label=f"{word}: how many in one seam", widget=forms.TextInput,
        )  # fmt: skip

    def plain_fields(self) -> list[BoundField]:
        """What is not about one of the sides."""
        return [self[name] for name in self.Meta.fields if name not in ("fullness", "ratio")]

    def fit_fields(self) -> list[BoundField]:
        """How the second side is made to fit."""
        return [self["fullness"], self["ratio"]]

    def sides(self) -> list[Side]:
        """Both sides with their rows of edge and number."""
        return [Side(number, *words, tuple(self._rows(number))) for number, *words in SIDES]

    def _rows(self, side: int) -> Iterator[tuple[BoundField, BoundField]]:
        for name in self.fields:
            if name.startswith(f"edge_{side}_"):
                yield self[name], self[name.replace("edge", "takes")]

    def clean_times(self) -> int:
        return int(self.cleaned_data["times"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        data["edges"] = [*self._clean_side(data, 1), *self._clean_side(data, 2)]
        first = any(side == 1 for *_, side, _ in data["edges"])
        if not first and not any(name.startswith("edge_1_") for name in self.errors):
            self.add_error("edge_1_0", "Choose at least one edge; it gives the seam its length.")
        elif data.get("match") and not self._joins_two(data["edges"]):
            self.add_error("match", "Stripes run on from one piece to another: choose edges of two pieces.")
        self._clean_fit(data)
        return data

    def _joins_two(self, edges: Sequence[tuple[int, str, int, int]]) -> bool:
        """Whether the edges are of two pieces at least; both halves of a pair are two."""
        pieces = Piece.objects.filter(pk__in=[piece for piece, *_ in edges])
        return sum(pieces.values_list("count", flat=True)) > 1

    def _clean_side(self, data: dict[str, Any], side: int) -> Iterator[tuple[int, str, int, int]]:
        """(piece, edge, side, how many) of each row that is filled in."""
        seen = set()
        for edge, takes in self._rows(side):
            chosen = data.get(edge.name)
            if not chosen:
                continue
            if chosen in seen:
                self.add_error(
                    edge.name, "This edge stands there twice. Say beside it how many meet in one seam."
                )
                continue
            seen.add(chosen)
            piece, name = chosen.split("|", 1)
            yield int(piece), name, side, int(data.get(takes.name) or 1)

    def _clean_fit(self, data: dict[str, Any]) -> None:
        """Fullness and ratio go together."""
        fullness = data.get("fullness") or ""
        if not fullness and data.get("ratio") not in (None, Decimal(1)) and "ratio" not in self.errors:
            self.add_error("fullness", "Say how it is made to fit, or leave the ratio at 1.")
        if data.get("ratio") is None and "ratio" not in self.errors:
            data["ratio"] = Decimal(1)
        if not fullness or "ratio" in self.errors:
            return
        if not any(side == 2 for *_, side, _ in data["edges"]):
            self.add_error("edge_2_0", "Choose the edge that is made to fit.")
        if fullness in _FULLER and data["ratio"] <= 1:
            self.add_error(
                "ratio", f"What is {fullness} is longer before sewing: more than 1, for example 1.5."
            )
        if fullness == Seam.Fullness.STRETCHED and data["ratio"] >= 1:
            self.add_error(
                "ratio", "What is stretched is shorter before sewing: less than 1, for example 0.85."
            )

    @property
    def measured(self) -> Sequence[WalkedSeam]:
        """The seam as far as it is filled in, walked in every size; nothing while no edge is chosen."""
        seam = self.as_spec()
        return walks_of(seam, self._spec, self.display) if seam else ()

    @cached_property
    def _spec(self) -> StyleSpec:
        return style_specs([self.style])[self.style.number]

    @property
    def times_told(self) -> TimesTold | None:
        """How many such seams the edges chosen so far make in a garment; None where nothing is drawn of them."""
        seam = self.as_spec()
        if seam is None:
            return None
        pieces = {piece.name: piece for piece in self._spec.pieces}
        there = times_there(seam, pieces)
        if there is None:
            return None
        missed = missed_times(replace(seam, times=self._times), pieces) if self._times else None
        return TimesTold(
            counts_in_words(seam.edges, pieces), there[0], self._times, is_missed=missed is not None
        )

    @property
    def _times(self) -> int | None:
        """Such seams in a garment as far as that can be read, None where it cannot."""
        return self.cleaned_data.get("times") if self.is_bound else self.instance.times

    def as_spec(self) -> SeamSpec | None:
        """The seam as far as it is filled in, for measuring it; None where no edge is chosen. Cleans the form."""
        if not self.is_bound:
            return self._stored_spec()
        self.full_clean()
        edges = self.cleaned_data.get("edges") or []
        names = dict(Piece.objects.filter(pk__in=[edge[0] for edge in edges]).values_list("pk", "name"))
        refs = tuple(EdgeRef(names[pk], edge, side, takes) for pk, edge, side, takes in edges)
        ratio, fullness = self.cleaned_data.get("ratio") or 1, self.cleaned_data.get("fullness") or ""
        name = self.cleaned_data.get("name") or "the seam"
        option = option_key(self.cleaned_data.get("option"))
        return SeamSpec(name, option, refs, 1, "", float(ratio), fullness) if refs else None

    def _stored_spec(self) -> SeamSpec | None:
        if not self.instance.pk:
            return None
        seam = self.instance
        rows = seam.edges.select_related("piece")
        refs = tuple(EdgeRef(row.piece.name, row.edge, row.side, row.takes) for row in rows)
        option = option_key(seam.option)
        return SeamSpec(seam.name, option, refs, 1, "", float(seam.ratio), seam.fullness) if refs else None

    def save(self, commit: bool = True) -> Seam:  # noqa: FBT001, FBT002
        seam = super().save(commit)
        seam.edges.all().delete()
        SeamEdge.objects.bulk_create(
            SeamEdge(seam=seam, piece_id=piece, edge=edge, side=side, takes=takes, position=i)
            for i, (piece, edge, side, takes) in enumerate(self.cleaned_data["edges"])
        )
        return seam


def _edges_of_bands(style: Style, pieces: Collection[int]) -> Iterator[tuple[int, str]]:
    """(piece, edge) of bands that are cut to measure, which need no outline of their own."""
    bands = list(Band.objects.filter(piece__in=pieces).select_related("piece__option__detail"))
    spec = style_specs([style])[style.number] if bands else None
    for band in bands:
        piece = next(
            (
                one
                for one in (spec.pieces if spec else ())
                if (one.name, one.option) == (band.piece.name, option_key(band.piece.option))
            ),
            None,
        )
        if piece is not None and spec is not None:
            for edge in edge_names(piece, spec):
                yield band.piece_id, edge


def edge_choices(style: Style, current: Sequence[SeamEdge]) -> list[Any]:
    """Edges by piece, as any outline of the piece names them; one that is used but gone stays to be seen."""
    pieces = parts_of(style, Piece).order_by("position", "pk")
    names: dict[int, tuple[str, dict[str, str]]] = {piece.pk: (piece.name, {}) for piece in pieces}
    outlines = PieceOutline.objects.filter(piece__in=names).order_by("size__position")
    for pk, edges in outlines.values_list("piece", "shape__edges"):
        named = [name for name, _ in edges or ()]
        for name in named:
            many = named.count(name)
            names[pk][1][name] = name if many == 1 else f"{name} (it has {many})"
    for pk, edge in _edges_of_bands(style, names):
        names[pk][1].setdefault(edge, edge)
    for edge in current:
        if edge.piece_id in names:
            names[edge.piece_id][1].setdefault(edge.edge, f"{edge.edge} (no outline has it)")
    groups = [
        (piece, [(f"{pk}|{edge}", f"{piece}: {label}") for edge, label in edges.items()])
        for pk, (piece, edges) in names.items()
        if edges
    ]
    return [("", "–"), *groups]
