"""What keeps a demand from being planned, said before anything is reckoned."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from planner.core.cloth import bought_width_mm, cut_factors, lay_width_mm
from planner.core.notions.along import SeamError, operation_of, seam_length_mm, seam_of, sewn_seams
from planner.core.notions.band_pieces import Opening, openings_of
from planner.core.notions.thread import STITCH_TYPES
from planner.core.outline import Outline
from planner.core.spec import Cloth, Demand, Garment, OperationSpec, Option, PieceSpec, StyleSpec, Workshop
from planner.core.too_wide import TooWide, told_apart
from planner.core.units import Display

#: A piece as wide as the cloth fits; more than this over it does not (mm).
WIDTH_TOLERANCE_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Missing:
    """Why a garment cannot be planned: which piece, cloth or notion lacks what.

    `too_wide` where it is a piece wider than its cloth, for :func:`too_wide.told_once` to tell all its sizes at once;
    `uncut` where it is a band that cannot be cut to measure.
    """

    garment: Garment
    text: str
    too_wide: TooWide | None = None
    uncut: UncutBand | None = None

    def told_in(self, display: Display) -> str:
        """The text with its lengths in these units; a piece that is too wide tells its own."""
        return self.uncut.told_in(display) if self.uncut else self.text


@dataclass(frozen=True, slots=True)
class UncutBand:
    """A band that cannot be cut to measure in a size, for what its opening says."""

    piece: str
    size: str
    opening: Opening

    def told_in(self, display: Display) -> str:
        """Why, with lengths in these units."""
        why = self.opening.why_not_in(display) or "nobody measured its opening yet"
        return f"{self.piece} cannot be cut to measure in size {self.size}: {why}"


#: What a garment lacks: in words, as a piece that is too wide, or as a band that cannot be cut.
_Gap = str | TooWide | UncutBand


def find_missing(demand: Sequence[Demand], shop: Workshop) -> tuple[Missing, ...]:
    """Everything that keeps the demand from being planned, said once a garment; empty where all is there."""
    found: dict[Missing, None] = {}
    for line in demand:
        if line.quantity <= 0:
            found[Missing(line.garment, "the quantity must be more than nothing")] = None
        for gap in _gaps(line.garment, shop):
            if isinstance(gap, TooWide):
                found[Missing(line.garment, _too_wide_in_words(gap), gap)] = None
            elif isinstance(gap, UncutBand):
                found[Missing(line.garment, gap.told_in("metric"), uncut=gap)] = None
            else:
                found[Missing(line.garment, gap)] = None
    return tuple(found)


def _too_wide_in_words(wide: TooWide) -> str:
    (across,), lies = told_apart([wide.across_mm], wide.lies_mm, "metric")
    return f"{wide.piece} in size {wide.size} is {across} wide, but {wide.fabric}, {wide.colour} lies only {lies} wide"


def _gaps(garment: Garment, shop: Workshop) -> Iterator[_Gap]:
    style = shop.styles.get(garment.style)
    if style is None:
        yield f"there is no style {garment.style}"
        return
    wrong_words = [*_wrong_options(garment, style)]
    if garment.size not in style.sizes:
        wrong_words.append(f"style {style.number} has no size {garment.size}")
    if garment.colourway not in style.colourways:
        wrong_words.append(f"style {style.number} has no colourway {garment.colourway}")
    yield from wrong_words
    if wrong_words:
        return  # what the pieces lack can only be told for a garment that exists
    yield from _piece_gaps(garment, style, shop)
    yield from _notion_gaps(garment, style, shop)


def _wrong_options(garment: Garment, style: StyleSpec) -> Iterator[str]:
    chosen: dict[str, int] = {}
    for detail, option in garment.options:
        chosen[detail] = chosen.get(detail, 0) + 1
        if detail not in style.details:
            yield f"style {style.number} has no detail {detail}"
        elif option not in style.details[detail]:
            yield f"{detail} of style {style.number} has no option {option}"
    for detail, options in style.details.items():
        if options and chosen.get(detail, 0) != 1:
            yield f"choose one {detail} for style {style.number}: {', '.join(options)}"
    for one, other in style.clashes_in(garment.options):
        yield f"{clash_in_words(one, other)} in style {style.number}"


def clash_in_words(one: Option, other: Option) -> str:
    """The neck rib band and the sleeve cap cannot be had together."""
    return f"the {one[0]} {one[1]} and the {other[0]} {other[1]} cannot be had together"


def _piece_gaps(garment: Garment, style: StyleSpec, shop: Workshop) -> Iterator[_Gap]:
    pieces = style.pieces_for(garment.options)
    if not pieces:
        yield f"style {style.number} has no pieces yet"
    for piece in pieces:
        if piece.pair and piece.count % 2:
            yield f"{piece.name} is cut as a mirrored pair, but a garment takes {piece.count} of it"
        key = style.colourways[garment.colourway].cloths.get(piece.role)
        outline = piece.outlines.get(garment.size) if key is None else piece.outline(garment.size, key)
        if outline is None:
            yield _no_outline(piece, style, garment.size)
        if key is None:
            yield f"colourway {garment.colourway} has no cloth for {piece.role} ({piece.name})"
        elif key not in shop.cloths:
            yield f"there is no cloth {key.fabric} in {key.colour}"
        else:
            yield from _cloth_gaps(shop.cloths[key], piece, garment, outline)


def _no_outline(piece: PieceSpec, style: StyleSpec, size: str) -> _Gap:
    if piece.band is None:
        return f"{piece.name} has no outline in size {size}"
    return UncutBand(piece.name, size, openings_of(piece, style)[size])


def _cloth_gaps(cloth: Cloth, piece: PieceSpec, garment: Garment, outline: Outline | None) -> Iterator[_Gap]:
    name = f"{cloth.key.fabric}, {cloth.key.colour}"
    width = lay_width_mm(cloth)
    if not width > 0:
        yield f"{name} has no usable width"
        return
    if cloth.sold_by == "kg" and not (cloth.weight_gsm > 0 and bought_width_mm(cloth) > 0):
        yield f"{name} is sold by weight, but its own weight is not known"
    if outline is None:
        return
    # Turning a piece end for end leaves its width as it is, so one look settles every allowed turn.
    across = outline.width_mm * cut_factors(cloth)[1]
    if across > width + WIDTH_TOLERANCE_MM:
        key = cloth.key
        yield TooWide(garment.style, piece.name, garment.size, key.fabric, key.colour, across, width)


def _notion_gaps(garment: Garment, style: StyleSpec, shop: Workshop) -> Iterator[str]:
    colourway = style.colourways[garment.colourway]
    threads = [colourway.thread, *colourway.threads.values()]
    used = [use.notion for use in style.notions_for(garment.options)]
    for key in dict.fromkeys(key for key in (*threads, *used) if key):
        if key not in shop.notions:
            yield f"there is no notion {key.notion}" + (f" in {key.colour}" if key.colour else "")
    operations = style.operations_for(garment.options)
    for operation in operations:
        if operation.stitch_type and operation.stitch_type not in STITCH_TYPES:
            yield f"“{operation.name}” names stitch type {operation.stitch_type}, which is not in the table"
    of_seams = garment.options, garment.size
    yield from style.once("seam gaps", of_seams, lambda: tuple(_seam_gaps(garment, style, operations)))


def _seam_gaps(garment: Garment, style: StyleSpec, operations: Sequence[OperationSpec]) -> Iterator[str]:
    """What no stock and no machine can help, so that it need not be asked again of the same style."""
    for seam in sewn_seams(style, garment.options):
        try:
            operation_of(seam, operations)
            seam_length_mm(seam, style, garment.options, garment.size)
        except SeamError as problem:
            yield str(problem)
    for use in style.notions_for(garment.options):
        try:
            if use.basis == "seam":
                seam_of(use, style, garment.options)
        except SeamError as problem:
            yield str(problem)
