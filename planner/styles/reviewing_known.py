"""Where a review gets its facts: the file as it was read, and what its style has already."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from typing import Any, Literal

from planner.core.outline import outline_from_json
from planner.core.pattern_files.model import PatternFileError, ReadPattern
from planner.core.pattern_files.read import read_pattern
from planner.styles.family import options_of, parts_of
from planner.styles.models import ClothRole, PatternFile, Piece, Style
from planner.styles.reviewing import Known, KnownPiece

#: More pieces than this are no garment; their review would be a page without end.
MOST_PIECES = 100
#: As many sizes as a style may have, and as many again to choose from.
MOST_SIZES = 60
#: Files that are kept as they were read, so that a review reads its file once and not at every answer.
_KEPT = 4

Units = Literal["mm", "in"]


@lru_cache(maxsize=_KEPT)
def read_for_review(
    content: bytes, name: str, rules: bytes | None, rules_name: str, units: Units | None
) -> ReadPattern:
    """The file with its mends, which the review asks to confirm. Raises PatternFileError."""
    pattern = read_pattern(content, name=name, rules=rules, rules_name=rules_name, units=units, mend=True)
    pieces = len(pattern.piece_names())
    if not pieces:
        raise PatternFileError(f"{name}: no piece in it can be used. {_reasons(pattern)}".strip())
    if pieces > MOST_PIECES:
        raise PatternFileError(
            f"{name}: it holds {pieces:,} pieces; at most {MOST_PIECES} can be taken over."
        )
    if len(pattern.sizes) > MOST_SIZES:
        raise PatternFileError(
            f"{name}: it holds {len(pattern.sizes):,} sizes; at most {MOST_SIZES} are read."
        )
    return pattern


def _reasons(pattern: ReadPattern) -> str:
    """Why pieces were refused, the first few."""
    texts = dict.fromkeys(finding.text for finding in pattern.findings if finding.level == "refused")
    return " ".join(list(texts)[:3])


def read_held(file: PatternFile, units: Units | None) -> ReadPattern:
    """A file under review, read with the maker's answer about its units. Raises PatternFileError."""
    rules = bytes(file.rules) if file.rules is not None else None
    return read_for_review(bytes(file.content), file.name, rules, file.rules_name, units)


def known_of(style: Style | None) -> Known:
    """What the style has, in a fixed number of queries; nothing where it is still to be made."""
    if style is None:
        return Known()
    rows = Piece.objects.filter(style=style).select_related("role", "option__detail")
    pieces = list(rows.prefetch_related("outlines__size"))
    roles = sorted(
        parts_of(style, ClothRole), key=lambda role: (role.style_id != style.base_id, role.position)
    )
    options = options_of(style)
    drawn = any(piece.outlines.all() for piece in pieces)
    base_pieces = Piece.objects.filter(style=style.base_id).values_list("name", flat=True)
    return Known(
        sizes=tuple(style.size_range.sizes.values_list("name", flat=True)),
        base_size=style.base_size.name,
        pieces={piece.name.lower(): _piece(piece) for piece in pieces},
        of_base=frozenset(name.lower() for name in base_pieces) if style.base_id else frozenset(),
        roles=tuple(role.name for role in roles),
        options=tuple(f"{option.detail.name}: {option.name}" for option in options),
        base_details=frozenset(o.detail.name for o in options if o.detail.style_id != style.pk),
        may_take_sizes=not drawn and may_change_sizes(style),
        state=_state(pieces),
    )


def may_change_sizes(style: Style) -> bool:
    """Whether a style without outlines may be given other sizes: nobody ordered it, nothing is built with it."""
    return not (style.base_id or style.built_on_it.exists() or style.order_lines.exists())


def _piece(piece: Piece) -> KnownPiece:
    outlines = list(piece.outlines.all())
    option = piece.option
    return KnownPiece(
        pk=piece.pk,
        name=piece.name,
        count=piece.count,
        pair=piece.pair,
        role=piece.role.name,
        option=f"{option.detail.name}: {option.name}" if option else "",
        allowance_mm=float(piece.seam_allowance_mm),
        edge_allowances=piece.edge_allowances,
        outlines={row.size.name: outline_from_json(row.shape) for row in outlines},
        marks={row.size.name: row.marks for row in outlines},
    )


def _state(pieces: list[Piece]) -> str:
    """A short word that changes when any piece or outline does, so that nobody confirms what they did not see."""
    told: list[Any] = [
        (piece.pk, piece.name, row.size_id, row.area_mm2, row.source, row.shape)
        for piece in pieces
        for row in piece.outlines.all()
    ]
    told += [(piece.pk, piece.name) for piece in pieces]
    return hashlib.sha256(repr(told).encode()).hexdigest()[:16]
