"""The questions that a pattern file leaves open, and what its answers amount to while they are being given."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.http import QueryDict

from planner.core.pattern_files.model import ReadPattern, ReadPiece
from planner.core.units import MM_PER_INCH, format_length
from planner.styles.reviewing import Answers, Known, factor_from, has_sewing_lines, propose
from planner.styles.reviewing_grain import ACROSS, AS_DRAWN, without_grain
from planner.styles.reviewing_known import Units
from planner.styles.reviewing_piece_questions import PieceQuestions
from planner.styles.reviewing_size_questions import SizeQuestions
from planner.styles.reviewing_sizes import middle_size

#: Findings of readers that took a scale the file does not state.
SCALE_ASSUMED = frozenset({"no units", "scale"})


def units_of(data: Mapping[str, Any]) -> Units | None:
    """The answer about units, if it is one."""
    answer = data.get("units")
    return answer if answer in ("mm", "in") else None


class Questions(SizeQuestions, PieceQuestions):
    """Only what the file leaves open. `plain` is the file as read without an answer about its units.

    Which fields there are follows from what was answered (a piece the style has needs no cloth role), so a field that
    was not there when the form was sent starts from its guess, and the check of the form asks to look again.
    """

    def __init__(
        self,
        pattern: ReadPattern,
        known: Known,
        data: QueryDict | None = None,
        *,
        plain: ReadPattern | None = None,
        remembered: Mapping[str, Any] | None = None,
        new_style: Mapping[str, Any] | None = None,
        display: str = "metric",
    ) -> None:
        self.pattern, self.known = pattern, known
        self.plain = plain or pattern
        self.remembered = dict(remembered or {})
        self.new_style = new_style
        self.shown_size = middle_size(pattern, known.base_size)
        self.wrong_units = ""
        super().__init__(data)
        self.display = display
        self._add_style_fields()
        self._add_file_fields()
        self._add_size_fields()
        self.answers = self._answers()
        self.proposals = propose(pattern, known, self.answers)
        for proposal in self.proposals:
            self._add_piece_fields(proposal)
        self._ask_of_alike_pieces()
        self._plainly()

    # --- what is asked ---

    def _add_style_fields(self) -> None:
        if self.new_style is None:
            return
        told = self.new_style
        self.fields["number"] = forms.CharField(max_length=20, initial=told.get("number", ""))
        self.fields["name"] = forms.CharField(max_length=120, initial=told.get("name", ""))
        self.fields["for_children"] = forms.BooleanField(required=False, label="For children")

    def _add_file_fields(self) -> None:
        if self.plain.asks_units:
            self.fields["units"] = forms.ChoiceField(
                label="In which unit is it drawn?",
                choices=_units_choices(self.plain, middle_size(self.plain, self.known.base_size)),
                initial=self.remembered.get("units"),
                widget=forms.RadioSelect,
                error_messages={"unanswered": "Choose one: the file does not say."},
            )
        self.checked = self._piece_to_measure()
        if self.asks_scale and self.checked:
            long = format_length(self.checked.outline.length_mm, display=self.display, kind="small")
            what = f"{self.checked.name} is {long} long{_in_size(self.checked.size)}".replace("  ", " ")
            self.fields["scale_right"] = forms.BooleanField(required=False, label=f"{what}: that is right")
            self.fields["true_length"] = self._length(
                label="If it is not, how long is it truly?",
                required=False,
                above_mm=0,
                maximum_mm=20_000,
                help_text=f"From end to end along the grain, for {self.checked.name}; everything is enlarged with it.",
            )
        self._ask_grain()
        pieces = list(self.pattern.pieces)
        if not has_sewing_lines(pieces):
            self.fields["included"] = forms.ChoiceField(
                label="Is the seam allowance included?",
                choices=[
                    ("yes", "Yes: the outlines are the lines to cut"),
                    ("no", "No: they are the lines to sew, add the allowance"),
                ],
                initial=self.remembered.get("included"),
                widget=forms.RadioSelect,
                error_messages={"unanswered": "Choose one: the file does not say."},
            )
        pieces_here = [answer for answer in self._piece_answers().values() if answer.take]
        if "included" in self.fields and any(self.known.piece(piece.name) is None for piece in pieces_here):
            self.fields["allowance"] = self._length(
                label="How wide is the seam allowance?",
                default_unit="mm",
                maximum_mm=100,
                initial=Decimal(str(self.remembered.get("allowance_mm", "7"))),
                help_text="Of new pieces. Pieces the style has keep theirs; single edges can be given another later.",
            )

    def _ask_grain(self) -> None:
        """Where the file draws none: cloth gives most across its grain, so a piece that lies wrong is lost."""
        if without_grain(self.pattern):
            self.fields["grain"] = forms.ChoiceField(
                label="The file draws no grain. Which way does it run?",
                choices=[
                    (AS_DRAWN, "Upright, as the pieces are drawn below"),
                    (ACROSS, "A quarter turn from there"),
                ],
                initial=self.remembered.get("grain", AS_DRAWN),
                widget=forms.RadioSelect,
            )

    @property
    def asks_scale(self) -> bool:
        """Whether the file's scale was assumed by the reader."""
        return any(f.level == "assumed" and f.kind in SCALE_ASSUMED for f in self.pattern.findings)

    def _piece_to_measure(self) -> ReadPiece | None:
        drawn = [piece for piece in self.pattern.pieces if piece.size == self.shown_size]
        return max(drawn or self.pattern.pieces, key=lambda piece: piece.outline.area_mm2, default=None)

    # --- what was answered, as far as it can be understood ---

    def _answers(self) -> Answers:
        true_mm = self.lenient("true_length")
        included = self.lenient("included")
        return Answers(
            factor=factor_from(
                float(true_mm) if true_mm else None, self.checked.outline.length_mm if self.checked else 0
            ),
            included=None if included not in ("yes", "no") else included == "yes",
            allowance_mm=float(self.lenient("allowance") or 0),
            sizes=self._size_answers(),
            pieces=self._piece_answers(),
        )


def _units_choices(plain: ReadPattern, size: str) -> list[tuple[str, str]]:
    """Each with what follows from it: "front M would be 65 cm long"."""
    drawn = [piece for piece in plain.pieces if piece.size == size] or list(plain.pieces)
    largest = max(drawn, key=lambda piece: piece.outline.area_mm2)
    what = f"{largest.name} {largest.size}".strip()

    def would_be(factor: float) -> str:
        mm = largest.outline.length_mm * factor
        kind = "cloth" if mm >= 1500 else "small"
        return f"{what} would be {format_length(mm, display='metric', kind=kind)} long"

    return [("mm", f"millimetres: {would_be(1.0)}"), ("in", f"inches: {would_be(MM_PER_INCH)}")]


def _in_size(size: str) -> str:
    return f" in {size}" if size else ""
