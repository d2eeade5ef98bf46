"""What one fabric asks of the solver: its table, the ways it may lie and the maker's wishes as mathematics.

See `planner.core.cut_plan.model` for what a question means.
"""

from __future__ import annotations

from collections.abc import Mapping

from planner.core.cloth import end_of_ply_mm
from planner.core.cut_plan.model import FixedLay, PlanQuestion, WayToLay
from planner.core.lays.cloth_limits import longest_ply_mm, price_per_mm
from planner.core.lays.items import counts_step
from planner.core.lays.kinds import FabricTable
from planner.core.lays.marker_lengths import MarkerLengths
from planner.core.lays.model import LAYERS, LENGTHS, Mode, PlannedLay
from planner.core.lays.problems import CannotPlan, WishRefused
from planner.core.lays.wishes import Kind, Wishes
from planner.core.spec import LayTimes, Workshop


def question_of(
    table: FabricTable,
    shop: Workshop,
    wish: Wishes,
    lengths: Mapping[Mode, MarkerLengths],
    layers: int,
) -> PlanQuestion:
    """The question; `layers` of the cloth are cut at most. Raises CannotPlan where a lay to keep is not wanted."""
    times = shop.times
    ways = tuple(_way(mode, known, shop) for mode, known in lengths.items())
    # Garments that nobody ordered are charged by the way of cutting them that is dearest.
    cutting = tuple(map(max, zip(*(way.cost_each for way in ways), strict=True)))
    over = tuple(tuple(cell.total() for cell in row) for row in table.extra)
    return PlanQuestion(
        demand=tuple(tuple(cell.total() for cell in row) for row in table.wanted),
        ways=ways,
        most_length_mm=shop.table_length_mm,
        most_plies=layers,
        end_mm=2 * end_of_ply_mm(table.columns[0]),
        price_per_mm=tuple(price_per_mm(c) + times.spread_metre * _rate(times) / 1000 for c in table.columns),
        overcut=over,
        # A garment that nobody ordered is sewn from cloth and hours too; it must save more than its cutting.
        overcut_cost=tuple(tuple(each for _ in row) for each, row in zip(cutting, over, strict=True)),
        per_length_cost=times.spread * _rate(times),
        per_lay_cost=times.setup * _rate(times),
        roll_lengths_mm=tuple(longest_ply_mm(c) for c in table.columns),
        together=tuple(_together(table, kinds) for kinds in wish.together),
        apart=tuple(pair for kinds in wish.apart for pair in _apart(table, kinds)),
        keep=tuple(_fixed(table, lay) for lay in wish.keep),
        objective=wish.aim,
    )


def steps_of(table: FabricTable, mode: Mode, shop: Workshop) -> tuple[int, ...]:
    """What the counts of each kind are multiples of in this way, 0 where it cannot be laid so."""
    return tuple(counts_step(k.sample, k.cloth, mode, shop) or 0 for k in table.kinds)


def _rate(times: LayTimes) -> float:
    """Money for a minute."""
    return float(times.rate_per_hour) / 60


def _way(mode: Mode, lengths: MarkerLengths, shop: Workshop) -> WayToLay:
    """Marking and cutting are paid for the pieces that a marker of this way holds for a garment of each kind."""
    each = (shop.times.mark_piece + shop.times.cut_piece) * _rate(shop.times)
    return WayToLay(
        name=mode,
        plies_per_spread=LAYERS[mode],
        cloth_lengths_per_spread=LENGTHS[mode],
        steps=lengths.steps,
        length_mm=lengths.of,
        least_mm_each=lengths.least_mm_each,
        cost_each=tuple(each * pieces for pieces in lengths.pieces_each),
    )


def _rows(table: FabricTable, kinds: frozenset[Kind]) -> list[frozenset[int]]:
    return [rows for kind in sorted(kinds) if (rows := table.kind_of(kind))]


def _together(table: FabricTable, kinds: frozenset[Kind]) -> frozenset[int]:
    return frozenset(row for rows in _rows(table, kinds) for row in rows)


def _apart(table: FabricTable, kinds: frozenset[Kind]) -> list[frozenset[int]]:
    """Pairs of rows of different names; garments of one name may share a marker whatever their options."""
    rows = _rows(table, kinds)
    return [
        frozenset((a, b)) for n, one in enumerate(rows) for other in rows[n + 1 :] for a in one for b in other
    ]


def _fixed(table: FabricTable, lay: PlannedLay) -> FixedLay:
    counts = [0] * len(table.kinds)
    for slot in lay.plies[0].slots:
        row = table.row_of(slot, lay.plies[0].cloth)
        if row is None:
            text = f"a lay you keep cuts {slot.style} {slot.size}, which is not wanted any more"
            raise CannotPlan([WishRefused(slot, text, table.fabric, "keep")])
        counts[row] += 1
    spreads = tuple(lay.spreads_of(cloth.key) for cloth in table.columns)
    return FixedLay(tuple(counts), lay.mode, spreads)
