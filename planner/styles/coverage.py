"""Which combinations of options can be planned in which sizes and colourways.

They are not tried one by one but counted from what is missing (:mod:`lacks`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from planner.core.spec import Cloth, ClothKey, Option, Options, StyleSpec
from planner.styles.counting import count_choices
from planner.styles.lacks import Lack, excluded, lacks


@dataclass(frozen=True)
class Row:
    """Parts of one option, of several together, or (no options) of every garment: what they lack in each size."""

    options: Options
    lacks: tuple[Lack, ...]


@dataclass(frozen=True)
class Coverage:
    """What can be planned of a style.

    `combinations` that may be had; `ready` those that can be planned in every size and colourway, `by_size` in every
    colourway. Counts are None where too many options hang together to be counted.
    """

    spec: StyleSpec
    rows: tuple[Row, ...]
    combinations: int | None
    ready: int | None
    by_size: Mapping[str, int | None]

    @property
    def is_complete(self) -> bool:
        """Nothing is missing anywhere."""
        return not any(row.lacks for row in self.rows)


def coverage(spec: StyleSpec, cloths: Mapping[ClothKey, Cloth], gap_mm: float = 2.0) -> Coverage:
    """What can be planned of a style with these cloths, in work that grows with its parts, not its combinations.

    `gap_mm` is kept between pieces.
    """
    found = lacks(spec, cloths, gap_mm)
    singles = [((detail, option),) for detail, options in spec.details.items() for option in options]
    keys: dict[Options, None] = dict.fromkeys([(), *singles, *(_key(spec, lack.needs) for lack in found)])
    return Coverage(
        spec=spec,
        rows=tuple(Row(key, tuple(lack for lack in found if lack.needs == frozenset(key))) for key in keys),
        combinations=count_choices(spec.details, excluded(spec)),
        ready=_count(spec, found) if spec.sizes and spec.colourways else 0,
        by_size={
            size: _count(spec, (lack for lack in found if size in lack.sizes)) if spec.colourways else 0
            for size in spec.sizes
        },
    )


def _count(spec: StyleSpec, found: Iterable[Lack]) -> int | None:
    return count_choices(spec.details, [*excluded(spec), *(lack.rule for lack in found)])


def _key(spec: StyleSpec, options: Iterable[Option]) -> Options:
    """Options in the order of the style's details."""
    place = {detail: i for i, detail in enumerate(spec.details)}
    return tuple(sorted(options, key=lambda option: (place.get(option[0], 0), option)))


# --- in words ---------------------------------------------------------------------------------------------


def answer(found: Coverage) -> str:
    """The first line: how many combinations can be planned in how many sizes."""
    spec, every = found.spec, found.combinations
    if not spec.sizes or not spec.colourways:
        return f"Nothing can be planned yet: it has no {'colourway' if spec.sizes else 'size'}."
    if every == 0:
        return "Nothing can be planned: the options exclude each other until none is left."
    sizes = "1 size" if len(spec.sizes) == 1 else f"{len(spec.sizes)} sizes"
    has_choice = any(spec.details.values())
    if found.is_complete:
        if not has_choice:
            return f"All {sizes} can be planned." if len(spec.sizes) > 1 else "Its one size can be planned."
        if every is None:
            return f"All combinations in {sizes} can be planned; there are too many to count."
        what = "The only combination" if every == 1 else f"All {every:,} combinations"
        return f"{what} in {sizes} can be planned."
    if not has_choice:
        there = [size for size, n in found.by_size.items() if n]
        return f"{len(there)} of {sizes} can be planned in every colourway."
    if every is None or found.ready is None:
        return "Not every combination can be planned; there are too many to count."
    return f"{found.ready:,} of {every:,} combinations can be planned in every size and colourway.{_sizes(found)}"


def _sizes(found: Coverage) -> str:
    """The sizes in which more can be planned than in all of them together."""
    whole = [size for size, n in found.by_size.items() if n == found.combinations]
    if not whole or len(whole) == len(found.by_size):
        return ""
    return f" In {', '.join(whole)} all can."
