"""How the garments of a marker are told apart on drawings."""

from __future__ import annotations

from string import ascii_lowercase

from planner.core.lays.model import Placement


def garment_sign(number: int) -> str:
    """The sign of a garment of a marker, counted from 1: a to z, then aa, ab and so on."""
    sign = ""
    while number > 0:
        number, rest = divmod(number - 1, len(ascii_lowercase))
        sign = ascii_lowercase[rest] + sign
    return sign


def signs_of(placement: Placement) -> str:
    """The garments that a placed outline gives pieces for: "a", or "a b" where paired layers serve two."""
    return " ".join(garment_sign(number) for number in garments_of(placement))


def garments_of(placement: Placement) -> tuple[int, ...]:
    """Their numbers on the marker, from 1."""
    return tuple(number for number in (placement.garment_no, placement.twin_no) if number)
