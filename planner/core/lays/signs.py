"""How the garments of a marker are told apart on drawings."""

from __future__ import annotations

from collections.abc import Iterable
from string import ascii_lowercase

from planner.core.lays.model import ItemToLay, Placement


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


def signs_in_words(signs: str) -> str:
    """ "garment a"; of "a b" "garments a over b", for the upper ply is the first one's (see :func:`garments_of`)."""
    return f"garments {' over '.join(signs.split())}" if " " in signs else f"garment {signs}"


def garments_of(placement: ItemToLay | Placement) -> tuple[int, ...]:
    """The numbers, from 1, of the garments it gives pieces to; of two the first has the upper ply of each pair, the
    second the lower."""
    return tuple(number for number in (placement.garment_no, placement.twin_no) if number)


def twins_of(pieces: Iterable[ItemToLay | Placement]) -> tuple[tuple[int, int], ...]:
    """The garments of a lay of paired layers that share an outline, by their numbers, two and two: of each two plies
    of it the upper is of the first of the two, the lower of the second."""
    return tuple(sorted({(piece.garment_no, piece.twin_no) for piece in pieces if piece.twin_no}))
