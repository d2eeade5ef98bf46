"""The questions that a pattern file leaves open, and what its answers amount to while they are being given."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import PurePath
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from planner.common.fields import LengthField, QuantityField
from planner.common.forms import PlainWords
from planner.core.pattern_files.model import ReadPattern, ReadPiece
from planner.core.units import format_length
from planner.styles.reviewing import (
    Answers,
    Known,
    PieceAnswer,
    Proposal,
    factor_from,
    has_sewing_lines,
    propose,
)
from planner.styles.reviewing_edges import is_symmetrical, plain_name
from planner.styles.reviewing_grain import ACROSS, AS_DRAWN, without_grain
from planner.styles.reviewing_known import Units
from planner.styles.reviewing_options import OptionField, alike_pieces, names_to_offer
from planner.styles.reviewing_sizes import middle_size, sizes_in_order

LONGEST_NAME = 60
LONGEST_SIZE = 12
LEFT_OUT = "-"
#: What remarks in files call the cloth that most of a garment is cut from (common practice).
MAIN_CLOTH = frozenset({"fabric", "cloth", "main", "self", "shell", "main fabric", "self fabric"})
#: Findings of readers that took a scale the file does not state.
SCALE_ASSUMED = frozenset({"no units", "scale"})


def units_of(data: Mapping[str, Any]) -> Units | None:
    """The answer about units, if it is one."""
    answer = data.get("units")
    return answer if answer in ("mm", "in") else None


class Questions(PlainWords, forms.Form):
    """Only what the file leaves open. `plain` is the file as read without an answer about its units.

    Fields of a piece are called p0-name …, in the order of the file. Which there are follows from what was answered
    (a piece the style has needs no cloth role), so a field that was not there when the form was sent starts from its
    guess, and the check of the form asks to look again.
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

    def _plainly(self) -> None:
        """The house's words for fields that were added here."""
        for field in self.fields.values():
            field.error_messages["required"] = field.error_messages.get("unanswered", "Please fill this in.")
            if "invalid_choice" in field.error_messages:
                field.error_messages["invalid_choice"] = "Please choose one of the list."
            for validator in field.validators:
                if getattr(validator, "code", "") == "max_length":
                    validator.message = "At most %(limit_value)s letters, please; this has %(show_value)s."

    def _length(self, **kwargs: Any) -> LengthField:
        """A length in the workroom's units."""
        field = LengthField(**kwargs)
        field.use_display(self.display)
        return field

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

    def _add_size_fields(self) -> None:
        self.file_sizes = sizes_in_order(self.pattern)
        if self.known.may_take_sizes and not self._all_sizes_match():
            self.fields["take_sizes"] = forms.ChoiceField(
                label="Sizes of the style",
                choices=[
                    ("file", f"Take those of the file: {_sizes_in_words(self.file_sizes)}"),
                    ("style", f"Keep {' '.join(self.known.sizes)}"),
                ],
                initial="file" if all(map(_usable_size, self.file_sizes)) else "style",
                widget=forms.RadioSelect,
            )
        self.takes_sizes = not self.known.sizes or self.lenient("take_sizes") == "file"
        if self.takes_sizes:
            self._ask_names_of_sizes()
            self._ask_base_size()
        else:
            self._ask_which_sizes()

    def _all_sizes_match(self) -> bool:
        have = {size.lower() for size in self.known.sizes}
        return all(size.lower() in have for size in self.pattern.sizes)

    def _ask_names_of_sizes(self) -> None:
        """Only of sizes that the file does not name, or not as a size can be called."""
        counts = [size.lower() for size in self.file_sizes]
        for index, size in enumerate(self.file_sizes):
            if not _usable_size(size) or counts.count(size.lower()) > 1:
                self.fields[f"size-{index}"] = forms.CharField(
                    max_length=LONGEST_SIZE,
                    label=f"What is “{size}” called?" if size else "Which size is it?",
                    initial=re.sub(r"[\s,;/]+", "", size)[:LONGEST_SIZE],
                    help_text="For example M, 38 or one.",
                )

    @property
    def base_index(self) -> int:
        """Which of its sizes the file was drafted in as far as it says so, else the one that is drawn."""
        told = self._told_base_size()
        return next((i for i, size in enumerate(self.file_sizes) if size == (told or self.shown_size)), 0)

    def _told_base_size(self) -> str:
        told = self.pattern.sample_size.lower()
        return next((size for size in self.file_sizes if told and size.lower() == told), "")

    def _ask_base_size(self) -> None:
        """Only where the file does not name the size it was drafted in."""
        if len(self.file_sizes) > 1 and not self._told_base_size():
            start = self.base_index
            self.fields["base_size"] = forms.ChoiceField(
                label="Base size",
                choices=[
                    (str(i), size or "the size without a name") for i, size in enumerate(self.file_sizes)
                ],
                initial=str(start),
                help_text="The size the pattern was drafted in.",
            )

    def _ask_which_sizes(self) -> None:
        """Sizes called alike are the same; only of the others it is asked."""
        have = {size.lower(): size for size in self.known.sizes}
        before = self.remembered.get("sizes", {})
        free = [
            size for size in self.known.sizes if size.lower() not in {s.lower() for s in self.pattern.sizes}
        ]
        for index, size in enumerate(self.file_sizes):
            if size.lower() in have:
                continue
            guess = before.get(plain_name(size)) or self._size_in_file_name(have)
            if not size and not guess and len(self.known.sizes) == 1:
                guess = self.known.sizes[0]
            self.fields[f"size-{index}"] = forms.ChoiceField(
                label=f"“{size}” of the file is" if size else "Which size is it?",
                choices=[("", "choose …"), *((s, s) for s in free), (LEFT_OUT, "left out")],
                initial=guess if guess in [*free, LEFT_OUT] else (LEFT_OUT if not free else ""),
                error_messages={"unanswered": "Choose a size, or leave it out."},
            )

    def _size_in_file_name(self, have: Mapping[str, str]) -> str:
        words = re.split(r"[\W_]+", PurePath(self.pattern.file_name).stem.lower())
        return next((have[word] for word in reversed(words) if word in have), "")

    def _add_piece_fields(self, proposal: Proposal) -> None:
        at, first, target = f"p{proposal.index}", proposal.first, proposal.target
        self._add(
            at, "take", forms.BooleanField(required=False, label="Take this piece", initial=proposal.take)
        )
        self._add(at, "name", self._name_field(proposal))
        if target is None:
            self._add_new_piece_fields(at, proposal, first)
        elif any(not change.same for change in proposal.changes):
            self._add_changes(at, proposal.changed)
        if proposal.mends:
            self._add(at, "mend", forms.BooleanField(required=False, label="The mended line is right"))

    def _add_changes(self, at: str, changed: Sequence[str]) -> None:
        """A tick for each size that changes. Where an answer makes further sizes change, they start ticked."""
        field = forms.MultipleChoiceField(
            required=False,
            choices=[(size, size) for size in changed],
            initial=changed,
            widget=forms.CheckboxSelectMultiple,
        )
        self.fields[f"{at}-sizes"] = field
        if self.is_bound:
            ticked, offered = self.data.getlist(f"{at}-sizes"), self.data.getlist(f"{at}-offered")
            self._answer(f"{at}-sizes", [size for size in changed if size in ticked or size not in offered])

    def _answer(self, name: str, values: Sequence[Any]) -> None:
        data = self.data.copy()
        data.setlist(name, [str(value) for value in values])
        self.data = data

    def _name_field(self, proposal: Proposal) -> forms.Field:
        before = self.remembered.get("pieces", {}).get(plain_name(proposal.file_name), {})
        return forms.CharField(
            max_length=LONGEST_NAME,
            label="Name in the style",
            initial=plain_name(before.get("name") or proposal.file_name)[:LONGEST_NAME],
            widget=forms.TextInput(attrs={"list": "known-pieces"} if self.known.pieces else {}),
        )

    def _add_new_piece_fields(self, at: str, proposal: Proposal, first: ReadPiece) -> None:
        two = (first.count or first.count_guess or 1) % 2 == 0
        if first.count is None:
            self._add(
                at,
                "count",
                QuantityField(
                    label="Pieces in a garment",
                    whole=True,
                    minimum=1,
                    maximum=99,
                    initial=first.count_guess or (2 if first.pair or first.pair_guess else 1),
                    help_text="a guess from the file’s remarks" if first.count_guess else "",
                ),
            )
        if first.pair is None and first.count != 1 and not is_symmetrical(first.outline):
            self._add(
                at,
                "pair",
                forms.ChoiceField(
                    label="They are",
                    choices=[("alike", "all alike"), ("pair", "a mirrored pair")],
                    initial="pair" if first.pair_guess or (first.pair_guess is None and two) else "alike",
                    help_text="a guess: most pieces of which two are cut mirror each other" if two else "",
                ),
            )
        self._add(
            at,
            "role",
            forms.CharField(
                max_length=40,
                label="Cut from",
                initial=self._role_guess(first),
                widget=forms.TextInput(attrs={"list": "known-roles"}),
            ),
        )
        before = self.remembered.get("pieces", {}).get(plain_name(proposal.file_name), {})
        self._add(at, "option", OptionField(self.known, initial=str(before.get("option", ""))))

    def _ask_of_alike_pieces(self) -> None:
        """Whether every garment has pieces that look like alternatives, and how they could be told apart."""
        at = [f"p{proposal.index}" for proposal in self.proposals]
        options = [str(self.lenient(f"{one}-option") or "") for one in at]
        counts = [
            int(proposal.first.count or self.lenient(f"{one}-count") or 1)
            for one, proposal in zip(at, self.proposals, strict=True)
        ]
        self.alike = alike_pieces(self.known, self.proposals, options, counts)
        self.option_names = names_to_offer(self.known, options, self.alike)
        for group in self.alike:
            self.fields[group.field_name] = forms.BooleanField(required=False, label=group.label)
            for index in group.new:
                name = self.proposals[index].name
                self.fields[f"p{index}-option"].help_text = f"For example {group.suggested[name]}."

    def _role_guess(self, first: ReadPiece) -> str:
        guess = plain_name(first.role_guess).lower()[:40]
        have = {role.lower(): role for role in self.known.roles}
        if guess in have or (guess and guess not in MAIN_CLOTH):
            return have.get(guess, guess)
        return self.known.roles[0] if self.known.roles else "body"

    def _add(self, at: str, what: str, field: forms.Field) -> None:
        """A field of a piece; one that was not on the page when the form was sent starts from its guess."""
        name = f"{at}-{what}"
        self.fields[name] = field
        seen = self.data.get(f"{at}-seen") if self.is_bound else None
        if seen is not None and what not in seen.split() and field.initial not in (None, False):
            self._answer(name, [field.initial])

    # --- what was answered, as far as it can be understood ---

    def lenient(self, name: str) -> Any:
        """The answer to a field, or its guess where there is none or it makes no sense yet."""
        field = self.fields.get(name)
        if field is None:
            return None
        if not self.is_bound:
            return field.initial
        raw = field.widget.value_from_datadict(self.data, self.files, self.add_prefix(name))
        try:
            return field.clean(raw)
        except ValidationError:
            return field.initial

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

    def _piece_answers(self) -> dict[str, PieceAnswer]:
        remembered = self.remembered.get("pieces", {})
        pieces = {}
        for index, name in enumerate(self.pattern.piece_names()):
            before = remembered.get(plain_name(name), {})
            if self.is_bound and f"p{index}-name" in self.data:
                typed = plain_name(self.data.get(f"p{index}-name", ""))[:LONGEST_NAME]
                pieces[name] = PieceAnswer(f"p{index}-take" in self.data, typed)
            else:
                called = plain_name(before.get("name") or name)[:LONGEST_NAME]
                pieces[name] = PieceAnswer(bool(before.get("take", True)), called)
        return pieces

    def _size_answers(self) -> dict[str, str]:
        have = {size.lower(): size for size in self.known.sizes}
        found = {}
        for index, size in enumerate(self.file_sizes):
            if f"size-{index}" in self.fields:
                answer = self.lenient(f"size-{index}") or ""
                found[size] = "" if answer == LEFT_OUT else plain_name(answer)
            else:
                found[size] = size if self.takes_sizes else have[size.lower()]
        # While a size has no name yet, its pieces are shown under the name that stands in the file.
        if self.takes_sizes:
            return {size: name or size or "?" for size, name in found.items()}
        return {size: name for size, name in found.items() if name}


def _units_choices(plain: ReadPattern, size: str) -> list[tuple[str, str]]:
    """Each with what follows from it: "front M would be 65 cm long"."""
    drawn = [piece for piece in plain.pieces if piece.size == size] or list(plain.pieces)
    largest = max(drawn, key=lambda piece: piece.outline.area_mm2)
    what = f"{largest.name} {largest.size}".strip()

    def would_be(factor: float) -> str:
        mm = largest.outline.length_mm * factor
        kind = "cloth" if mm >= 1500 else "small"
        return f"{what} would be {format_length(mm, display='metric', kind=kind)} long"

    return [("mm", f"millimetres: {would_be(1.0)}"), ("in", f"inches: {would_be(25.4)}")]


def _in_size(size: str) -> str:
    return f" in {size}" if size else ""


def _usable_size(size: str) -> bool:
    return size.isprintable() and bool(re.fullmatch(r"[^\s,;/]{1,12}", size))


def _sizes_in_words(sizes: Sequence[str]) -> str:
    shown = " ".join(size or "(no name)" for size in sizes[:12])
    return shown + (" …" if len(sizes) > 12 else "")
