"""Bands as pieces cut to measure: from the opening, the cloth's stretch and the wanted width to outlines.

A band is proposed at the ratio at which it lies flat where its opening turns (a neckline, an armhole), else at the
rule of thumb (a cuff, a hem), and never shorter than the cloth can be stretched from; see :mod:`bands` for the
formulas. The maker's own ratio is kept whatever is proposed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from planner.core.notions.along import sewn_edge_mm
from planner.core.notions.bands import (
    HEAD_GIRTH_MM,
    BandProblem,
    check_band,
    is_rib,
    least_ratio,
    thumb_ratio,
    widest_band_mm,
)
from planner.core.outline import Edge, Outline
from planner.core.spec import BandSpec, Cloth, ClothKey, EdgeRef, Option, PieceSpec, SeamSpec, StyleSpec

#: The sides of a band in the order of its ring, its seam edge following as the fourth.
SIDES = ("join", "fold edge", "join back")
#: Openings that options give one and the same band may differ by this much (mm), as two sides of a seam may.
SAME_OPENING_MM = 3.0
#: A band is no shorter than what the cloth stretches from, but for rounding.
_HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class Opening:
    """What a band finishes, in one size: its length along the sewing lines in mm, and what it is called.

    `length_mm` is None where it cannot be measured; `why_not` then says why, and `waits_for` names a piece that has
    no outline in this size. `takes` such bands go round it.
    """

    name: str
    length_mm: float | None
    why_not: str = ""
    takes: int = 1
    interpolated: bool = False
    waits_for: str = ""


@dataclass(frozen=True, slots=True)
class BandProposal:
    """A band for one opening and one cloth. Lengths in mm, ratios B/L.

    `rule_ratio` is the rule of thumb, that for rib where `is_rib`; `flat_ratio` the greatest at which it lies flat
    (1 for a straight opening, 0 where nothing would be left inside). `proposed_ratio` is ours, `ratio` what is cut:
    the maker's own where `is_own`. `band_mm` is the finished length of the ring; cut sizes are of one piece.
    `widest_mm` is the widest band that would lie flat in this cloth, None where the opening is straight.
    """

    opening_mm: float
    is_rib: bool
    rule_ratio: float
    flat_ratio: float
    proposed_ratio: float
    ratio: float
    is_own: bool
    band_mm: float
    cut_length_mm: float
    cut_width_mm: float
    widest_mm: float | None
    why: str
    problems: tuple[BandProblem, ...]


def propose_band(
    band: BandSpec,
    opening_mm: float,
    stretch: float,
    *,
    end_allowances_mm: float = 0.0,
    side_allowances_mm: float = 0.0,
    takes: int = 1,
    opening: str = "opening",
    cloth: str = "this cloth",
) -> BandProposal:
    """The band for an opening of this seam-line length in a cloth of this usable stretch (0.30 = 30 %).

    The proposed ratio is 1 − θ·w/L where the opening turns through θ, else the rule of thumb (rib 0.75, self-fabric
    0.85), but no less than 1/(1 + e). Cut length = B / `takes` + the allowances at both ends, cut width = 2·w (w where
    it is not folded) + those of both sides. Raises ValueError for lengths, a ratio or a stretch that are none.
    """
    if not (opening_mm > 0 and band.finished_width_mm > 0):
        raise ValueError("the opening and the band must be longer than zero")
    if stretch < 0 or band.turn_rad < 0 or (band.ratio is not None and not band.ratio > 0):
        raise ValueError("stretch and turn cannot be less than nothing, and a ratio must be more")
    flat = max(1.0 - band.turn_rad * band.finished_width_mm / opening_mm, 0.0)
    wanted = flat if band.turn_rad > 0 else thumb_ratio(stretch)
    proposed = max(wanted, least_ratio(stretch))
    ratio = proposed if band.ratio is None else band.ratio
    layers = 2.0 if band.folded else 1.0
    made = BandProposal(
        opening_mm=opening_mm,
        is_rib=is_rib(stretch),
        rule_ratio=thumb_ratio(stretch),
        flat_ratio=flat,
        proposed_ratio=proposed,
        ratio=ratio,
        is_own=band.ratio is not None,
        band_mm=ratio * opening_mm,
        cut_length_mm=ratio * opening_mm / takes + end_allowances_mm,
        cut_width_mm=layers * band.finished_width_mm + side_allowances_mm,
        widest_mm=widest_band_mm(opening_mm, stretch, band.turn_rad) if band.turn_rad > 0 else None,
        why="",
        problems=(),
    )
    why = _why(made, band, stretch, opening, cloth)
    return replace(made, why=why, problems=tuple(_problems(made, band, stretch, cloth)))


def _percent(share: float) -> str:
    return f"{share * 100:.0f}\N{NO-BREAK SPACE}%"


def _why(made: BandProposal, band: BandSpec, stretch: float, opening: str, cloth: str) -> str:
    size = f"{band.finished_width_mm:g} mm wide on a {made.opening_mm:.0f} mm {opening}"
    limited = made.proposed_ratio > (made.flat_ratio if band.turn_rad > 0 else made.rule_ratio) + _HAIR
    if band.turn_rad > 0 and not made.flat_ratio:
        found = f"{size} leaves nothing inside"
    elif band.turn_rad > 0:
        found = f"{size} {'would lie' if limited or made.is_own else 'lies'} flat at {made.flat_ratio:.2f}"
    else:
        kind = "rib" if made.is_rib else "self-fabric"
        found = f"a straight {opening} has the rule of thumb for {kind}, {made.rule_ratio:.2f}"
    if made.is_own:
        return f"your own ratio, {made.ratio:.2f}, is kept; {found}"
    if limited and not stretch:
        return f"{found}, but {cloth} has no stretch noted, so the band is as long as the opening"
    if limited:
        return f"{found}, but {cloth} gives only {_percent(stretch)}, so it is cut at {made.ratio:.2f}"
    return f"{found}; {cloth} takes it"


def _problems(made: BandProposal, band: BandSpec, stretch: float, cloth: str) -> Iterator[BandProblem]:
    if band.turn_rad > 0 and not made.flat_ratio:
        most = made.opening_mm / band.turn_rad
        text = f"A band {band.finished_width_mm:g} mm wide closes the opening: it must be narrower than {most:.0f} mm."
        yield BandProblem("closes", text)
    head = HEAD_GIRTH_MM if band.over_head else None
    found = check_band(
        made.opening_mm,
        made.band_mm,
        band.finished_width_mm,
        stretch,
        head_girth_mm=head,
        turn_rad=band.turn_rad,
    )
    for problem in found:
        text = problem.text.replace(" %", "\N{NO-BREAK SPACE}%")
        yield replace(problem, text=text + _what_to_do(problem, made, band, stretch, cloth))


def _what_to_do(problem: BandProblem, made: BandProposal, band: BandSpec, stretch: float, cloth: str) -> str:
    """What follows the problem: how far the cloth goes, and the widest band that lies flat."""
    if problem.kind == "overstretched":
        return f" Cut it at {made.proposed_ratio:.2f} or longer.{_widest_in_words(made)}"
    if problem.kind != "stands_up" or not band.turn_rad > 0 or not made.flat_ratio:
        return ""
    if made.flat_ratio < least_ratio(stretch) - _HAIR:
        needed = 1.0 / made.flat_ratio - 1.0
        text = f" To lie flat it must stretch {_percent(needed)}; {cloth} returns from {_percent(stretch)}."
        return text + _widest_in_words(made)
    widest = (1.0 - made.ratio) * made.opening_mm / band.turn_rad
    if not widest > 0:
        return f" Cut it at {made.flat_ratio:.2f}."
    return f" Cut it at {made.flat_ratio:.2f}, or no wider than {widest:.1f} mm."


def _widest_in_words(made: BandProposal) -> str:
    if made.widest_mm is None:
        return ""
    if not made.widest_mm > 0:
        return " No band of it would lie flat."
    return f" The widest band that would lie flat is {made.widest_mm:.1f} mm."


# --- bands as pieces --------------------------------------------------------------------------------------


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
) -> dict[str, BandProposal]:
    """The band in every size whose opening can be measured, from one cloth; without one, as if it did not stretch."""
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
                opening.length_mm,
                cloth.stretch_share if cloth else 0.0,
                end_allowances_mm=ends,
                side_allowances_mm=sides,
                takes=opening.takes,
                opening=opening.name,
                cloth=cloth.key.fabric if cloth else "a cloth not chosen yet",
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
        why = (
            f"its opening is {min(lengths):.0f} mm with some options and {max(lengths):.0f} mm with others: "
            "make a band for each"
        )
        return Opening(name, None, why, takes, interpolated)
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
