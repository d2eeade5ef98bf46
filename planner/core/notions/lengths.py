"""Lengths of elastic and tape to cut for a garment, seam by seam."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.core.notions.along import seam_length_mm, seam_of
from planner.core.notions.elastic import elastic_length_mm
from planner.core.spec import Garment, NotionUse, SeamSpec, StyleSpec


@dataclass(frozen=True, slots=True)
class LengthAlong:
    """A notion along a seam of one garment: `count` lengths of `length_mm` to cut, tails included.

    `seam_mm` is the finished length of the seam where it occurs once.
    """

    use: NotionUse
    seam: SeamSpec
    count: int
    seam_mm: float
    length_mm: float


def length_along(use: NotionUse, style: StyleSpec, garment: Garment) -> LengthAlong | None:
    """What a garment takes of a notion along its seam; None where its options have no such seam.

    Length = seam × ratio + 2 × tail (mm), see :mod:`elastic`. Raises SeamError where the seam cannot be measured.
    """
    seam = seam_of(use, style, garment.options)
    if seam is None:
        return None
    cloths = style.colourways[garment.colourway].cloths
    along = seam_length_mm(seam, style, garment.options, garment.size, cloths)
    length = elastic_length_mm(along, use.ratio, use.tail_mm)
    return LengthAlong(use, seam, seam.times, along, length)


def lengths_along(style: StyleSpec, garment: Garment) -> Iterator[LengthAlong]:
    """All that is cut by length for a garment, in the order of the style's list."""
    for use in style.notions_for(garment.options):
        if use.basis == "seam" and use.size in ("", garment.size):
            found = length_along(use, style, garment)
            if found is not None:
                yield found
