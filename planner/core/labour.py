"""Minutes: one operation, one garment."""

from __future__ import annotations

from collections.abc import Iterable

from planner.core.spec import OperationSpec


def standard_minutes(observed_minutes: float, rating: float, allowances: float) -> float:
    """observed × rating × (1 + allowances), rating and allowances as fractions (1.10, 0.15).

    ILO, Introduction to Work Study. Raises ValueError for anything below zero.
    """
    if observed_minutes < 0 or rating < 0 or allowances < 0:
        raise ValueError("minutes, rating and allowances cannot be less than nothing")
    return observed_minutes * rating * (1.0 + allowances)


def garment_minutes(operations: Iterable[OperationSpec]) -> float:
    """Standard minutes of one garment, set-up left out."""
    return sum(operation.standard_minutes for operation in operations)
