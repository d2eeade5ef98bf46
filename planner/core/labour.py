"""Minutes of work in a garment."""

from __future__ import annotations

from collections.abc import Iterable

from planner.core.spec import OperationSpec


def garment_minutes(operations: Iterable[OperationSpec]) -> float:
    """Standard minutes of one garment, set-up left out."""
    return sum(operation.standard_minutes for operation in operations)
