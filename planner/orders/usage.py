"""How well cloth is used in this workroom. The cutting room tells it, for orders know nothing of lays."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from typing import TypeAlias

from planner.core.needs import Usage

#: Answers for fabrics, by name; it leaves out those of which nothing is known.
Teller: TypeAlias = Callable[[Collection[str]], Mapping[str, Usage]]
_tellers: list[Teller] = []


def tell_usage_by(teller: Teller) -> None:
    """From now on `teller` is asked how well fabrics are used."""
    if teller not in _tellers:
        _tellers.append(teller)


def usage_of(fabrics: Collection[str]) -> dict[str, Usage]:
    """How well these fabrics (by name) are used; those of which nothing is known are left out."""
    return {name: usage for teller in _tellers for name, usage in teller(fabrics).items()}
