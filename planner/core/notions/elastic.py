"""Elastic and tape along a seam.

Clear elastic is cut 1 : 1 to the pattern's seam, never to the stretched cloth, with a tail to hold at the
start and the end that is trimmed off (common practice).
"""

from __future__ import annotations

#: Held at each end while sewing (common practice).
DEFAULT_TAIL_MM = 20.0


def elastic_length_mm(seam_mm: float, ratio: float = 1.0, tail_mm: float = DEFAULT_TAIL_MM) -> float:
    """One length to cut, in mm: seam × ratio + 2 × tail. Raises ValueError for negative measures."""
    if seam_mm < 0 or ratio < 0 or tail_mm < 0:
        raise ValueError("a length of elastic cannot be less than nothing")
    return seam_mm * ratio + 2.0 * tail_mm
