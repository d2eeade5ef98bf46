"""What is cut beyond the demand because a cloth gives garments in twos only, though their main cloth gives any number.

How many more are cut is decided by the plan of a garment's main cloth, and its other cloths follow. Where one of those
is cut in twos, as folded or face to face, an odd number would stand in the way of every plan, however many more are
allowed. So such numbers are rounded up before anything is planned, and what is rounded is then no longer decided.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from planner.core.lays.items import counts_step
from planner.core.lays.kinds import FabricTable, KindRow
from planner.core.spec import ClothKey, Garment, Workshop

#: The garments that are laid alike on one cloth: of these all together are cut.
_Cell = tuple[Garment, ...]


@dataclass(frozen=True)
class InTwos:
    """`more` garments are cut beyond the demand, at most one of each; no plan may decide on more of those in
    `bound`."""

    more: Mapping[Garment, int]
    bound: frozenset[Garment]


def rounded_up(
    tables: Sequence[FabricTable],
    totals: Mapping[Garment, int],
    allowed: Mapping[Garment, int],
    mains: Mapping[Garment, ClothKey],
    shop: Workshop,
) -> InTwos:
    """The fewest garments more, one after the other, that make the numbers of those even that come in twos.

    `allowed` are the most of each that may be cut beyond its total. A garment is bound where a cloth other than its
    main one is cut in twos, where it shares such numbers with a bound one, and where it is cut from several colours of
    one cloth, which one plan cuts together. What cannot be made even is left as it is, and its plan then says so.
    """
    if not any(allowed.values()):
        return InTwos({}, frozenset())
    paired: list[tuple[_Cell, ClothKey]] = []
    colours: Counter[tuple[int, Garment]] = Counter()
    for n, table in enumerate(tables):
        for kind, cell, key in _cells(table):
            colours.update((n, garment) for garment in cell)
            if _in_twos(kind, shop):
                paired.append((cell, key))
    bound = {garment for (_, garment), count in colours.items() if count > 1}
    bound |= {garment for cell, key in paired for garment in cell if mains[garment] != key}
    cells = [cell for cell, _ in paired if bound.intersection(cell)]
    bound.update(garment for cell in cells for garment in cell)
    return InTwos(_made_even(cells, totals, allowed), frozenset(bound))


def _cells(table: FabricTable) -> Iterator[tuple[KindRow, _Cell, ClothKey]]:
    for kind, row in zip(table.kinds, table.wanted, strict=True):
        for cloth, cell in zip(table.columns, row, strict=True):
            if cell:
                yield kind, tuple(cell), cloth.key


def _in_twos(kind: KindRow, shop: Workshop) -> bool:
    """Whether every way this cloth is laid in for the kind cuts it in twos; not where there is no such way at all."""
    steps = (counts_step(kind.sample, kind.cloth, mode, shop) for mode in kind.cloth.modes)
    found = {step for step in steps if step}
    return found == {2}


def _made_even(
    cells: Sequence[_Cell], totals: Mapping[Garment, int], allowed: Mapping[Garment, int]
) -> dict[Garment, int]:
    """One more of as few garments as will make all these sums even: always of that which leaves fewest odd."""
    of_garment: dict[Garment, list[int]] = defaultdict(list)
    for n, cell in enumerate(cells):
        for garment in cell:
            of_garment[garment].append(n)
    odd = {n for n, cell in enumerate(cells) if sum(totals[garment] for garment in cell) % 2}
    free = [garment for garment in of_garment if allowed.get(garment)]
    more: dict[Garment, int] = {}
    while odd and free:
        # One more of a garment makes the odd sums it is in even, and the even ones odd.
        best = min(free, key=lambda garment: len(odd.symmetric_difference(of_garment[garment])))
        after = odd.symmetric_difference(of_garment[best])
        if len(after) > len(odd):
            break
        odd, more[best] = after, 1
        free.remove(best)
    return more
