"""Minutes: one operation, one garment, a whole batch."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from planner.core.spec import Demand, NotionKey, OperationSpec, Workshop

#: To thread and set a machine for one stitch type in one colour (common practice).
DEFAULT_SETUP_MINUTES = 10.0


@dataclass(frozen=True, slots=True)
class MachineTime:
    """Work that shares a threaded machine. Minutes; `pieces` counts operations done, not garments."""

    machine: str
    stitch_type: str
    thread: NotionKey | None
    pieces: int
    setup_minutes: float
    sewing_minutes: float


@dataclass(frozen=True)
class BatchTime:
    """Minutes of a batch by threaded machine."""

    machines: tuple[MachineTime, ...]

    @property
    def setup_minutes(self) -> float:
        """Threading and setting, once for each machine, stitch type and thread."""
        return sum(m.setup_minutes for m in self.machines)

    @property
    def sewing_minutes(self) -> float:
        """Standard minutes of all garments."""
        return sum(m.sewing_minutes for m in self.machines)

    @property
    def minutes(self) -> float:
        """All minutes."""
        return self.setup_minutes + self.sewing_minutes


def standard_minutes(observed_minutes: float, rating: float, allowances: float) -> float:
    """observed × rating × (1 + allowances), rating and allowances as fractions (1.10, 0.15).

    ILO, Introduction to Work Study. Raises ValueError for anything below zero.
    """
    if observed_minutes < 0 or rating < 0 or allowances < 0:
        raise ValueError("minutes, rating and allowances cannot be less than nothing")
    return observed_minutes * rating * (1.0 + allowances)


def batch_minutes(setup_minutes: float, pieces: int, standard_minutes_each: float) -> float:
    """Batch time of one operation: set-up + pieces × standard minutes."""
    return setup_minutes + pieces * standard_minutes_each


def garment_minutes(operations: Iterable[OperationSpec]) -> float:
    """Standard minutes of one garment, set-up left out."""
    return sum(operation.standard_minutes for operation in operations)


def batch_time(
    demand: Sequence[Demand],
    shop: Workshop,
    *,
    setup_minutes: Mapping[str, float] | None = None,
    default_setup_minutes: float = DEFAULT_SETUP_MINUTES,
) -> BatchTime:
    """Minutes of a whole demand, grouped by machine, stitch type and thread, each set up once.

    `setup_minutes` gives the set-up by machine name; work without a stitch type (iron, hand) takes none
    unless named there. Raises KeyError for a style or colourway that does not exist.
    """
    pieces: dict[tuple[str, str, NotionKey | None], int] = defaultdict(int)
    sewing: dict[tuple[str, str, NotionKey | None], float] = defaultdict(float)
    for line in demand:
        style = shop.styles[line.garment.style]
        thread = style.colourways[line.garment.colourway].thread
        for operation in style.operations_for(line.garment.options):
            stitch = operation.stitch_type
            key = (operation.machine, stitch, thread if stitch else None)
            pieces[key] += line.quantity
            sewing[key] += line.quantity * operation.standard_minutes
    named = setup_minutes or {}

    def setup(machine: str, stitch: str) -> float:
        return named.get(machine, default_setup_minutes if stitch else 0.0)

    order = sorted(pieces, key=lambda k: (k[0], k[1], k[2] or NotionKey("")))
    return BatchTime(
        tuple(MachineTime(*key, pieces[key], setup(key[0], key[1]), sewing[key]) for key in order)
    )
