"""The review of a pattern file as a form: its questions checked, and what was confirmed."""

from __future__ import annotations

import re
import zlib
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.forms.utils import ErrorDict

from planner.styles.actions import NewSizes, NewStyle, TakenPiece, Taking
from planner.styles.forms import MOST_SIZES, checked_number
from planner.styles.reviewing import Proposal
from planner.styles.reviewing_asking import LEFT_OUT
from planner.styles.reviewing_edges import plain_name
from planner.styles.reviewing_options import UNANSWERED, UNTOLD, split_option
from planner.styles.reviewing_questions import Questions

#: Said where an answer made something else of a piece than the page showed.
GOES_INTO = "It goes into the piece of that name that is there: look at what changes, then take it over."
CHANGES_MORE = "Your answers change something else of it now: look at the sizes below once more."
IS_NEW = "It is a new piece now: answer what is asked of it, then take it over."


class ReviewForm(Questions):
    """The questions of a file, checked against each other; :meth:`taking` is what was confirmed."""

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
        self._check_alike(data)
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
        shown, shows = self.data.get(f"{at}-into", ""), self.target_word(proposal)
        if shown.partition(" ")[0] != shows.partition(" ")[0]:
            self.add_error(f"{at}-name", GOES_INTO if proposal.target else IS_NEW)
        elif shown != shows:
            self.add_error(f"{at}-name", CHANGES_MORE)

    def target_word(self, proposal: Proposal) -> str:
        """What the page tells the server it showed: the piece it goes into and what changes, or a new one."""
        if proposal.target is None:
            return "new"
        changes = [(change.size, round(change.new_mm2), change.same) for change in proposal.changes]
        edges = [round(edge.new_mm or 0, 1) for change in proposal.changes for edge in change.edges]
        return f"{proposal.target.pk} {zlib.crc32(repr((changes, edges)).encode()):08x}"

    def _check_names(self, taken: Sequence[Proposal]) -> None:
        seen: dict[str, Proposal] = {}
        for proposal in taken:
            other = seen.setdefault(proposal.name.lower(), proposal)
            if other is not proposal and proposal.name:
                words = f"{other.file_name} and {proposal.file_name} cannot both become {proposal.name}."
                self.add_error(f"p{proposal.index}-name", words)

    def _check_alike(self, data: Mapping[str, Any]) -> None:
        """Two necks are not cut for every garment because nobody asked."""
        for group in self.alike:
            if data.get(group.field_name):
                continue
            self.add_error(group.field_name, UNANSWERED)
            for index in group.new:
                if f"p{index}-option" not in self.errors:
                    self.add_error(f"p{index}-option", UNTOLD)

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
            state=self.data.get("state", ""),
            new_style=new_style,
            new_sizes=self._new_sizes(data) if self.takes_sizes else None,
        )

    def _new_sizes(self, data: Mapping[str, Any]) -> NewSizes:
        names = [self.answers.sizes[size] for size in self.file_sizes]
        return NewSizes(names, names[int(data.get("base_size") or self.base_index)])

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
            option=split_option(data[f"{at}-option"]) if data.get(f"{at}-option") else None,
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
        sizes = {plain_name(size): self.answers.sizes.get(size, LEFT_OUT) for size in self.file_sizes}
        answers: dict[str, Any] = {
            "sizes": sizes,
            "pieces": {plain_name(p.file_name): self._piece_to_remember(p, data) for p in self.proposals},
        }
        if "included" in self.fields:
            allowance = data.get("allowance", self.remembered.get("allowance_mm", "7"))
            answers |= {"included": data["included"], "allowance_mm": str(allowance)}
        if "units" in self.fields:
            answers["units"] = data["units"]
        if "grain" in self.fields:
            answers["grain"] = data["grain"]
        return answers

    def _piece_to_remember(self, proposal: Proposal, data: Mapping[str, Any]) -> dict[str, Any]:
        told: dict[str, Any] = {"take": proposal.take, "name": proposal.name}
        option = proposal.target.option if proposal.target else data.get(f"p{proposal.index}-option")
        return told | ({"option": option} if option else {})


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
