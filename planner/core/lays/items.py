"""The outlines that are laid for the garments of a marker, and which garments can be cut in which mode.

Open cloth: every piece is drawn, the second half of a pair mirrored. Face to face, folded or as a tube there are two
layers with their faces together (or apart), so that each outline gives one piece and its mirror image: of a pair half
are drawn; two garments share the outline of a single piece, which must be its own mirror image.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from shapely.affinity import scale
from shapely.geometry import Polygon

from planner.core.cloth import as_cut, lay_width_mm, repeats_mm
from planner.core.lays.blocks import BlockTooWide
from planner.core.lays.match_points import match_points, matched_seams
from planner.core.lays.model import LAYERS, ItemToLay, MarkerJob
from planner.core.lays.rows import first_marker
from planner.core.lays.together import CannotMatch, has_rules
from planner.core.outline import Outline
from planner.core.spec import Cloth, ClothKey, Garment, Mode, PieceSpec, Workshop
from planner.core.too_wide import told_apart

#: A piece is its own mirror image where the line of the one runs nowhere farther than this from the other (mm).
SYMMETRY_MM = 0.5

#: The ways of laying in the words of the table.
MODE_WORDS: Mapping[Mode, str] = {"open": "open", "face_to_face": "face to face", "folded": "folded"}


@dataclass(frozen=True, slots=True)
class LayProblem:
    """Why garments cannot be laid so, in plain words; `garment` where it is about one."""

    garment: Garment | None
    text: str


@dataclass(frozen=True, slots=True)
class NoModeAllowed(LayProblem):
    """The cloth may be laid in no way at all."""

    cloth: ClothKey


@dataclass(frozen=True, slots=True)
class TooWideAsLaid(LayProblem):
    """A piece does not fit across the cloth as it lies; a block of pieces where `piece` names several."""

    piece: str
    width_mm: float
    lay_width_mm: float
    mode: Mode
    is_block: bool = False


@dataclass(frozen=True, slots=True)
class NotItsOwnMirrorImage(LayProblem):
    """A single piece whose mirror image is another piece, in a mode that cuts both."""

    piece: str


@dataclass(frozen=True, slots=True)
class NeedsOneLayer(LayProblem):
    """A pair that must lie beside other pieces of its garment, in a mode that cuts its halves from two layers."""

    piece: str


@dataclass(frozen=True, slots=True)
class OddNumber(LayProblem):
    """`count` of a garment that can only be cut in twos."""

    count: int


@dataclass(frozen=True, slots=True)
class StripesDisagree(LayProblem):
    """Seams whose stripes cannot all run on."""


def lay_width_in(cloth: Cloth, mode: Mode) -> float:
    """How wide the cloth lies in a mode: half its usable width where it is folded or a tube (mm)."""
    return lay_width_mm(cloth) / 2 if mode == "folded" else lay_width_mm(cloth)


def width_taken_mm(lay_width_mm: float, mode: Mode) -> float:
    """How wide a roll must lie, slit or spread out flat, for a lay of this width: twice that where it is folded, or a
    tube, whose width is all the way round (mm)."""
    return 2 * lay_width_mm if mode == "folded" else lay_width_mm


def pieces_on(garment: Garment, cloth: ClothKey, shop: Workshop) -> tuple[PieceSpec, ...]:
    """The pieces of a garment that are cut from this cloth."""
    style = shop.styles[garment.style]
    cloths = style.colourways[garment.colourway].cloths
    return tuple(p for p in style.pieces_for(garment.options) if cloths[p.role] == cloth)


def job_for(slots: Sequence[Garment], mode: Mode, cloth: Cloth, shop: Workshop) -> MarkerJob:
    """The question what the shortest marker of these garments is, in this mode. See :func:`items_for`."""
    along, across = repeats_mm(cloth)
    items = items_for(slots, mode, cloth, shop)
    return MarkerJob(lay_width_in(cloth, mode), cloth.one_way, shop.piece_gap_mm, items, along, across)


def items_for(slots: Sequence[Garment], mode: Mode, cloth: Cloth, shop: Workshop) -> tuple[ItemToLay, ...]:
    """The outlines to lay for the garments of a marker, numbered from 1 in the order of the slots.

    In paired modes, garments that must come in twos are paired off with garments cut alike from this cloth (same style,
    size and pieces), equal garments first. The first of a pair lies in the upper layer, its twin in the lower. Raises
    ValueError for an odd number left over and for a piece that cannot be cut so.
    """
    if LAYERS[mode] == 1:
        return tuple(i for no, g in enumerate(slots, 1) for i in _open_items(g, no, cloth, shop))
    twins = _twins(slots, mode, cloth, shop)
    items: list[ItemToLay] = []
    for no, garment in enumerate(slots, 1):
        items += _paired_items(garment, no, twins.get(no, 0), cloth, shop)
    return tuple(items)


def counts_step(garment: Garment, cloth: Cloth, mode: Mode, shop: Workshop) -> int | None:
    """1 where any number of such garments can be cut in this mode, 2 where only twos, None where none at all.

    It is not asked whether the cloth allows the mode; see :func:`modes_for`.
    """
    return None if misfits(garment, cloth, mode, shop) else _step(garment, cloth, mode, shop)


def modes_for(garment: Garment, cloth: Cloth, shop: Workshop) -> dict[Mode, int]:
    """The modes this cloth allows in which the garment can be cut, with their steps; empty where there is none."""
    steps = {mode: counts_step(garment, cloth, mode, shop) for mode in cloth.modes}
    return {mode: step for mode, step in steps.items() if step is not None}


def why_not(garment: Garment, quantity: int, cloth: Cloth, shop: Workshop) -> tuple[LayProblem, ...]:
    """Why so many garments cannot be cut from this cloth in any way it allows; () where they can.

    An odd number is named only where every mode that cuts the garment asks for twos.
    """
    if not cloth.modes:
        return (
            NoModeAllowed(garment, f"{_named(cloth)} may be laid in no way at all: allow one", cloth.key),
        )
    steps = modes_for(garment, cloth, shop)
    if not steps:
        return tuple(p for mode in cloth.modes for p in misfits(garment, cloth, mode, shop))
    if all(quantity % step for step in steps.values()):
        return (_odd(garment, quantity, next(iter(steps)), cloth),)
    return ()


def misfits(garment: Garment, cloth: Cloth, mode: Mode, shop: Workshop) -> tuple[LayProblem, ...]:
    """Why this garment cannot be cut in this mode, in whatever number; () where it can. Each piece is named once."""
    pieces = pieces_on(garment, cloth.key, shop)
    if LAYERS[mode] == 2:
        wrong = [*_not_cut_from_two_layers(garment, pieces, cloth)]
        if wrong:
            return tuple(wrong)
    step = _step(garment, cloth, mode, shop)
    job = job_for([garment] * step, mode, cloth, shop)
    wide: dict[str, TooWideAsLaid] = {}
    for item in job.items:
        if item.outline.width_mm > job.lay_width_mm + 1e-6:
            wide.setdefault(item.piece, _too_wide(garment, item, cloth, mode))
    if wide:
        return tuple(wide.values())
    if not has_rules(job):
        return ()
    try:
        first_marker(job)
    except CannotMatch as wrong_seams:
        return (StripesDisagree(garment, f"style {garment.style}: {wrong_seams}"),)
    except BlockTooWide as block:
        text = f"style {garment.style}: {block}"
        return (
            TooWideAsLaid(
                garment, text, block.pieces, block.width_mm, block.lay_width_mm, mode, is_block=True
            ),
        )
    return ()


def is_own_mirror_image(outline: Outline, *, may_turn: bool = False) -> bool:
    """Whether the mirror image across the grain is the same piece, to half a millimetre.

    A piece that is symmetrical end to end comes out turned end for end, which will do where it `may_turn`.
    """
    shape = outline.polygon
    if _same_line(shape, scale(shape, xfact=1.0, yfact=-1.0, origin="center")):
        return True
    return may_turn and _same_line(shape, scale(shape, xfact=-1.0, yfact=1.0, origin="center"))


def _same_line(one: Polygon, other: Polygon) -> bool:
    # The area first, for it is quick and tells nearly all apart.
    apart = abs(one.symmetric_difference(other).area)
    if apart > 2 * SYMMETRY_MM * one.length:
        return False
    return float(one.boundary.hausdorff_distance(other.boundary)) <= SYMMETRY_MM


def _open_items(garment: Garment, no: int, cloth: Cloth, shop: Workshop) -> Iterator[ItemToLay]:
    for piece in pieces_on(garment, cloth.key, shop):
        straight = piece.count - piece.count // 2 if piece.pair else piece.count
        for n in range(piece.count):
            yield _item(garment, no, piece, cloth, shop, mirrored=n >= straight)


def _paired_items(garment: Garment, no: int, twin: int, cloth: Cloth, shop: Workshop) -> Iterator[ItemToLay]:
    """Half of each piece's count; an odd one is shared with the twin and drawn for the first of the two."""
    for piece in pieces_on(garment, cloth.key, shop):
        for _ in range(piece.count // 2):
            yield _item(garment, no, piece, cloth, shop)
        if piece.count % 2 and twin > no:
            yield _item(garment, no, piece, cloth, shop, twin_no=twin)


def _item(
    garment: Garment,
    no: int,
    piece: PieceSpec,
    cloth: Cloth,
    shop: Workshop,
    *,
    mirrored: bool = False,
    twin_no: int = 0,
) -> ItemToLay:
    outline = as_cut(piece.cut_outline(garment.size, cloth.key), cloth)
    outline = outline.mirrored() if mirrored else outline
    return ItemToLay(
        style=garment.style,
        piece=piece.name,
        size=garment.size,
        garment_no=no,
        mirrored=mirrored,
        may_turn=piece.may_turn,
        outline=outline,
        twin_no=twin_no,
        beside=piece.beside_on(shades=cloth.shades),
        matches=match_points(piece.name, outline, matched_seams(garment, cloth, shop)),
    )


def _step(garment: Garment, cloth: Cloth, mode: Mode, shop: Workshop) -> int:
    odd = any(piece.count % 2 for piece in pieces_on(garment, cloth.key, shop))
    return 2 if odd and LAYERS[mode] == 2 else 1


def _alike(
    slots: Sequence[Garment], mode: Mode, cloth: Cloth, shop: Workshop
) -> dict[tuple[object, ...], list[int]]:
    """The numbers of garments that come in twos, by what makes two of them alike on this cloth."""
    by_garment: dict[Garment, list[int]] = {}
    for no, garment in enumerate(slots, 1):
        by_garment.setdefault(garment, []).append(no)
    alike: dict[tuple[object, ...], list[int]] = {}
    for garment, numbers in by_garment.items():
        if _step(garment, cloth, mode, shop) == 2:
            pieces = tuple((p.name, p.option) for p in pieces_on(garment, cloth.key, shop))
            alike.setdefault((garment.style, garment.size, pieces), []).extend(numbers)
    return alike


def _twins(slots: Sequence[Garment], mode: Mode, cloth: Cloth, shop: Workshop) -> dict[int, int]:
    """The other of its two for each garment that comes in twos."""
    twins: dict[int, int] = {}
    for numbers in _alike(slots, mode, cloth, shop).values():
        if len(numbers) % 2:
            raise ValueError(_odd(slots[numbers[-1] - 1], len(numbers), mode, cloth).text)
        # Equal garments stand together, so that they are each other's twins before others are.
        for one, two in zip(numbers[::2], numbers[1::2], strict=True):
            twins[one], twins[two] = two, one
    return twins


def _not_cut_from_two_layers(
    garment: Garment, pieces: Sequence[PieceSpec], cloth: Cloth
) -> Iterator[LayProblem]:
    for piece in pieces:
        outline = as_cut(piece.cut_outline(garment.size, cloth.key), cloth)
        may_turn = piece.may_turn and not cloth.one_way
        single = not piece.pair or piece.count % 2
        if single and not is_own_mirror_image(outline, may_turn=may_turn):
            text = (
                f"{piece.name} of style {garment.style} in size {garment.size} is not the same to left and right, "
                f"so it can only be cut from {_named(cloth)} laid open"
            )
            yield NotItsOwnMirrorImage(garment, text, piece.name)
        word = piece.beside_on(shades=cloth.shades)
        beside = [other for other in pieces if word and other.beside_on(shades=cloth.shades) == word]
        if piece.count > 1 and len(beside) > 1:
            text = (
                f"{piece.name} of style {garment.style} lies beside other pieces of its garment, so it can only be "
                f"cut from {_named(cloth)} laid open"
            )
            yield NeedsOneLayer(garment, text, piece.name)


def _too_wide(garment: Garment, item: ItemToLay, cloth: Cloth, mode: Mode) -> TooWideAsLaid:
    across, width = item.outline.width_mm, lay_width_in(cloth, mode)
    (wide,), only = told_apart([across], width, "metric")
    lies = "lies folded, so only" if mode == "folded" else "lies only"
    text = (
        f"{item.piece} of style {garment.style} in size {garment.size} is {wide} wide, "
        f"but {_named(cloth)} {lies} {only} wide"
    )
    return TooWideAsLaid(garment, text, item.piece, across, width, mode)


def _odd(garment: Garment, count: int, mode: Mode, cloth: Cloth) -> OddNumber:
    lies = "as a tube" if cloth.is_tube and mode == "folded" else MODE_WORDS[mode]
    one = count == 1
    text = (
        f"{count} of style {garment.style} in size {garment.size} {'is' if one else 'are'} wanted, but {_named(cloth)} "
        f"laid {lies} is cut in two layers, which gives them in twos: make one more, or allow it to lie open"
    )
    return OddNumber(garment, text, count)


def _named(cloth: Cloth) -> str:
    return f"{cloth.key.fabric} {cloth.key.colour}".strip()
