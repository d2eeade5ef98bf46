"""Names for the edges of pieces that are read from a file: those the style gave them, else suggestions."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import TypeVar

from planner.core.edge_changes import named_like
from planner.core.edge_names import MOST_EDGES, suggest_names
from planner.core.outline import Edge, Outline

T = TypeVar("T")


def plain_name(name: str) -> str:
    """A name without what no eye sees, and with single blanks."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in name).split())


#: What a seam can refer to.
LONGEST_EDGE_NAME = 40
#: A mirror image that differs by a smaller share of the area is the same piece.
SAME_BOTH_SIDES = 0.003
#: What readers call an edge to which nobody gave a name.
_NUMBERED = re.compile(r"edge \d+|outline")


def with_edge_names(
    shapes: Mapping[str, Outline], known: Mapping[str, Outline], name: str
) -> dict[str, Outline]:
    """The outlines of a piece by size with the edge names of those the style has, else with suggestions."""
    if not known:
        return _suggested(shapes, name)
    return {
        size: _as_in_style(shape, known.get(size) or next(iter(known.values())))
        for size, shape in shapes.items()
    }


def _as_in_style(shape: Outline, old: Outline) -> Outline:
    key = (old.points, old.edges)
    return once(shape, "_named", key, lambda: _short_names(_named_like(old, shape)))


def _suggested(shapes: Mapping[str, Outline], name: str) -> dict[str, Outline]:
    """One suggestion for all sizes where they have the same edges, so that an edge keeps its name in all."""
    largest = max(shapes.values(), key=lambda shape: shape.area_mm2)
    found: dict[str, Outline] = {}
    for size, shape in shapes.items():
        like = largest if len(shape.edges) == len(largest.edges) else shape
        found[size] = once(shape, "_named", (name, like.edges), partial(_with_suggestions, shape, like, name))
    return found


def _with_suggestions(shape: Outline, like: Outline, name: str) -> Outline:
    suggested = once(like, "_suggested", name, lambda: suggest_names(like, name))
    return _short_names(_with_names(shape, [one.name for one in suggested]))


def _with_names(shape: Outline, names: Sequence[str]) -> Outline:
    """Only edges that the file itself does not name take a suggestion."""
    return Outline(
        shape.points,
        tuple(
            Edge(name if _NUMBERED.fullmatch(edge.name) else edge.name, edge.start)
            for edge, name in zip(shape.edges, names, strict=True)
        ),
    )


def _short_names(shape: Outline) -> Outline:
    """Names as the style's tables hold them: visible, and not too long."""
    names = [plain_name(edge.name)[:LONGEST_EDGE_NAME].strip() for edge in shape.edges]
    if all(name == edge.name for name, edge in zip(names, shape.edges, strict=True)):
        return shape
    named = enumerate(zip(names, shape.edges, strict=True), 1)
    return Outline(shape.points, tuple(Edge(name or f"edge {i}", edge.start) for i, (name, edge) in named))


def _named_like(old: Outline, new: Outline) -> Outline:
    """The new line with the edge names that were given to the old one."""
    if max(len(old.edges), len(new.edges)) > MOST_EDGES:
        return new
    return named_like(old, new)[0]


def once(shape: Outline, slot: str, key: object, make: Callable[[], T]) -> T:
    """What was reckoned from a shape, kept beside it: the shapes of a file under review are kept as well."""
    kept = shape.__dict__.get(slot)
    if kept is None or kept[0] != key:
        kept = shape.__dict__[slot] = (key, make())
    found: T = kept[1]
    return found


def is_symmetrical(shape: Outline) -> bool:
    """Whether its mirror image is the same piece, so that nobody need say whether it is cut as a pair."""

    def differs() -> bool:
        _, y0, _, y1 = shape.bounds_mm
        image = shape.mirrored().moved(0.0, y0 + y1)
        off = shape.polygon.symmetric_difference(image.polygon).area
        return bool(off > SAME_BOTH_SIDES * shape.area_mm2)

    return not once(shape, "_one_sided", True, differs)
