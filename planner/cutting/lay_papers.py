"""A lay as its papers show it: the marker piece by piece, and its plies with their rolls and bundles."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from planner.core.cloth import shrinks_first
from planner.core.lays.marks import NO_MARKS, placed_marks
from planner.core.lays.matched import stripes_of
from planner.core.lays.model import LAYERS, LENGTHS, ItemToLay, Placement, PlannedLay, Plies
from planner.core.lays.numbering import in_order
from planner.core.lays.signs import garment_sign, garments_of, signs_of, twins_of
from planner.core.lays.together import blocks_of
from planner.core.listed import listed
from planner.core.pattern_files.model import Marks
from planner.core.planning import NestedLay, Plan, PlannedBundle
from planner.core.ply_list import PlyRun, Rolls, plies_of, ply_runs, runs_by_bundle
from planner.core.size_order import in_range_order
from planner.core.spec import ClothKey, Garment, Options, StyleSpec, Workshop
from planner.core.told_lots import Told
from planner.cutting.cut_so_far import CutSoFar, told_cut
from planner.cutting.mixed_lots import apart_in
from planner.cutting.reckoning import lay_reckoning, marker_places
from planner.cutting.wording import options_in_words, plies_in_words
from planner.papers.data import DrawnPiece, GarmentCut, LayPaper, PlyRow, RollPart


def lay_papers(
    plan: Plan,
    shop: Workshop,
    rolls: Rolls | None = None,
    cut: Mapping[int, CutSoFar] | None = None,
    told: Told | None = None,
) -> tuple[LayPaper, ...]:
    """All lays in the order of their numbers; sizes made from their neighbours are marked, and what is cut already.

    `cut` says by the number of a lay what is cut of it, `told` from which shade lots.
    """
    runs = runs_of(plan, rolls, told)
    of_bundles = runs_by_bundle(runs)
    bundles: dict[int, list[str]] = defaultdict(list)
    for bundle in plan.bundles:
        for number in dict.fromkeys(bundle.lays):
            bundles[number].append(bundle.number)
    places = {
        lay.number: of_cloth
        for planned in plan.cloths
        for of_cloth in [marker_places(planned.lays, planned.need, planned.cloth)]
        for lay in planned.lays
    }
    marks = KnownMarks()
    papers = (
        replace(
            lay_paper(
                lay,
                runs.get(lay.number, ()),
                shop,
                bundles[lay.number],
                lay_reckoning(lay, places[lay.number]),
                marks,
            ),
            apart=apart_in(lay.number, runs, of_bundles),
        )
        for lay in plan.lays
    )
    return told_cut(papers, cut or {})


def runs_of(
    plan: Plan, rolls: Rolls | None = None, told: Told | None = None
) -> dict[int, tuple[PlyRun, ...]]:
    """The plies of all lays with their rolls, shade lots and bundles."""
    return ply_runs([lay.planned for lay in plan.lays], rolls or {}, plan.bundles, told)


class KnownMarks:
    """The marks of pieces by their placements: what many lays share is reckoned once."""

    def __init__(self) -> None:
        self._found: dict[tuple[int, Options, ClothKey], tuple[Placement, Marks]] = {}

    def of(self, placement: Placement, plies: Plies, styles: Mapping[str, StyleSpec]) -> Marks:
        """As :func:`marks_of`."""
        key = (id(placement), plies.slots[placement.garment_no - 1].options, plies.cloth)
        if key not in self._found:
            # As long as the placement is held here no other one has its id.
            self._found[key] = (placement, marks_of(placement, plies, styles))
        return self._found[key][1]


def lay_paper(
    lay: NestedLay,
    runs: Sequence[PlyRun],
    shop: Workshop,
    bundles: Sequence[str] = (),
    reckoning: str = "",
    marks: KnownMarks | None = None,
) -> LayPaper:
    """One lay with its plies; `marks` are those known from other lays."""
    marks = marks or KnownMarks()
    planned, marker = lay.planned, lay.marker
    cloth = shop.cloths[planned.plies[0].cloth]
    held_by_plies = dict.fromkeys(held for plies in planned.plies for held in plies.garments)
    return LayPaper(
        number=lay.number,
        fabric=planned.fabric,
        plies=tuple((key.colour, planned.spreads_of(key)) for key in planned.cloths),
        mode=planned.mode,
        one_way=planned.job.one_way,
        lay_width_mm=planned.lay_width_mm,
        marker_length_mm=marker.length_mm,
        end_allowance_mm=planned.end_allowance_mm,
        efficiency=marker.efficiency,
        nested=True,
        cloth_m=lay.cloth_mm / 1000,
        garments=tuple(f"{held.per_marker} × {_in_words(held.garment, lay, shop)}" for held in held_by_plies),
        size_counts=_size_counts(planned, shop),
        pieces=tuple(
            _drawn(number, placement, runs, marks.of(placement, planned.plies[0], shop.styles))
            for number, placement in enumerate(in_order(marker.placements), 1)
        ),
        bundles=tuple(bundles),
        reckoning=reckoning,
        ply_rows=tuple(_row(run, lay, shop) for run in runs),
        is_tube=cloth.is_tube,
        side_by_side=side_by_side(planned.job.items),
        stripes=stripes_of(planned.job, cloth),
        shrinks=shrinks_first(cloth),
    )


def _size_counts(planned: PlannedLay, shop: Workshop) -> tuple[tuple[str, int], ...]:
    """The garments of the marker by size, in the order of their styles' sizes."""
    slots = planned.plies[0].slots
    ranges = (shop.styles[style].sizes for style in dict.fromkeys(slot.style for slot in slots))
    return in_range_order(Counter(slot.size for slot in slots).items(), ranges)


