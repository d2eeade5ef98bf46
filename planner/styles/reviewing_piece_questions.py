"""What a pattern file leaves open about its pieces: which are taken, what they are, which sizes of them change."""

from __future__ import annotations

from collections.abc import Sequence

from django import forms

from planner.common.fields import QuantityField
from planner.core.pattern_files.model import ReadPiece
from planner.styles.reviewing import PieceAnswer, Proposal
from planner.styles.reviewing_asking import Asking
from planner.styles.reviewing_edges import is_symmetrical, plain_name
from planner.styles.reviewing_options import OptionField, alike_pieces, names_to_offer

LONGEST_NAME = 60
#: What remarks in files call the cloth that most of a garment is cut from (common practice).
MAIN_CLOTH = frozenset({"fabric", "cloth", "main", "self", "shell", "main fabric", "self fabric"})


class PieceQuestions(Asking):
    """Fields of a piece are called p0-name …, in the order of the file."""

    proposals: Sequence[Proposal]

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
