"""Forms of pattern files: bringing them in, and the questions that a file leaves open."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import PurePath
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.forms.utils import ErrorDict
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

from planner.common.fields import LengthField, QuantityField
from planner.common.forms import PlainWords
from planner.core.pattern_files.model import MOST_BYTES, PatternFileError, ReadPattern, ReadPiece
from planner.core.units import format_length
from planner.styles.actions import NewSizes, NewStyle, TakenPiece, Taking
from planner.styles.forms import MOST_SIZES, checked_number
from planner.styles.reviewing import (
    Answers,
    Known,
    PieceAnswer,
    Proposal,
    factor_from,
    has_sewing_lines,
    is_symmetrical,
    middle_size,
    plain_name,
    propose,
    sizes_in_order,
)
from planner.styles.reviewing_known import Units, read_for_review

#: Files that may be brought in at once.
MOST_FILES = 12
LONGEST_NAME = 60
LONGEST_SIZE = 12
LEFT_OUT = "-"
#: Said where an answer made something else of a piece than the page showed.
GOES_INTO = "It goes into the piece of that name that is there: look at what changes, then take it over."
IS_NEW = "It is a new piece now: answer what is asked of it, then take it over."
#: Findings of readers that took a scale the file does not state.
SCALE_ASSUMED = frozenset({"no units", "scale"})
_LIMIT = f"{MOST_BYTES // 1_000_000} MB"


# --- bringing files in ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Upload:
    """A file that can be read, with the grade rules that lie beside it."""

    name: str
    content: bytes
    rules_name: str = ""
    rules: bytes | None = None


class FilesInput(forms.ClearableFileInput):
    """Several files at once."""

    allow_multiple_selected = True
    template_name = "django/forms/widgets/file.html"

    def value_from_datadict(self, data: Any, files: Any, name: str) -> list[UploadedFile]:
        return (
            files.getlist(name)
            if isinstance(files, MultiValueDict)
            else list(filter(None, [files.get(name)]))
        )


class FilesField(forms.Field):
    """Pattern files and their grade rules, cleaned to a list of :class:`Upload`; each was read once to try it."""

    widget = FilesInput

    def __init__(self, *, most: int = MOST_FILES, **kwargs: Any) -> None:
        self.most = most
        super().__init__(**kwargs)

    def clean(self, value: Sequence[UploadedFile]) -> list[Upload]:
        if not value:
            raise ValidationError("Choose a file first: .dxf, with its .rul if it has one, or .svg.")
        uploads = _paired([_read(file) for file in value])
        if len(uploads) > self.most:
            words = "one pattern file" if self.most == 1 else f"{self.most} pattern files"
            raise ValidationError(f"At most {words} at once, please; these are {len(uploads)}.")
        problems = []
        for upload in uploads:
            try:
                read_for_review(upload.content, upload.name, upload.rules, upload.rules_name, None)
            except PatternFileError as problem:
                problems.append(str(problem))
        if problems:
            raise ValidationError(problems)
        return uploads


def _read(file: UploadedFile) -> tuple[str, bytes]:
    """Name and content of one file, refused by its size before it is read."""
    name = plain_name(PurePath(file.name or "file").name)[-200:] or "file"
    if (file.size or 0) > MOST_BYTES:
        raise ValidationError(f"{name}: {(file.size or 0) / 1_000_000:.1f} MB; at most {_LIMIT} are read.")
    if not file.size:
        raise ValidationError(f"{name}: the file is empty.")
    return name, file.read()


def _paired(files: Sequence[tuple[str, bytes]]) -> list[Upload]:
    """Grade rules go with the pattern file of the same name, or with the only one."""
    rules = {name: content for name, content in files if name.lower().endswith(".rul")}
    patterns = [(name, content) for name, content in files if name not in rules]
    if not patterns:
        raise ValidationError(
            f"{', '.join(rules)}: grade rules alone have no pieces. Choose the .dxf with it."
        )
    uploads, left = [], dict(rules)
    for name, content in patterns:
        stem = PurePath(name).stem.lower()
        beside = next((rule for rule in rules if PurePath(rule).stem.lower() == stem), None)
        if beside is None and len(patterns) == len(rules) == 1:
            beside = next(iter(rules))
        left.pop(beside or "", None)
        uploads.append(Upload(name, content, beside or "", rules.get(beside or "")))
    if left:
        alone = ", ".join(left)
        raise ValidationError(
            f"{alone}: no pattern file has that name. Call both alike, for example tee.dxf and tee.rul."
        )
    return uploads


class FilesForm(PlainWords, forms.Form):
    """Pattern files for a style that is there."""

    files = FilesField(
        label="Pattern files",
        help_text=f"DXF, with its grade rules (.rul) beside it if it has them, or SVG. At most {_LIMIT} a file.",
        widget=FilesInput(attrs={"accept": ".dxf,.rul,.svg", "multiple": True}),
    )


class StyleFromFileForm(PlainWords, forms.Form):
    """A style that is to be made from a pattern file."""

    number = forms.CharField(
        max_length=20, help_text="As you call it on tickets and labels, for example 110."
    )
    name = forms.CharField(max_length=120)
    files = FilesField(
        most=1,
        label="Pattern file",
        help_text=f"One DXF, with its grade rules (.rul) beside it if it has them, or one SVG; {_LIMIT} at most.",
        widget=FilesInput(attrs={"accept": ".dxf,.rul,.svg", "multiple": True}),
    )

    def clean_number(self) -> str:
        return checked_number(self.cleaned_data["number"])


# --- the questions of a file ------------------------------------------------------------------------------


def units_of(data: Mapping[str, Any]) -> Units | None:
    """The answer about units, if it is one."""
    answer = data.get("units")
    return answer if answer in ("mm", "in") else None


class ReviewForm(PlainWords, forms.Form):
    """Only what the file leaves open. `plain` is the file as read without an answer about its units.

    Fields of a piece are called p0-name …, in the order of the file. Which there are follows from what was answered
    (a piece the style has needs no cloth role), so a field that was not there when the form was sent starts from its
    guess, and :meth:`clean` asks to look again.
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
        self._plainly()

    def _plainly(self) -> None:
        """The house's words and units for fields that were added here."""
        for field in self.fields.values():
            if isinstance(field, LengthField):
                field.use_display(self.display)
            field.error_messages["required"] = field.error_messages.get("unanswered", "Please fill this in.")
            if "invalid_choice" in field.error_messages:
                field.error_messages["invalid_choice"] = "Please choose one of the list."
            for validator in field.validators:
                if getattr(validator, "code", "") == "max_length":
                    validator.message = "At most %(limit_value)s letters, please; this has %(show_value)s."

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
            self.fields["true_length"] = LengthField(
                label="If it is not, how long is it truly?",
                required=False,
                above_mm=0,
                maximum_mm=20_000,
                help_text=f"From end to end along the grain, for {self.checked.name}; everything is enlarged with it.",
            )
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
            self.fields["allowance"] = LengthField(
                label="How wide is the seam allowance?",
                default_unit="mm",
                maximum_mm=100,
                initial=Decimal(str(self.remembered.get("allowance_mm", "7"))),
                help_text="Of new pieces. Pieces the style has keep theirs; single edges can be given another later.",
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

    def _ask_base_size(self) -> None:
        if len(self.file_sizes) > 1:
            start = next((i for i, size in enumerate(self.file_sizes) if size == self.shown_size), 0)
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
            guess = before.get(size) or self._size_in_file_name(have)
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
        before = self.remembered.get("pieces", {}).get(proposal.file_name, {})
        return forms.CharField(
            max_length=LONGEST_NAME,
            label="Name in the style",
            initial=plain_name(before.get("name") or proposal.file_name)[:LONGEST_NAME],
            widget=forms.TextInput(attrs={"list": "known-pieces"} if self.known.pieces else {}),
        )

    def _add_new_piece_fields(self, at: str, proposal: Proposal, first: ReadPiece) -> None:
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
                    initial="pair" if first.pair_guess else "alike",
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
        if self.known.options:
            self._add(
                at,
                "option",
                forms.ChoiceField(
                    required=False,
                    label="Belongs to",
                    choices=[("", "every garment"), *((str(pk), name) for pk, name in self.known.options)],
                ),
            )

    def _role_guess(self, first: ReadPiece) -> str:
        guess = plain_name(first.role_guess).lower()[:40]
        have = {role.lower(): role for role in self.known.roles}
        if guess:
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
        remembered = self.remembered.get("pieces", {})
        pieces = {}
        for index, name in enumerate(self.pattern.piece_names()):
            before = remembered.get(name, {})
            if self.is_bound and f"p{index}-name" in self.data:
                typed = plain_name(self.data.get(f"p{index}-name", ""))[:LONGEST_NAME]
                pieces[name] = PieceAnswer(f"p{index}-take" in self.data, typed)
            else:
                called = plain_name(before.get("name") or name)[:LONGEST_NAME]
                pieces[name] = PieceAnswer(bool(before.get("take", True)), called)
        return Answers(
            factor=factor_from(
                float(true_mm) if true_mm else None, self.checked.outline.length_mm if self.checked else 0
            ),
            included=None if included not in ("yes", "no") else included == "yes",
            allowance_mm=float(self.lenient("allowance") or 0),
            sizes=self._size_answers(),
            pieces=pieces,
        )

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

    def only_look(self) -> None:
        """Shows what was answered without saying what is still open."""
        if self.is_bound:
            self.full_clean()
            keep = {"units": [self.wrong_units]} if self.wrong_units else {}
            self._errors = ErrorDict({name: self.error_class(texts) for name, texts in keep.items()})

    # --- checks ---

    def clean_number(self) -> str:
        return checked_number(self.cleaned_data["number"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if self.wrong_units:
            self.add_error("units", self.wrong_units)
        self._check_scale(data)
        self._check_sizes()
        taken = [proposal for proposal in self.proposals if proposal.take]
        if not taken:
            self.add_error(None, "No piece is ticked to be taken. Tick at least one, or throw the file away.")
        for proposal in taken:
            self._check_piece(proposal, data)
        self._check_names(taken)
        if not any(proposal.by_size for proposal in taken) and taken and not self.errors:
            self.add_error(None, "Every size of the file is left out, so there is nothing to take over.")
        return data

    def _check_scale(self, data: Mapping[str, Any]) -> None:
        answered = data.get("scale_right") or data.get("true_length") or "true_length" in self.errors
        if "scale_right" in self.fields and not answered:
            self.add_error("scale_right", "Tick it if the length is right, or type the true one.")

    def _check_sizes(self) -> None:
        seen: dict[str, str] = {}
        for size, name in self.answers.sizes.items():
            field = f"size-{self.file_sizes.index(size)}"
            at = field if field in self.fields else None
            if self.takes_sizes and at and re.search(r"[\s,;/]", name):
                self.add_error(at, "A size is one word, for example M or 38.")
            if name.lower() in seen:
                self.add_error(
                    at, f"{name} would then be two sizes of the file: choose another or leave one out."
                )
            seen[name.lower()] = size
        if self.takes_sizes and len(self.file_sizes) > MOST_SIZES:
            self.add_error(None, f"A style may have {MOST_SIZES} sizes; the file has {len(self.file_sizes)}.")

    def _check_piece(self, proposal: Proposal, data: Mapping[str, Any]) -> None:
        at = f"p{proposal.index}"
        if proposal.trouble:
            words = f"{proposal.file_name}: {proposal.trouble}. Leave it out, or choose “Yes” above."
            self.add_error(f"{at}-name", words)
        if proposal.mends and not data.get(f"{at}-mend"):
            self.add_error(f"{at}-mend", "Look at the marked place and tick this, or leave the piece out.")
        if proposal.target is None:
            count, pair = self.count_of(proposal, data), self.pair_of(proposal, data)
            if count is not None and pair and count % 2:
                where = f"{at}-pair" if f"{at}-pair" in self.fields else f"{at}-name"
                self.add_error(where, f"A mirrored pair is an even number of pieces, not {count}.")
        if self.data.get(f"{at}-into", "") != self.target_word(proposal):
            self.add_error(f"{at}-name", GOES_INTO if proposal.target else IS_NEW)
        elif proposal.target and set(proposal.changed) - set(self.data.getlist(f"{at}-offered")):
            self.add_error(f"{at}-name", "Your answers change more of it: look at the sizes below once more.")

    def target_word(self, proposal: Proposal) -> str:
        """What the page tells the server it showed: the piece it goes into, or a new one."""
        return str(proposal.target.pk) if proposal.target else "new"

    def _check_names(self, taken: Sequence[Proposal]) -> None:
        seen: dict[str, Proposal] = {}
        for proposal in taken:
            other = seen.setdefault(proposal.name.lower(), proposal)
            if other is not proposal and proposal.name:
                words = f"{other.file_name} and {proposal.file_name} cannot both become {proposal.name}."
                self.add_error(f"p{proposal.index}-name", words)

    def count_of(self, proposal: Proposal, data: Mapping[str, Any]) -> int | None:
        """As the file states it, else as answered."""
        stated = proposal.first.count
        answer = data.get(f"p{proposal.index}-count") if stated is None else stated
        return None if answer is None else int(answer)

    def pair_of(self, proposal: Proposal, data: Mapping[str, Any]) -> bool:
        """As the file states it, else as answered."""
        if proposal.first.pair is not None:
            return proposal.first.pair
        return data.get(f"p{proposal.index}-pair") == "pair"

    # --- what is taken ---

    def taking(self) -> Taking:
        """All that was confirmed, for `take_over`. Only of a form that is valid."""
        data = self.cleaned_data
        new_style = None
        if self.new_style is not None:
            new_style = NewStyle(data["number"], data["name"], for_children=data["for_children"])
        return Taking(
            pieces=[
                taken for proposal in self.proposals if (taken := self._taken(proposal, data)) is not None
            ],
            answers=self._to_remember(data),
            state=self.known.state,
            new_style=new_style,
            new_sizes=self._new_sizes(data) if self.takes_sizes else None,
        )

    def _new_sizes(self, data: Mapping[str, Any]) -> NewSizes:
        names = [self.answers.sizes[size] for size in self.file_sizes]
        return NewSizes(names, names[int(data.get("base_size") or 0)])

    def _taken(self, proposal: Proposal, data: Mapping[str, Any]) -> TakenPiece | None:
        if not proposal.take or not proposal.by_size:
            return None
        at, target = f"p{proposal.index}", proposal.target
        outlines = {size: (new.outline, new.marks) for size, new in proposal.by_size.items()}
        if target is not None:
            ticked = data.get(f"{at}-sizes", [])
            outlines = {size: new for size, new in outlines.items() if size in ticked}
            return TakenPiece(proposal.name, outlines, into=target.pk) if outlines else None
        allowance, by_edge = self._allowances(proposal, data)
        return TakenPiece(
            name=proposal.name,
            outlines=outlines,
            role=plain_name(data[f"{at}-role"]),
            count=self.count_of(proposal, data) or 1,
            pair=self.pair_of(proposal, data),
            option=int(data[f"{at}-option"]) if data.get(f"{at}-option") else None,
            allowance_mm=allowance,
            edge_allowances=by_edge,
        )

    def _allowances(self, proposal: Proposal, data: Mapping[str, Any]) -> tuple[Decimal, dict[str, float]]:
        """The usual allowance and the edges that differ: measured in the file, else as answered."""
        measured = measured_allowances(proposal)
        if measured is None:
            return data.get("allowance", Decimal("7")), {}
        usual = max(set(measured.values()), key=list(measured.values()).count) if measured else 0.0
        by_edge = {name: mm for name, mm in measured.items() if mm != usual}
        return Decimal(str(usual)), by_edge

    def _to_remember(self, data: Mapping[str, Any]) -> dict[str, Any]:
        """Answers for the next file of the style, as plain data."""
        sizes = {size: self.answers.sizes.get(size, LEFT_OUT) for size in self.file_sizes}
        answers: dict[str, Any] = {
            "sizes": sizes,
            "pieces": {p.file_name: {"take": p.take, "name": p.name} for p in self.proposals},
        }
        if "included" in self.fields:
            answers |= {"included": data["included"], "allowance_mm": str(data["allowance"])}
        if "units" in self.fields:
            answers["units"] = data["units"]
        return answers


def measured_allowances(proposal: Proposal) -> dict[str, float] | None:
    """Seam allowance in mm by the edge names of the style, as the file's sewing line gives it; None without one."""
    if proposal.first.allowance_mm is None:
        return None
    measured = proposal.first.allowance_mm
    names = {edge.start: edge.name for edge in proposal.named.edges}
    found: dict[str, float] = {}
    for edge in proposal.first.outline.edges:
        if edge.name in measured and edge.start in names:
            found.setdefault(names[edge.start], round(measured[edge.name] * 2) / 2)
    return found


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
    return bool(re.fullmatch(r"[^\s,;/]{1,12}", size))


def _sizes_in_words(sizes: Sequence[str]) -> str:
    shown = " ".join(size or "(no name)" for size in sizes[:12])
    return shown + (" …" if len(sizes) > 12 else "")
