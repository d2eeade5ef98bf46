"""What a lay on cloth with a pattern keeps to: how often the pattern comes again, and over which seams it runs on; and
what of this, or of cloth that shades, a style says nothing of."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from planner.core.cloth import repeats_mm
from planner.core.lays.items import pieces_on
from planner.core.lays.kinds import cloths_of_garment
from planner.core.lays.model import MarkerJob
from planner.core.lays.signs import garments_of
from planner.core.lays.together import ACROSS, ALONG, matched_across, matched_along
from planner.core.spec import Cloth, Demand, Garment, PieceSpec, Workshop

#: Repeats that differ by less are the same (mm): they are told to the millimetre.
SAME_MM = 0.05


@dataclass(frozen=True)
class Stripes:
    """The pattern comes again every `along_mm` along the cloth and `across_mm` across it, as it lies; 0 for none.

    `matched` are the seams it runs on over, each with its pieces. `is_washed`: the cloth is washed first, so the
    pattern comes again sooner than in the cloth as bought. `now` is how often it comes again in the cloth by now, along
    and across, where that differs from what the lay was made for: (0, 0) where the cloth has none any more.
    """

    along_mm: float
    across_mm: float
    matched: tuple[tuple[str, tuple[str, ...]], ...]
    is_washed: bool = False
    now: tuple[float, float] | None = None


def stripes_of(job: MarkerJob, cloth: Cloth) -> Stripes | None:
    """What the pieces of a marker for this cloth keep to; None where it was made for cloth without a pattern.

    A seam counts only where a garment has at least two outlines at it: one alone is held to nothing.
    """
    if not (job.repeat_length_mm or job.repeat_width_mm):
        return None
    pieces: dict[str, dict[str, None]] = defaultdict(dict)
    outlines: Counter[tuple[str, int]] = Counter()
    for item in job.items:
        seams = {
            point.name.removeprefix(ALONG).removeprefix(ACROSS): None
            for point in item.matches
            if matched_along(job, point.name) or matched_across(job, point.name)
        }
        for seam in seams:
            pieces[seam][item.piece] = None
            outlines.update((seam, garment) for garment in garments_of(item))
    several = {seam for (seam, _), count in outlines.items() if count > 1}
    matched = tuple((seam, tuple(held)) for seam, held in pieces.items() if seam in several)
    then, now = (job.repeat_length_mm, job.repeat_width_mm), repeats_mm(cloth)
    is_same = all(abs(one - other) < SAME_MM for one, other in zip(then, now, strict=True))
    is_washed = cloth.shrinkage_handling == "wash_first"
    return Stripes(*then, matched, is_washed, None if is_same else now)


def unmarked_styles(demand: Sequence[Demand], shop: Workshop) -> tuple[tuple[str, str], ...]:
    """Fabrics with a pattern and the styles cut from them of which no seam is marked for it: (fabric, style number).

    Only styles with a seam between pieces cut from the fabric count.
    """
    found: dict[tuple[str, str], bool] = {}
    for garment, cloth, pieces in _cut_from(demand, shop):
        if not (cloth.repeat_length_mm or cloth.repeat_width_mm):
            continue
        counts = {piece.name: piece.count for piece in pieces}
        within = [
            seam
            for seam in shop.styles[garment.style].seams_for(garment.options)
            if sum(counts.get(name, 0) for name in {ref.piece for ref in seam.edges}) > 1
        ]
        if within:
            case = (cloth.key.fabric, garment.style)
            found[case] = found.get(case, False) or any(seam.match for seam in within)
    return tuple(case for case, is_marked in found.items() if not is_marked)


def loose_styles(demand: Sequence[Demand], shop: Workshop) -> tuple[tuple[str, str], ...]:
    """Fabrics that shade and the styles cut from them of which no pieces lie side by side: (fabric, style number).

    Only styles with several pieces cut from the fabric count.
    """
    found: dict[tuple[str, str], bool] = {}
    for garment, cloth, pieces in _cut_from(demand, shop):
        if not cloth.shades or sum(piece.count for piece in pieces) < 2:
            continue
        case = (cloth.key.fabric, garment.style)
        words = Counter(piece.beside_on(shades=True) for piece in pieces for _ in range(piece.count))
        is_bound = any(word and count > 1 for word, count in words.items())
        found[case] = found.get(case, False) or is_bound
    return tuple(case for case, is_bound in found.items() if not is_bound)


def _cut_from(
    demand: Sequence[Demand], shop: Workshop
) -> Iterator[tuple[Garment, Cloth, tuple[PieceSpec, ...]]]:
    """Each garment with each cloth that pieces of it are cut from, and these."""
    for one in demand:
        for key in cloths_of_garment(one.garment, shop):
            yield one.garment, shop.cloths[key], pieces_on(one.garment, key, shop)