def side_by_side(items: Sequence[ItemToLay]) -> tuple[str, ...]:
    """Which pieces of a garment lie beside each other in it, each set once; of a pair cut together its two halves."""
    names = (tuple(dict.fromkeys(items[i].piece for i in block)) for block in blocks_of(items))
    return tuple(
        listed(block) if len(block) > 1 else f"both halves of {block[0]}" for block in dict.fromkeys(names)
    )


#: Of each lay of paired layers, by its number, the garments that share outlines (see `signs.twins_of`).
Twins = Mapping[int, Sequence[tuple[int, int]]]


def twins_in(plan: Plan) -> Twins:
    """The garments that share outlines in each lay of a plan."""
    return {lay.number: twins_of(lay.planned.job.items) for lay in plan.lays}


def plies_of_bundle(
    bundle: PlannedBundle, runs: Mapping[int, Sequence[PlyRun]], twins: Twins
) -> tuple[tuple[str, int, str], ...]:
    """From which plies of which lays it has each of its cloths, its main lay's first; see `BundleTicket.plies`."""
    by_cloth: dict[ClothKey, dict[int, list[PlyRun]]] = defaultdict(dict)
    for lay, of_lay in sorted(runs.items(), key=lambda one: (one[0] != bundle.lay, one[0])):
        for run in of_lay:
            if bundle.number in run.bundles:
                by_cloth[run.cloth].setdefault(lay, []).append(run)
    fabrics = Counter(cloth.fabric for cloth in by_cloth)
    found = []
    for cloth, own in by_cloth.items():
        name = cloth.fabric if fabrics[cloth.fabric] == 1 else f"{cloth.fabric}, {cloth.colour}"
        found += [
            (name if len(by_cloth) > 1 else "", lay, _plies_told(bundle.number, plies, twins.get(lay, ())))
            for lay, plies in own.items()
        ]
    return tuple(found)


def _plies_told(bundle: str, runs: Sequence[PlyRun], twins: Sequence[tuple[int, int]]) -> str:
    """ "plies 1 to 4"; where it shares outlines with another bundle "plies 1 to 2 (of pieces ab the upper), plies 3 to
    4"."""
    told = []
    for shared, together in groupby(runs, key=lambda run: _shared(bundle, run, twins)):
        (stretches,) = plies_of(bundle, {0: tuple(together)}).values()
        plies, several = plies_in_words(stretches), sum(last - first for first, last in stretches) > 1
        told.append(f"{plies} ({shared}{' of each two' if several else ''})" if shared else plies)
    return ", ".join(told)


