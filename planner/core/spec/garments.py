"""Options, garments and how many are wanted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

Option = tuple[str, str]
Options = tuple[Option, ...]


def make_options(pairs: Mapping[str, str] | Iterable[Option]) -> Options:
    """Options in the one order used everywhere, so that equal choices compare equal."""
    items = pairs.items() if isinstance(pairs, Mapping) else pairs
    return tuple(sorted((str(d), str(o)) for d, o in items))


@dataclass(frozen=True, slots=True, order=True)
class Garment:
    """One thing that can be ordered: a style with its options, colourway and size."""

    style: str
    options: Options
    colourway: str
    size: str


@dataclass(frozen=True, slots=True)
class Demand:
    """How many of one garment are wanted; quantity > 0. Up to `extra_allowed` more may be cut where that pays."""

    garment: Garment
    quantity: int
    extra_allowed: int = 0
