"""A cutting table that is shorter than lays planned already: which of them no longer lie on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from django.db.models import F

from planner.core.listed import lays_listed, listed
from planner.core.units import format_length
from planner.cutting.models import Batch, Lay
from planner.cutting.querysets.standing import marker_mm
from planner.materials.models import Workroom
from planner.materials.signals import workroom_saved


def listen() -> None:
    """Hears of every change of the workroom."""
    workroom_saved.connect(_saved, dispatch_uid="lays longer than the table")


def longer_than(table_mm: float) -> dict[str, list[int]]:
    """Lays not cut yet that are longer than the table with their ends, by the number of their batch. One query.

    What is not nested yet counts with its estimate.
    """
    long = Lay.objects.filter(batch__in=Batch.objects.planned_not_cut(), cut_at=None).annotate(
        long_mm=marker_mm() + 2 * F("end_allowance_mm")
    )
    found: dict[str, list[int]] = defaultdict(list)
    rows = long.filter(long_mm__gt=table_mm + 1e-6).order_by("batch_id", "number")
    for batch, number in rows.values_list("batch__number", "number"):
        found[batch].append(number)
    return dict(found)


def in_words(
    found: Mapping[str, Sequence[int]], table_mm: float, display: str, being_cut: Collection[str] = ()
) -> str:
    """ "Longer than the table (0.5 m) are lays 1 and 2 of B-0001; lay 3 of B-0002. …"; "" where all fit.

    The plan of a batch that is `being_cut` cannot be taken back, but the rest of it be planned anew.
    """
    if not found:
        return ""
    told = "; ".join(f"{lays_listed(numbers)} of {batch}" for batch, numbers in found.items())
    verb = "is" if sum(map(len, found.values())) == 1 else "are"
    long = format_length(table_mm, display=display, kind="cloth")  # type: ignore[arg-type]
    begun, others = [one for one in found if one in being_cut], [one for one in found if one not in being_cut]
    ways = [f"have the rest of {listed(begun)}, of which something is cut, planned anew"] if begun else []
    if others:
        ways.append(f"take the plan{f' of {listed(others)}' if begun else ''} back and plan again")
    advice = f"{listed(ways)}, or cut on a longer table."
    return f"Longer than the table ({long}) {verb} {told}. {advice[:1].upper()}{advice[1:]}"


def _saved(room: Workroom, **_: Any) -> list[str]:
    table_mm = float(room.table_length_mm)
    found = longer_than(table_mm)
    cutting = Batch.objects.filter(number__in=list(found), state=Batch.State.CUTTING)
    words = in_words(
        found, table_mm, room.display, set(cutting.values_list("number", flat=True)) if found else ()
    )
    return [words] if words else []
