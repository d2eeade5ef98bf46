"""A cloth that is narrower than lays planned for it: which of them no longer lie on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from planner.core.lays.items import lay_width_in
from planner.core.lays.model import PlannedLay
from planner.core.listed import lays_listed
from planner.core.spec import Cloth, ClothKey
from planner.core.units import format_length
from planner.cutting.models import Lay
from planner.materials.specs import cloth_key, cloth_of

#: What widths are rounded by when they are kept (mm).
EXACT_MM = 0.05

Cloths = Mapping[ClothKey, Cloth]


def is_wider_than_cloth(lay_width_mm: float, mode: str, key: ClothKey, cloths: Cloths) -> bool:
    """Whether a lay of this width is wider than its cloth lies now, less its selvedges."""
    cloth = cloths.get(key)
    return cloth is not None and lay_width_mm > lay_width_in(cloth, mode) + EXACT_MM  # type: ignore[arg-type]


def any_wider(lays: Iterable[PlannedLay], cloths: Cloths) -> bool:
    """Whether one of these lays is wider than its cloth is now, so that it cannot be cut."""
    return any(is_wider_than_cloth(lay.lay_width_mm, lay.mode, lay.cloths[0], cloths) for lay in lays)


def wider_than_cloth(lays: Iterable[Lay], cloths: Cloths) -> list[int]:
    """The numbers of lays not cut yet, read with their cloths, that are wider than their cloth is now. No query."""
    return sorted(lay.number for lay in lays if _is_wider(lay, cloths))


def too_wide_in_words(lays: Iterable[Lay], cloths: Cloths, display: str) -> str:
    """ "Lays 1 and 2 are laid 157 cm wide, but jersey is 149 cm now, less its selvedges"; "" where all lays still to
    be cut lie on their cloth. No query."""
    found: dict[tuple[float, float, str, str], list[int]] = defaultdict(list)
    for lay in lays:
        if _is_wider(lay, cloths):
            now_mm = lay_width_in(cloths[_key(lay)], lay.mode)  # type: ignore[arg-type]
            found[lay.lay_width_mm, now_mm, lay.mode, _key(lay).fabric].append(lay.number)
    words = "; ".join(
        f"{lays_listed(sorted(numbers))} {'is' if len(numbers) == 1 else 'are'} laid {_wide(lay_mm, display)} wide, but"
        f" {fabric} is {_wide(now_mm, display)}{' folded' if mode == 'folded' else ''} now, less its selvedges"
        for (lay_mm, now_mm, mode, fabric), numbers in found.items()
    )
    return words[:1].upper() + words[1:]


def lay_too_wide_in_words(lay: Lay, display: str) -> str:
    """The same for one lay, held against its cloth as it was read with it. No query."""
    colours = [plies.fabric_colour for plies in lay.cloths.all()]
    return too_wide_in_words([lay], {cloth_key(one): cloth_of(one) for one in colours}, display)


def _is_wider(lay: Lay, cloths: Cloths) -> bool:
    return lay.cut_at is None and is_wider_than_cloth(lay.lay_width_mm, lay.mode, _key(lay), cloths)


def _key(lay: Lay) -> ClothKey:
    return cloth_key(lay.cloths.all()[0].fabric_colour)


def _wide(mm: float, display: str) -> str:
    return format_length(mm, display, "small")  # type: ignore[arg-type]
