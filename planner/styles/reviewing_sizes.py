"""The sizes of a pattern file in their order, and the one to speak of."""

from __future__ import annotations

from statistics import fmean

from planner.core.pattern_files.model import ReadPattern


def sizes_in_order(pattern: ReadPattern) -> tuple[str, ...]:
    """The sizes of the file from small to large, by the areas of the pieces that come in all of them.

    A file may name its sizes in any order; sizes without such a piece stay where the file has them.
    """
    by_name = [pattern.of(name) for name in pattern.piece_names()]
    every = [sizes for sizes in by_name if len(sizes) == len(pattern.sizes)]
    if not every:
        return pattern.sizes
    # As a share of the piece's own mean, so that a large piece does not speak for all.
    means = [fmean(piece.outline.area_mm2 for piece in sizes.values()) for sizes in every]

    def area(size: str) -> float:
        return round(
            fmean(sizes[size].outline.area_mm2 / mean for sizes, mean in zip(every, means, strict=True)), 9
        )

    return tuple(sorted(pattern.sizes, key=area))


def middle_size(pattern: ReadPattern, base_size: str = "") -> str:
    """The size to draw and to speak of: the base size of the style or of the file, else the middle one."""
    for wanted in (base_size, pattern.sample_size):
        match = next((size for size in pattern.sizes if size.lower() == wanted.lower()), None)
        if match is not None:
            return match
    in_order = sizes_in_order(pattern)
    return in_order[len(in_order) // 2] if in_order else ""
