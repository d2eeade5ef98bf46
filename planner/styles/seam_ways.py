"""The ways a seam can come about by the options chosen: which have the same figures, and what they are called."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from planner.core.notions.along import sewn_edge_mm
from planner.core.spec import EdgeRef, Option, Options, PieceSpec, SeamSpec, StyleSpec
from planner.core.walk import SeamWalk

#: Ways that are named one by one; how many more there are is said.
MOST_NAMED = 3
#: Lengths that are alike to a tenth of a millimetre are one figure.
_DECIMALS = 1


@dataclass(frozen=True)
class Ways:
    """Ways of one seam with the same figures in every size.

    `walk` stands for all of them: its sides are named so that the words hold for each. `first` is the walk of the
    first, as it is. `options` are those that the ways have in common or between them, in words; `only_for` leaves
    away what holds for every way of the seam, "" where these are all ways. `in_layers`: the second side is several
    layers, each of which fits the first side.
    """

    walk: SeamWalk
    first: SeamWalk
    count: int
    options: str
    only_for: str
    in_layers: bool = False


def same_figures(seam: SeamSpec, walks: Sequence[SeamWalk], spec: StyleSpec) -> list[Ways]:
    """The walks of one seam, those with the same figures together."""
    alike: dict[tuple[object, bool], list[SeamWalk]] = {}
    for walk in walks:
        layers = bool(walk.misfits) and in_layers(seam, walk, spec)
        alike.setdefault((_figures(walk), layers), []).append(walk)
    every = [walk.options for walk in walks]
    pieces = {piece.name: piece for piece in spec.pieces}
    found = []
    for (_, layers), group in alike.items():
        options, only_for = _in_words([walk.options for walk in group], every, spec)
        side1, side2 = _labels(seam, group, pieces)
        walk = replace(group[0], side1=side1, side2=side2)
        found.append(Ways(walk, group[0], len(group), options, only_for, layers))
    return found


def in_layers(seam: SeamSpec, walk: SeamWalk, spec: StyleSpec) -> bool:
    """Whether side 2 is several layers, each as long as side 1 in every size: a tape or facing caught in a seam.

    Only side 2 can be that: the edges of side 1 together give the seam its length.
    """
    pieces = {piece.name: piece for piece in spec.pieces_for(walk.options)}
    layers = [ref for ref in seam.side(2) if ref.piece in pieces]
    if len(layers) < 2 or seam.fullness:
        return False
    for size in walk.sizes:
        for ref in layers:
            piece = pieces[ref.piece]
            length = ref.takes * sewn_edge_mm(piece.outlines[size.size], ref.edge, piece)[0]
            if abs(length - (size.side1_mm or 0.0)) > size.tolerance_mm:
                return False
    return bool(walk.sizes)


def _figures(walk: SeamWalk) -> object:
    sizes = tuple(
        (size.size, _rounded(size.side1_mm), _rounded(size.side2_mm), size.on_seam_lines)
        for size in walk.sizes
    )
    return sizes, walk.unmeasured


def _rounded(length_mm: float | None) -> float | None:
    return None if length_mm is None else round(length_mm, _DECIMALS)


def _labels(seam: SeamSpec, group: Sequence[SeamWalk], pieces: Mapping[str, PieceSpec]) -> tuple[str, str]:
    """Names of the sides that hold for every way: as they are, else by their edges alone."""
    first = group[0]
    if len({(walk.side1, walk.side2) for walk in group}) == 1:
        return first.side1, first.side2
    one, two = (
        " and ".join(
            dict.fromkeys(
                ref.edge
                for walk in group
                for ref in seam.side(number)
                if ref.piece in pieces and _is_there(pieces[ref.piece], walk.options)
            )
        )
        for number in (1, 2)
    )
    if one == two:
        return f"first {one}", f"second {two}"
    return one, two


def _is_there(piece: PieceSpec, options: Options) -> bool:
    return piece.option is None or piece.option in options


def _in_words(ways: Sequence[Options], every: Sequence[Options], spec: StyleSpec) -> tuple[str, str]:
    """(the options of these ways, what of them does not hold for every way)."""
    all_of_them = _choices(every, spec)
    if len(every) > 1 and len(ways) == len(every):
        common = {detail: had for detail, had in all_of_them.items() if len(had) == 1}
        return _said(common), ""
    here = _choices(ways, spec)
    # "front: plain or twist; back: yoke" names these ways only if each of those combinations is one of them.
    if set(map(frozenset, ways)) == {frozenset(pairs) for pairs in _combined(here)}:
        narrowed = {detail: had for detail, had in here.items() if had != all_of_them[detail]}
        shown = {detail: had for detail, had in here.items() if detail in narrowed or len(had) == 1}
        return _said(shown), _said(narrowed)
    named = [", ".join(f"{detail}: {option}" for detail, option in way) or "neither" for way in ways]
    more = len(named) - MOST_NAMED
    text = "; ".join(named[:MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")
    return text, text


def _choices(ways: Iterable[Options], spec: StyleSpec) -> dict[str, list[str]]:
    """The options that the ways have between them, by detail, in the order of the style."""
    had = {option for way in ways for option in way}
    found = {
        detail: [option for option in options if (detail, option) in had]
        for detail, options in spec.details.items()
    }
    return {detail: options for detail, options in found.items() if options}


def _combined(choices: Mapping[str, Sequence[str]]) -> Iterable[tuple[Option, ...]]:
    return product(*([(detail, option) for option in options] for detail, options in choices.items()))


def _said(choices: Mapping[str, Sequence[str]]) -> str:
    return ", ".join(f"{detail}: {' or '.join(options)}" for detail, options in choices.items())


# --- what a seam joins ------------------------------------------------------------------------------------

#: Edges that are sewn at once; any one of several such; and all of those.
Together = tuple[EdgeRef, ...]
Alternatives = tuple[Together, ...]


def joined(seam: SeamSpec, side: int, pieces: Mapping[str, PieceSpec]) -> tuple[Alternatives, ...]:
    """The edges of a side: those of different options of one detail are alternatives, all others are joined.

    An alternative is the edges of one option. Edges of pieces that every garment has stand alone.
    """
    found: dict[object, dict[object, list[EdgeRef]]] = {}
    for i, ref in enumerate(seam.side(side)):
        option = pieces[ref.piece].option if ref.piece in pieces else None
        detail: object = i if option is None or option == seam.option else option[0]
        found.setdefault(detail, {}).setdefault(option, []).append(ref)
    return tuple(tuple(tuple(refs) for refs in options.values()) for options in found.values())