def _shared(bundle: str, run: PlyRun, twins: Sequence[tuple[int, int]]) -> str:
    """Which ply of the outlines it shares with another one is the bundle's: "of pieces ab the upper"; "" for none."""
    words = []
    for side, own, other in (("upper", 0, 1), ("lower", 1, 0)):
        mine = [
            "".join(map(garment_sign, two))
            for two in twins
            if run.bundles[two[own] - 1] == bundle != run.bundles[two[other] - 1]
        ]
        words += [f"of pieces {listed(mine)} the {side}"] if mine else []
    return ", ".join(words)


def _drawn(number: int, placement: Placement, runs: Sequence[PlyRun], marks: Marks) -> DrawnPiece:
    """A piece where it lies; in a lay of paired layers its outline may serve two garments."""
    bundles = dict.fromkeys(run.bundles[one - 1] for run in runs for one in garments_of(placement))
    return DrawnPiece(
        number=number,
        name=placement.piece,
        style=placement.style,
        size=placement.size,
        mirrored=placement.mirrored,
        rotation_deg=placement.rotation_deg,
        outline=placement.outline,
        garment=signs_of(placement),
        bundles=tuple(bundle for bundle in bundles if bundle),
        marks=marks,
    )


def marks_of(placement: Placement, plies: Plies, styles: Mapping[str, StyleSpec]) -> Marks:
    """The marks of a piece in lay coordinates (mm), where it has any and lies there as its style has it.

    `plies` say which garment each place of the marker is for, `styles` are those it was nested from, by number.
    """
    garment = plies.slots[placement.garment_no - 1]
    for piece in styles[placement.style].pieces_for(garment.options):
        marks = piece.marks.get(placement.size, NO_MARKS)
        if piece.name == placement.piece and marks != NO_MARKS:
            outline = piece.outline(placement.size, plies.cloth)
            found = NO_MARKS if outline is None else placed_marks(outline, marks, placement)
            if found != NO_MARKS:
                return found
    return NO_MARKS


def _row(run: PlyRun, lay: NestedLay, shop: Workshop) -> PlyRow:
    """Plies that are alike, with what is cut from them."""
    signs: dict[tuple[Garment, str], list[str]] = defaultdict(list)
    for number, (garment, bundle) in enumerate(zip(run.garments, run.bundles, strict=True), 1):
        signs[garment, bundle].append(garment_sign(number))
    part = None
    if run.roll is not None:
        lengths = (run.last - run.first + 1) // LAYERS[lay.planned.mode] * LENGTHS[lay.planned.mode]
        each_mm = lay.marker.length_mm + 2 * lay.planned.end_allowance_mm
        part = RollPart(run.roll.roll, run.roll.shade_lot, lengths, lengths * each_mm)
    cuts = tuple(
        GarmentCut(" ".join(marked), garment.style, _size(garment, lay, shop), _choice(garment), bundle)
        for (garment, bundle), marked in signs.items()
    )
    swatch = shop.cloths[run.cloth].swatch
    return PlyRow(
        run.first, run.last, run.cloth.colour, part, cuts, swatch, is_cut=run.is_cut, shade_lot=run.lot
    )


def _in_words(garment: Garment, lay: NestedLay, shop: Workshop) -> str:
    """ "110 M, ink (neck: rib band)"."""
    return f"{garment.style} {_size(garment, lay, shop)}, {_choice(garment)}"


def _size(garment: Garment, lay: NestedLay, shop: Workshop) -> str:
    """The size; where its pieces were made from the sizes beside it that is said."""
    return f"{garment.size} interpolated" if _is_interpolated(garment, lay, shop) else garment.size


def _choice(garment: Garment) -> str:
    """ "ink (neck: rib band)"."""
    options = f" ({options_in_words(garment.options)})" if garment.options else ""
    return f"{garment.colourway}{options}"


def _is_interpolated(garment: Garment, lay: NestedLay, shop: Workshop) -> bool:
    """Whether the lay holds a piece of this garment whose outline was made from the sizes beside it."""
    style = shop.styles[garment.style]
    laid = {p.piece for p in lay.marker.placements if (p.style, p.size) == (garment.style, garment.size)}
    return any(p.name in laid and garment.size in p.interpolated for p in style.pieces_for(garment.options))
