"""Garments of a fabric as a table: what is laid alike shares a row, each colour has a column.

Two garments are of one kind where the same pieces of the same size of a style are cut from the fabric, whatever their
options and colourways do elsewhere. Which of them gets which place is settled after the plan.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from planner.core.cloth import as_cut
from planner.core.lays.items import pieces_on
from planner.core.lays.match_points import match_points, matched_seams
from planner.core.lays.model import Plies
from planner.core.lays.wishes import Kind
from planner.core.spec import Cloth, ClothKey, Garment, Workshop

#: What makes cloths lie in one stack: fabric, width, direction, ends, ways, repeats, thickness.
_Stack = tuple[object, ...]


@dataclass(frozen=True)
class KindRow:
    """Garments laid alike: `sample` is one of them, `cloth` a cloth it is cut from, `name` what the maker says."""

    name: Kind
    sample: Garment
    cloth: Cloth


@dataclass
class FabricTable:
    """The demand of one fabric. `wanted[kind][column]` counts the garments by name, in the order they are cut."""

    fabric: str
    columns: tuple[Cloth, ...]
    kinds: tuple[KindRow, ...]
    wanted: tuple[tuple[Counter[Garment], ...], ...]
    extra: tuple[tuple[Counter[Garment], ...], ...] = field(default=())

    def kind_of(self, name: Kind) -> frozenset[int]:
        """The rows with this name; several where options change what is cut from the fabric."""
        return frozenset(n for n, kind in enumerate(self.kinds) if kind.name == name)

    def row_of(self, garment: Garment, cloth: ClothKey) -> int | None:
        """The row a garment is counted in under the colour, None where it is not cut from it."""
        column = next((n for n, one in enumerate(self.columns) if one.key == cloth), None)
        if column is None:
            return None
        return next((n for n, row in enumerate(self.wanted) if garment in row[column]), None)


def tables_of(
    totals: Mapping[Garment, int], shop: Workshop, extra: Mapping[Garment, int] | None = None
) -> list[FabricTable]:
    """The demand by fabric, in the order the fabrics are met; colours and kinds likewise.

    `extra` are garments that may be cut beyond their total.
    """
    stacks: dict[_Stack, dict[ClothKey, None]] = defaultdict(dict)
    cells: dict[_Stack, dict[tuple[object, ...], dict[ClothKey, Counter[Garment]]]] = defaultdict(dict)
    for garment, count in totals.items():
        for key in cloths_of_garment(garment, shop):
            stack = _stack(shop.cloths[key])
            stacks[stack][key] = None
            row = cells[stack].setdefault(_alike(garment, key, shop), {})
            row.setdefault(key, Counter())[garment] += count
    return [_table(list(stacks[stack]), cells[stack], shop, extra or {}) for stack in stacks]


def main_cloth(garment: Garment, shop: Workshop) -> ClothKey:
    """The cloth the garment is bundled by: that of the role with the largest area, the first of equals."""
    style = shop.styles[garment.style]
    cloths = style.colourways[garment.colourway].cloths
    areas: dict[str, float] = defaultdict(float)
    for piece in style.pieces_for(garment.options):
        cloth = cloths[piece.role]
        outline = as_cut(piece.cut_outline(garment.size, cloth), shop.cloths[cloth])
        areas[piece.role] += piece.count * outline.area_mm2
    return cloths[max(areas, key=lambda role: areas[role])]


def share_out(
    lays: Sequence[tuple[Sequence[int], Sequence[int]]], table: FabricTable
) -> list[tuple[Plies, ...]]:
    """Which garment gets which place: the plies of every lay, the colours of the table in their order.

    A lay is given as (how many of each kind a spread cuts, spreads in each column). Garments of a kind take the places
    of the lays one after the other. Within a lay a garment fills one place through all plies of its colour before it
    takes the next, so that few plies are marked differently.
    """
    left = [[list(cell.elements()) for cell in row] for row in table.wanted]
    shared: list[tuple[Plies, ...]] = []
    for counts, spreads in lays:
        plies: list[Plies] = []
        for column, cloth in enumerate(table.columns):
            if spreads[column]:
                places = [
                    [left[kind][column].pop(0) for _ in range(spreads[column])]
                    for kind, count in enumerate(counts)
                    for _ in range(count)
                ]
                plies += _runs(cloth.key, places)
        shared.append(tuple(plies))
    return shared


def _runs(cloth: ClothKey, places: Sequence[Sequence[Garment]]) -> Iterator[Plies]:
    """Neighbouring plies with the same garments in the same places, together."""
    by_ply = list(zip(*places, strict=True))
    start = 0
    for n in range(1, len(by_ply) + 1):
        if n == len(by_ply) or by_ply[n] != by_ply[start]:
            yield Plies(cloth, n - start, tuple(by_ply[start]))
            start = n


def _table(
    keys: list[ClothKey],
    cells: Mapping[tuple[object, ...], Mapping[ClothKey, Counter[Garment]]],
    shop: Workshop,
    extra: Mapping[Garment, int],
) -> FabricTable:
    kinds, wanted = [], []
    for row in cells.values():
        key, counts = next(iter(row.items()))
        sample = next(iter(counts))
        kinds.append(KindRow((sample.style, sample.size), sample, shop.cloths[key]))
        wanted.append(tuple(row.get(key, Counter()) for key in keys))
    more = tuple(
        tuple(Counter({g: extra[g] for g in cell if extra.get(g)}) for cell in row) for row in wanted
    )
    columns = tuple(shop.cloths[key] for key in keys)
    return FabricTable(keys[0].fabric, columns, tuple(kinds), tuple(wanted), more)


def cloths_of_garment(garment: Garment, shop: Workshop) -> Iterator[ClothKey]:
    """The cloths a garment is cut from, each once."""
    style = shop.styles[garment.style]
    cloths = style.colourways[garment.colourway].cloths
    yield from dict.fromkeys(cloths[piece.role] for piece in style.pieces_for(garment.options))


def _stack(cloth: Cloth) -> _Stack:
    return (
        cloth.key.fabric, cloth.usable_width_mm, cloth.one_way, cloth.end_allowance_mm, cloth.modes, cloth.thickness_mm,
        cloth.repeat_length_mm, cloth.repeat_width_mm, cloth.shrinkage_handling, cloth.shrinkage_length,
        cloth.shrinkage_width,
    )  # fmt: skip


def _alike(garment: Garment, key: ClothKey, shop: Workshop) -> tuple[object, ...]:
    """What two garments of one kind have in common."""
    # Where stripes must meet, over the seams of which options they do.
    matched = matched_seams(garment, shop.cloths[key], shop)
    pieces = []
    for piece in pieces_on(garment, key, shop):
        outline = piece.cut_outline(garment.size, key)
        pieces.append((piece.name, outline.points, match_points(piece.name, outline, matched)))
    return (garment.style, garment.size, tuple(pieces))
