"""Bands as pieces cut to measure: the opening of a band in every size, and from it the outlines of the piece.

What is cut for an opening is proposed in :mod:`band_proposals`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from planner.core.notions.along import sewn_edge_mm
from planner.core.notions.band_proposals import BandProposal, propose_band
from planner.core.outline import Edge, Outline
from planner.core.spec import Cloth, ClothKey, EdgeRef, Option, PieceSpec, SeamSpec, StyleSpec
from planner.core.too_wide import measure_in_words
from planner.core.units import Display

#: The sides of a band in the order of its ring, its seam edge following as the fourth.
SIDES = ("join", "fold edge", "join back")
#: Openings that options give one and the same band may differ by this much (mm), as two sides of a seam may.
SAME_OPENING_MM = 3.0


@dataclass(frozen=True, slots=True)
class Opening:
    """What a band finishes, in one size: its length along the sewing lines in mm, and what it is called.

    `length_mm` is None where it cannot be measured; `why_not` then says why, and `waits_for` names a piece that has
    no outline in this size. `takes` such bands go round it. `unlike_mm` are the shortest and the longest where options
    give it lengths too unlike for one band.
    """

    name: str
    length_mm: float | None
    why_not: str = ""
    takes: int = 1
    interpolated: bool = False
    waits_for: str = ""
    unlike_mm: tuple[float, float] | None = None

    def why_not_in(self, display: Display) -> str:
        """`why_not` with its lengths in these units."""
        return unlike_in_words(self.unlike_mm, display) if self.unlike_mm else self.why_not


def unlike_in_words(unlike_mm: tuple[float, float], display: Display) -> str:
    """ "its opening is 500 mm with some options and 560 mm with others: make a band for each"."""
    shortest, longest = (measure_in_words(mm, display) for mm in unlike_mm)
    return f"its opening is {shortest} with some options and {longest} with others: make a band for each"


def with_bands(style: StyleSpec, cloths: Mapping[ClothKey, Cloth]) -> StyleSpec:
    """The style with every band piece cut to measure from each cloth that a colourway may cut it from.

    `outlines` of such a piece are those of the first of these cloths (of a cloth without stretch where there is none
    yet), so that whoever does not ask by cloth still finds the band. A size whose opening cannot be measured has no
    outline, even where one was typed. A style without bands is given back as it is.
    """
    if not any(piece.band for piece in style.pieces):
        return style
    return replace(
        style, pieces=tuple(_cut(piece, style, cloths) if piece.band else piece for piece in style.pieces)
    )


def _cut(piece: PieceSpec, style: StyleSpec, cloths: Mapping[ClothKey, Cloth]) -> PieceSpec:
    openings = openings_of(piece, style)
    names = edge_names(piece, style)
    drawn: dict[tuple[float, float], Outline] = {}

    def outlines(cloth: Cloth | None) -> dict[str, Outline]:
        made = {}
        for size, proposal in proposals(piece, style, cloth, openings=openings).items():
            measures = proposal.cut_length_mm, proposal.cut_width_mm
            made[size] = drawn.setdefault(measures, band_outline(*measures, names))
        return made

    by_cloth = {key: outlines(cloths[key]) for key in cloths_of_piece(piece, style) if key in cloths}
    return replace(
        piece,
        is_band=True,
        outlines=next(iter(by_cloth.values())) if by_cloth else outlines(None),
        outlines_by_cloth=by_cloth,
        interpolated=frozenset(size for size, opening in openings.items() if opening.interpolated),
    )


def cloths_of_piece(piece: PieceSpec, style: StyleSpec) -> tuple[ClothKey, ...]:
    """The cloths that some colourway cuts the piece from, each once, in the order of the colourways."""
    keys = (colourway.cloths.get(piece.role) for colourway in style.colourways.values())
    return tuple(dict.fromkeys(key for key in keys if key is not None))


def proposals(
    piece: PieceSpec,
    style: StyleSpec,
    cloth: Cloth | None,
    *,
    openings: Mapping[str, Opening] | None = None,
    display: Display = "metric",
) -> dict[str, BandProposal]:
    """The band in every size whose opening can be measured, from one cloth; without one, as if it did not stretch.

    Openings count to a tenth of a millimetre, as they are shown, so that the cut size follows from what is shown.
    """
    band = piece.band
    if band is None:
        raise ValueError(f"{piece.name} is no band cut to measure")
    join, fold, back, sewn = edge_names(piece, style)
    ends = piece.allowance_of(join) + piece.allowance_of(back)
    sides = piece.allowance_of(sewn) + piece.allowance_of(fold)
    found = {}
    for size, opening in (openings or openings_of(piece, style)).items():
        if opening.length_mm is not None:
            found[size] = propose_band(
                band,
                math.floor(opening.length_mm * 10 + 0.5) / 10,
                cloth.stretch_share if cloth else 0.0,
                end_allowances_mm=ends,
                side_allowances_mm=sides,
                takes=opening.takes,
                opening=opening.name,
                cloth=cloth.key.fabric if cloth else "a cloth not chosen yet",
                display=display,
            )
    return found


def band_outline(cut_length_mm: float, cut_width_mm: float, names: Sequence[str]) -> Outline:
    """A rectangle with its long side across the grain, where the cloth stretches most.

    `names` are those of the end, the side away from the seam, the other end and the seam edge, as
    :func:`edge_names` gives them.
    """
    if not (cut_length_mm > 0 and cut_width_mm > 0):
        raise ValueError("length and width must be greater than zero")
    points = ((0.0, 0.0), (cut_width_mm, 0.0), (cut_width_mm, cut_length_mm), (0.0, cut_length_mm))
    return Outline(points, tuple(Edge(name, i) for i, name in enumerate(names)))


def edge_names(piece: PieceSpec, style: StyleSpec) -> tuple[str, str, str, str]:
    """Names of the band's edges in the order of its ring, its seam edge last.

    A four-sided outline that was drawn for it before keeps its names, so that seams still find them. Without one,
    other names that seams know go to the ends first, then to the side away from the seam.
    """
    sewn = seam_edge(piece, style)
    for outline in piece.outlines.values():
        names = [edge.name for edge in outline.edges]
        if len(names) == 4 and sewn in names:
            at = names.index(sewn)
            after = [*names[at + 1 :], *names[:at]]
            return after[0], after[1], after[2], sewn
    named = [ref.edge for seam in style.seams for ref in seam.edges if ref.piece == piece.name]
    others = [name for name in dict.fromkeys(named) if name not in (*SIDES, sewn)]
    join, fold, back = SIDES
    if others:
        join = back = others[0]
    return join, others[1] if len(others) > 1 else fold, back, sewn


def seam_edge(piece: PieceSpec, style: StyleSpec) -> str:
    """The edge of a band that is sewn to its opening; called as the opening is while the seam does not name it."""
    seams = seams_of(piece, style)
    own = [ref.edge for seam in seams for ref in seam.side(2) if ref.piece == piece.name]
    theirs = [ref.edge for seam in seams for ref in seam.side(1) if ref.piece != piece.name]
    return next(iter([*own, *theirs]), "seam edge")


def seams_of(piece: PieceSpec, style: StyleSpec) -> tuple[SeamSpec, ...]:
    """The seams of the name that the band goes by, those of options that garments with it can have."""
    name = piece.band.seam if piece.band else ""
    same = [seam for seam in style.seams if seam.name == name]
    own = [seam for seam in same if any(ref.piece == piece.name for ref in seam.edges)]
    return tuple(own or same)


# --- openings ---------------------------------------------------------------------------------------------


def openings_of(piece: PieceSpec, style: StyleSpec) -> dict[str, Opening]:
    """The opening of a band in every size, however it is measured or why it cannot be.

    It is the first side of the band's seam: Σ takes × mean length of its edges along their sewing lines. Options
    that give one band openings of different lengths would need bands of different lengths, and are refused.
    """
    ways = list(_ways(piece, style))
    takes = next((ref.takes for _, ref in _own_refs(piece, style)), 1)
    return {size: _opening(piece, style, ways, size, takes) for size in style.sizes}


Way = tuple[tuple[PieceSpec, EdgeRef], ...]


def _opening(piece: PieceSpec, style: StyleSpec, ways: Sequence[Way], size: str, takes: int) -> Opening:
    seam = piece.band.seam if piece.band else ""
    if not ways:
        seams = seams_of(piece, style)
        why = (
            f"the seam “{seam}” has no first side in garments with it"
            if seams
            else f"there is no seam “{seam}”"
        )
        return Opening("opening", None, why, takes)
    names = dict.fromkeys(ref.edge for _, ref in ways[0])
    name = " and ".join(names)
    for there, ref in (pair for way in ways for pair in way):
        if there.band is not None:
            return Opening(
                name, None, f"its opening is on {there.name}, which is cut to measure itself", takes
            )
        outline = there.outlines.get(size)
        if outline is None:
            why = f"{there.name} has no outline in size {size}"
            return Opening(name, None, why, takes, waits_for=there.name)
        if not outline.edge_count(ref.edge):
            return Opening(name, None, f"{there.name} has no edge “{ref.edge}” in size {size}", takes)
    lengths = [_length_mm(way, size) for way in ways]
    interpolated = any(size in there.interpolated for way in ways for there, _ in way)
    if max(lengths) - min(lengths) > SAME_OPENING_MM:
        unlike = min(lengths), max(lengths)
        why = unlike_in_words(unlike, "metric")
        return Opening(name, None, why, takes, interpolated, unlike_mm=unlike)
    return Opening(name, lengths[0], "", takes, interpolated)


def _length_mm(way: Way, size: str) -> float:
    return sum(ref.takes * sewn_edge_mm(piece.outlines[size], ref.edge, piece)[0] for piece, ref in way)


def _own_refs(piece: PieceSpec, style: StyleSpec) -> Iterator[tuple[SeamSpec, EdgeRef]]:
    for seam in seams_of(piece, style):
        for ref in seam.side(2):
            if ref.piece == piece.name:
                yield seam, ref


def _ways(piece: PieceSpec, style: StyleSpec) -> Iterator[Way]:
    """Each different first side that garments with this band give its seam."""
    options: dict[str, list[Option | None]] = {}
    for there in style.pieces:
        options.setdefault(there.name, []).append(there.option)
    seen = set()
    for seam in seams_of(piece, style):
        used = [piece.option, seam.option]
        used += [option for ref in seam.side(1) for option in options.get(ref.piece, ())]
        details = dict.fromkeys(option[0] for option in used if option is not None)
        choices = [[(detail, name) for name in style.details.get(detail, ())] for detail in details]
        for chosen in product(*choices):
            if any(needed is not None and needed not in chosen for needed in (piece.option, seam.option)):
                continue
            if style.clashes_in(chosen):
                continue
            pieces = {there.name: there for there in style.pieces_for(chosen)}
            way = tuple((pieces[ref.piece], ref) for ref in seam.side(1) if ref.piece in pieces)
            key = tuple((there.name, there.option, ref) for there, ref in way)
            if way and key not in seen:
                seen.add(key)
                yield way
