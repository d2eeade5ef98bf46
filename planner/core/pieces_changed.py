"""Which pieces and parts of a style are no longer what they were when something was planned with it."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace

from planner.core.spec import Option, PieceSpec, StyleSpec
from planner.core.stored_spec import style_from_json, style_to_json

#: A piece by its name and the option it belongs to; or a kind of parts and the option those belong to.
Named = tuple[str, Option | None]

#: Kinds of parts of a style besides its pieces.
KINDS = ("seams", "operations", "notions")


def changed_pieces(then: StyleSpec, now: StyleSpec) -> tuple[Named, ...]:
    """The pieces of a style as it was kept that are gone, or whose outlines, count or rules have changed since; then
    the new ones.

    Only the sizes and cloths of that time are compared. Marks are not, for no lay depends on them.
    """
    rounded = style_from_json(json.loads(json.dumps(style_to_json(now))))
    new = {(piece.name, piece.option): piece for piece in rounded.pieces}
    found = []
    for piece in then.pieces:
        is_now = new.pop((piece.name, piece.option), None)
        if is_now is None or _bare(piece, piece) != _bare(is_now, piece):
            found.append((piece.name, piece.option))
    return (*found, *new)


def changed_parts(then: StyleSpec, now: StyleSpec) -> tuple[Named, ...]:
    """Which parts besides the pieces have changed since a style was kept: their kind (`KINDS`), each with the option
    whose parts were changed, taken out or put in; None stands for parts that all garments have.

    A new order alone changes only operations, for each of them holds its position.
    """
    rounded = style_from_json(json.loads(json.dumps(style_to_json(now))))
    found: dict[Named, None] = {}
    for kind in KINDS:
        was, is_now = Counter(getattr(then, kind)), Counter(getattr(rounded, kind))
        for part in (was - is_now) + (is_now - was):
            found[kind, part.option] = None
    return tuple(found)


def _bare(piece: PieceSpec, then: PieceSpec) -> PieceSpec:
    """Only what the lays depend on of a piece, in the sizes and from the cloths of that time."""
    by_cloth = {key: piece.outlines_by_cloth.get(key, {}) for key in then.outlines_by_cloth}
    return replace(
        piece,
        outlines={size: piece.outlines[size] for size in then.outlines if size in piece.outlines},
        outlines_by_cloth={
            key: {size: shapes[size] for size in then.outlines_by_cloth[key] if size in shapes}
            for key, shapes in by_cloth.items()
        },
        interpolated=frozenset(),
        marks={},
    )
