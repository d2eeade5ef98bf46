"""The form for a band that is cut to measure: which opening it finishes, how wide it is, how the opening turns."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from django import forms

from planner.common.fields import LengthField, QuantityField
from planner.common.forms import PlainWords
from planner.common.meanwhile import Meanwhile
from planner.core.notions.band_pieces import openings_of
from planner.core.notions.bands import FULL_TURN, HEAD_GIRTH_MM
from planner.core.spec import BandSpec, PieceSpec, StyleSpec
from planner.core.too_wide import measure_in_words
from planner.core.units import format_length
from planner.styles.family import option_key, parts_of
from planner.styles.models import Band, Piece, Seam, Style

#: How far an opening turns, by the word that is stored for it in the form.
TURNS = {"full": FULL_TURN, "half": math.pi, "straight": 0.0}
_SAME_TURN = 0.01


class BandForm(Meanwhile, PlainWords, forms.Form):
    """Everything a band follows from, but for its cloth."""

    instance: Band

    seam = forms.ChoiceField(
        label="It finishes the seam", help_text="The first side of the seam is the opening that is measured."
    )
    finished_width_mm = LengthField(
        default_unit="mm",
        above_mm=0,
        maximum_mm=500,
        label="Finished width",
        help_text="What shows of it when worn.",
    )
    folded = forms.BooleanField(required=False, label="Folded in half, so it is cut twice as wide")
    turn = forms.ChoiceField(
        label="The opening turns",
        choices=[
            ("full", "once round: a full neckline that lies flat"),
            ("half", "half round: a shallow neckline or an armhole"),
            ("straight", "not at all: a cuff or a hem"),
        ],
        widget=forms.RadioSelect,
    )
    over_head = forms.BooleanField(required=False, label="Must pass the head")
    ratio = QuantityField(
        above=0, minimum="0.1", maximum="1.5", places=3, required=False, label="Your own ratio", widget=forms.TextInput,
        help_text="Band to opening, for example 0.82. Left empty, the proposal is cut.",
    )  # fmt: skip

    def __init__(
        self, style: Style, piece: Piece, spec: StyleSpec, data: Any = None, *, display: str = "metric"
    ) -> None:
        self.piece, self.spec = piece, spec
        self.seams = seams_for(style, piece)
        band = Band.objects.filter(piece=piece).first()
        self.instance = band or Band(piece=piece)
        super().__init__(data, initial=self._initial(band), display=display)
        head = measure_in_words(HEAD_GIRTH_MM, self.display)
        self.fields["over_head"].help_text = f"Held against a head of {head} round."
        choices = [(str(seam.pk), _in_words(seam)) for seam in self.seams]
        if str(self.initial.get("seam")) not in dict(choices):
            choices.insert(0, ("", "choose its opening"))
        self.fields["seam"].choices = choices  # type: ignore[attr-defined]
        turn = band.turn_rad if band else 0.0
        if band and _turn_word(turn) == "own":
            other = f"{math.degrees(turn):.0f}° in all, as it is now"
            self.fields["turn"].choices = [*self.fields["turn"].choices, ("own", other)]  # type: ignore[attr-defined]
        self.turns = {**TURNS, "own": turn}

    def stored(self) -> dict[str, Any]:
        """What is saved of the band, as the form names it; nothing while the piece is cut by drawn outlines."""
        if self.instance.pk is None:
            return {}
        turn = {"turn": _turn_word(self.instance.turn_rad)}
        return super().stored() | turn | {"seam": str(self.instance.seam_id)}

    def note_stored(self) -> None:
        """That there is no band yet is a mark too: of two people who make it a band the second is told."""
        super().note_stored()
        self.version = self.version or "drawn"

    @property
    def newer(self) -> list[tuple[str, str]]:
        if self.instance.pk is None:
            return [("Now", "not cut to measure: it is cut by drawn outlines")]
        return super().newer

    def _initial(self, band: Band | None) -> dict[str, Any]:
        if band is None:
            return {"seam": self._likely_seam(), "folded": True, "turn": "full"}
        return {
            "seam": band.seam_id,
            "finished_width_mm": band.finished_width_mm,
            "folded": band.folded,
            "turn": _turn_word(band.turn_rad),
            "over_head": band.over_head,
            "ratio": band.ratio,
        }

    def _likely_seam(self) -> int | None:
        """The seam that joins the piece; else one called after it, or of its option, that nothing is sewn to yet."""
        mine = self.piece
        joined = [s for s in self.seams if any(e.piece_id == mine.pk for e in s.edges.all())]
        open_ones = [s for s in self.seams if all(e.side == 1 for e in s.edges.all())]
        named = [s for s in open_ones if s.name.lower().startswith(mine.name.lower())]
        of_option = [s for s in open_ones if s.option_id is not None and s.option_id == mine.option_id]
        likely = [*joined, *named, *of_option]
        return likely[0].pk if likely else None

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("seam") and data.get("finished_width_mm") and data.get("turn"):
            self._clean_width(data)
        return data

    def _clean_width(self, data: dict[str, Any]) -> None:
        """A band that closes its opening in any size is none."""
        turn, width = self.turns[data["turn"]], float(data["finished_width_mm"])
        lengths = {
            size: opening.length_mm
            for size, opening in openings_of(self.as_piece(data), self.spec).items()
            if opening.length_mm is not None
        }
        if not lengths or not turn:
            return
        size = min(lengths, key=lambda name: lengths[name])
        if turn * width >= lengths[size]:
            opening, most = (self._length(mm) for mm in (lengths[size], lengths[size] / turn))
            self.add_error(
                "finished_width_mm",
                f"A band this wide closes the opening: it is {opening} round in {size}, so it must stay below {most}.",
            )

    def _length(self, length_mm: float) -> str:
        return format_length(length_mm, display=self.display, kind="small")  # type: ignore[arg-type]

    @property
    def chosen_seam(self) -> Seam:
        """The seam that was chosen; of a valid form."""
        return next(seam for seam in self.seams if str(seam.pk) == self.cleaned_data["seam"])

    def as_piece(self, data: dict[str, Any]) -> PieceSpec:
        """The piece as the form has it now; of a form whose fields are all there."""
        seam = next(seam for seam in self.seams if str(seam.pk) == data["seam"])
        ratio: Decimal | None = data.get("ratio")
        band = BandSpec(
            seam=seam.name,
            finished_width_mm=float(data["finished_width_mm"]),
            folded=data.get("folded", False),
            ratio=None if ratio is None else float(ratio),
            turn_rad=self.turns[data["turn"]],
            over_head=data.get("over_head", False),
        )
        return replace(piece_in(self.spec, self.piece), band=band)


def piece_in(spec: StyleSpec, piece: Piece) -> PieceSpec:
    """The piece as the core knows it; LookupError where its option is none that the style offers any more."""
    option = option_key(piece.option)
    found = next((one for one in spec.pieces if one.name == piece.name and one.option == option), None)
    if found is None:
        raise LookupError(f"no garment of {spec.number} has the {piece.name}")
    return found


def seams_for(style: Style, piece: Piece) -> Sequence[Seam]:
    """Seams of the style whose first side is an edge of another piece; those that join this piece come first."""
    rows = parts_of(style, Seam).select_related("option__detail").prefetch_related("edges__piece")
    found = [
        seam
        for seam in rows.order_by("position", "pk")
        if any(edge.side == 1 and edge.piece_id != piece.pk for edge in seam.edges.all())
    ]
    return sorted(found, key=lambda seam: all(edge.piece_id != piece.pk for edge in seam.edges.all()))


def _in_words(seam: Seam) -> str:
    opening = " and ".join(f"{e.piece.name}: {e.edge}" for e in seam.edges.all() if e.side == 1)
    return f"{seam.name} ({opening})"


def _turn_word(turn_rad: float) -> str:
    return next((word for word, turn in TURNS.items() if abs(turn - turn_rad) < _SAME_TURN), "own")
