"""What the readers of pattern files found, said once for all the pieces it was found in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from planner.core.pattern_files.model import Finding


@dataclass(frozen=True)
class Remark:
    """Findings that say the same of a piece in several sizes."""

    where: str
    text: str


def remarks(findings: Iterable[Finding], level: str) -> list[Remark]:
    """The findings of a level; what is said of several sizes or pieces is said once."""
    found: dict[str, dict[str, list[str]]] = {}
    for finding in findings:
        if finding.level == level:
            sizes = found.setdefault(_bare(finding), {}).setdefault(finding.piece, [])
            if finding.size and finding.size not in sizes:
                sizes.append(finding.size)
    return [Remark(_where(pieces), text) for text, pieces in found.items()]


def _bare(finding: Finding) -> str:
    """Its sentence without the piece and size in front, which stand before it anyway."""
    text = finding.text
    whole = (
        f"{finding.piece}, size {finding.size}: ",
        f"{finding.piece} {finding.size}: ",
        f"{finding.piece}: ",
    )
    for name in whole:
        if finding.piece and text.startswith(name):
            text = text.removeprefix(name)
    return text


def _where(pieces: Mapping[str, Sequence[str]]) -> str:
    return "; ".join(
        f"{piece} {', '.join(sizes)}".strip() if sizes else piece
        for piece, sizes in pieces.items()
        if piece or sizes
    )
