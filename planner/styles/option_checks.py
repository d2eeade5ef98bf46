"""What looks like a slip in the options of a style: rules over a StyleSpec, no database."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from planner.core.alternatives import alternatives, grouped
from planner.core.spec import StyleSpec
from planner.styles.problem import Problem

#: What an option is called that adds nothing: the pocket that is left away, the front as it is, the cardigan that stays
#: open.
_ADDS_NOTHING = re.compile(
    r"\b(no|none|not|without|plain|open|basic|standard|usual|regular|as it is)\b|^[-–—]+$", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class LikeAlternatives(Problem):
    """Pieces that look like alternatives of one place, all of which go into every garment."""

    pieces: tuple[str, ...]

    def __str__(self) -> str:
        *first, last = self.pieces
        both = "both" if len(self.pieces) == 2 else "all"
        return f"{', '.join(first)} and {last} {both} go into every garment: is each an option?"


@dataclass(frozen=True, slots=True)
class EmptyOption(Problem):
    """An option that changes nothing in the garment though its name does not say so."""

    section: ClassVar[str] = "details"
    detail: str
    option: str

    def __str__(self) -> str:
        adds = f"{self.option} ({self.detail}) has no piece, seam, operation or notion yet"
        return f"{adds}; if it adds nothing, call it none or plain"


def like_alternatives(spec: StyleSpec) -> Iterator[Problem]:
    """No two pieces of every garment look like alternatives of one place."""
    every_garment = [piece for piece in spec.pieces if piece.option is None]
    for names in grouped(alternatives(every_garment)):
        yield LikeAlternatives(names)


def empty_options(spec: StyleSpec) -> Iterator[Problem]:
    """Every option has a part of its own, unless it is called as one that adds nothing."""
    parts = (*spec.pieces, *spec.seams, *spec.operations, *spec.notions)
    used = {part.option for part in parts if part.option is not None}
    for detail, options in spec.details.items():
        for option in options:
            if (detail, option) not in used and not _ADDS_NOTHING.search(option.strip()):
                yield EmptyOption(detail, option)
