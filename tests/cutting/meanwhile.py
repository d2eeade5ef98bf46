"""Two at one batch: a batch that both have before them, and somebody who comes in between."""

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType

import pytest

from planner.cutting.models import Batch
from tests.cutting.once import plies_batch


def settled_plies() -> Batch:
    """Five plies of jersey and their rib, every lay nested in rows and the plan settled."""
    batch = plies_batch(5)
    batch.refresh_from_db()
    return batch


def before_the_lock(monkeypatch: pytest.MonkeyPatch, of: ModuleType, do: Callable[[], object]) -> None:
    """Does something, once, just before an action locks its batch: as somebody else might."""
    real, todo = of.lock, [do]

    def lock(batch: Batch) -> Batch:
        if todo:
            todo.pop()()
        return real(batch)

    monkeypatch.setattr(of, "lock", lock)
