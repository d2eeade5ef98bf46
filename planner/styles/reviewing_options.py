"""To which option each new piece of a file belongs: one the style has, one that is typed, or every garment.

Two necks in one file look like any other pieces, and would both be cut for every garment: where pieces look like
alternatives it is asked openly.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from planner.core.alternatives import alternatives, grouped, option_words
from planner.core.outline import Outline
from planner.core.spec import PieceSpec
from planner.styles.reviewing import Known, Proposal
from planner.styles.reviewing_edges import plain_name

LONGEST_OPTION = 40
EVERY_GARMENT = "every garment"
UNTOLD = "Type the option it is, or tick above that every garment has them all."
UNANSWERED = "Tick this if it is so. If not, type the options at the pieces below."


def split_option(written: str) -> tuple[str, str]:
    """("neck", "rib band") of "neck: rib band"."""
    detail, _, option = written.partition(":")
    return detail.strip(), option.strip()


class OptionField(forms.CharField):
    """ "neck: rib band", or nothing for every garment; what the style has already is written as it has it."""

    def __init__(self, known: Known, **kwargs: Any) -> None:
        self.known = known
        super().__init__(
            required=False,
            max_length=2 * LONGEST_OPTION + 2,
            label="Belongs to",
            widget=forms.TextInput(attrs={"list": "known-options", "placeholder": EVERY_GARMENT}),
            **kwargs,
        )

    def clean(self, value: Any) -> str:
        """The option as it will be stored. Raises ValidationError where it is not written as one."""
        written = plain_name(str(super().clean(value) or ""))
        if not written or written.lower() == EVERY_GARMENT:
            return ""
        detail, option = split_option(written)
        if not detail or not option:
            raise ValidationError(
                "Write detail and option, such as neck: rib band. Nothing means every garment."
            )
        if len(detail) > LONGEST_OPTION or len(option) > LONGEST_OPTION:
            raise ValidationError(f"Detail and option have at most {LONGEST_OPTION} letters each.")
        return self._as_known(detail, option)

    def _as_known(self, detail: str, option: str) -> str:
        same = f"{detail}: {option}".lower()
        have = {name.lower(): name for name in self.known.options}
        if same in have:
            return have[same]
        if detail.lower() in {name.lower() for name in self.known.base_details}:
            raise ValidationError(
                f"{detail} belongs to the style this one is built on: add the option there, then take it here."
            )
        details = {name.lower(): name for name in (split_option(one)[0] for one in self.known.options)}
        return f"{details.get(detail.lower(), detail)}: {option}"


@dataclass(frozen=True)
class AlikePieces:
    """Pieces that look like alternatives and would all go into every garment; `new` are those of the file."""

    names: tuple[str, ...]
    new: tuple[int, ...]
    why: str
    suggested: dict[str, str] = field(default_factory=dict)

    @property
    def field_name(self) -> str:
        """The field that says that every garment has them all."""
        return f"all-{zlib.crc32(repr(self.names).encode()):08x}"

    @property
    def label(self) -> str:
        """What is confirmed by a tick."""
        *first, last = self.names
        return f"Every garment has {', '.join(first)} and {last}: {'both' if len(self.names) == 2 else 'all'}"

    @property
    def example(self) -> str:
        """How they could be told apart: "neck: self band" and "neck: rib band"."""
        return " and ".join(f"“{self.suggested[name]}”" for name in self.names if name in self.suggested)


def alike_pieces(
    known: Known, proposals: Sequence[Proposal], options: Sequence[str], counts: Sequence[int]
) -> list[AlikePieces]:
    """Groups of pieces that look like alternatives; `options` and `counts` are the answers, piece by piece.

    The style's own pieces count too, where a new one looks like them; what the style had before is not asked again.
    """
    new = {
        proposal.name: proposal.index
        for proposal, option in zip(proposals, options, strict=True)
        if proposal.take and proposal.target is None and not option and proposal.name
    }
    pieces = [_as_piece(p.name, p.named, counts[p.index]) for p in proposals if new.get(p.name) == p.index]
    pieces += [
        _as_piece(piece.name, next(iter(piece.outlines.values())), piece.count)
        for piece in known.pieces.values()
        if not piece.option and piece.outlines
    ]
    found = alternatives(pieces)
    groups = []
    for names in grouped(found):
        indexes = tuple(new[name] for name in names if name in new)
        if indexes:
            why = next(pair.why for pair in found if pair.one in names)
            groups.append(AlikePieces(names, indexes, why, {name: _suggested(name) for name in names}))
    return groups


def _as_piece(name: str, shape: Outline, count: int) -> PieceSpec:
    return PieceSpec(name, "", count, pair=False, may_turn=True, option=None, outlines={"": shape})


def _suggested(name: str) -> str:
    return ": ".join(option_words(name))


def names_to_offer(known: Known, typed: Iterable[str], groups: Iterable[AlikePieces]) -> list[str]:
    """Options of the style, those typed for other pieces, and suggestions, each once."""
    suggested = [one for group in groups for one in group.suggested.values()]
    return list(dict.fromkeys([*known.options, *filter(None, typed), *suggested]))
