"""Pieces that look like alternatives of one place: two neck bands, two pairs of sleeves.

Told by their names, and by what they would be sewn to. It is a guess from habits of the trade (common practice), to be
asked or pointed out, never acted on.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

from planner.core.edge_names import piece_kind
from planner.core.notions.along import sewn_edge_mm
from planner.core.seam_counts import edge_names, occurs, usual_outline
from planner.core.spec import PieceSpec

#: Words that say where a piece is or which layer: pieces that differ in them stand beside each other.
PLACES = frozenset(
    """front back left right upper under inner outer top bottom lower centre center side middle neck neckline waist hem
    cuff sleeve armhole shoulder collar yoke hip bust hood pocket button buttonhole body bodice skirt leg crotch
    facing lining interlining interfacing fusible inside outside band belt strap fly zip placket vent ankle wrist
    elbow""".split()  # noqa: SIM905 - a list of this length is easier to read in words
)
#: Names that end in one of these say nothing: a garment may well have several such pieces.
_NOT_TOLD = frozenset(
    {"tape", "loop", "strap", "tie", "lining", "panel", "gore", "interfacing", "gusset", "part"}
)
#: A strip is a rival for an opening only where it goes all the way round, as a share of it.
_WHOLE = (0.6, 1.1)
#: A sleeve head against the armhole: eased to widely gathered.
_WHOLE_HEAD = (0.9, 2.2)


@dataclass(frozen=True, slots=True)
class Alternative:
    """Two pieces that look like alternatives; `why` in a few words."""

    one: str
    other: str
    why: str


def alternatives(pieces: Sequence[PieceSpec]) -> tuple[Alternative, ...]:
    """Pairs among these pieces, all of which go into one garment, that look like alternatives of one place."""
    found = []
    by_opening = _openings_fitted(pieces)
    for one, other in combinations(pieces, 2):
        why = _alike_in_name(one, other)
        opening = next((name for name, who in by_opening if one.name in who and other.name in who), "")
        if opening and not _beside(one.name, other.name):
            why = f"each fits the whole {opening}"
        if why:
            found.append(Alternative(one.name, other.name, why))
    return tuple(found)


def grouped(found: Iterable[Alternative]) -> list[tuple[str, ...]]:
    """The pieces of these pairs together: three neck bands are one group of three."""
    groups: list[list[str]] = []
    for pair in found:
        here = [group for group in groups if pair.one in group or pair.other in group]
        merged = list(dict.fromkeys([*(name for group in here for name in group), pair.one, pair.other]))
        groups = [group for group in groups if group not in here] + [merged]
    return [tuple(group) for group in groups]


# --- by their names ---------------------------------------------------------------------------------------


def words_of(name: str) -> list[str]:
    """The words of a piece's name, in small letters."""
    return [word for word in re.split(r"[^\w]+", name.lower().replace("_", " ")) if word]


def common_end(one: str, other: str) -> str:
    """The last words that two names share: "neck band" of "self neck band" and "rib neck band"."""
    shared: list[str] = []
    for a, b in zip(reversed(words_of(one)), reversed(words_of(other)), strict=False):
        if a != b:
            break
        shared.insert(0, a)
    return " ".join(shared)


def _beside(one: str, other: str) -> bool:
    """Whether two names say that the pieces have different places."""
    a, b = (set(words_of(name)[:-1]) & PLACES for name in (one, other))
    return a != b


def _alike_in_name(one: PieceSpec, other: PieceSpec) -> str:
    a, b = words_of(one.name), words_of(other.name)
    if (
        not a
        or not b
        or a[-1] != b[-1]
        or a[-1] in _NOT_TOLD
        or a[-1].isdecimal()
        or _beside(one.name, other.name)
    ):
        return ""
    rest_a, rest_b = (set(words[:-1]) - PLACES for words in (a, b))
    if rest_a == rest_b:
        return ""
    if rest_a and rest_b:
        return f"both are called {common_end(one.name, other.name)}"
    # "sleeve" and "gathered sleeve": only where they have the same edges.
    edges_a, edges_b = set(edge_names(one)), set(edge_names(other))
    if edges_a and (edges_a <= edges_b or edges_b <= edges_a):
        return f"both are called {common_end(one.name, other.name)} and have the same edges"
    return ""


# --- by what they fit -------------------------------------------------------------------------------------


def _openings_fitted(pieces: Sequence[PieceSpec]) -> list[tuple[str, set[str]]]:
    """Openings, each with the pieces that fit the whole of it: strips round a neckline or waist, sleeves an armhole."""
    body = [piece for piece in pieces if piece_kind(piece.name) in ("body", "yoke", "skirt", "trousers")]
    strips = [piece for piece in pieces if piece_kind(piece.name) == "strip"]
    sleeves = [piece for piece in pieces if piece_kind(piece.name) == "sleeve"]
    return [
        ("neckline", _fitting(strips, "neckline", body, "neckline", _WHOLE)),
        ("waist", _fitting(strips, "waist", body, "waist", _WHOLE)),
        ("armhole", _fitting(sleeves, "sleeve head", body, "armhole", _WHOLE_HEAD)),
    ]


def _fitting(
    fitted: Iterable[PieceSpec],
    edge: str,
    body: Iterable[PieceSpec],
    opening: str,
    share: tuple[float, float],
) -> set[str]:
    whole = sum(_all_mm(piece, opening) for piece in body)
    return {piece.name for piece in fitted if whole and share[0] <= _all_mm(piece, edge) / whole <= share[1]}


def _all_mm(piece: PieceSpec, edge: str) -> float:
    """What all edges of this name measure together in a garment; 0 where there is none."""
    shape = usual_outline(piece, edge)
    return occurs(piece, edge) * sewn_edge_mm(shape, edge, piece)[0] if shape is not None else 0.0


# --- what to call them ------------------------------------------------------------------------------------


def option_words(name: str) -> tuple[str, str]:
    """A detail and an option that a piece's name suggests: neck and "self band" for a self neck band.

    The detail is the place that the name says, else what the piece is; a name that says nothing else is plain.
    """
    words = words_of(name)
    if not words:
        return "detail", "plain"
    place = next((word for word in words[:-1] if word in PLACES), words[-1])
    at = words.index(place) if place in words[:-1] else len(words) - 1
    return place, " ".join(words[:at] + words[at + 1 :]) or "plain"
