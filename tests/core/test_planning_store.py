"""A plan asks the store before it nests a marker, and tells it of every one that was."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from planner.core.lays import nestings
from planner.core.lays.certain import is_known
from planner.core.lays.marker_lengths import Lengths
from planner.core.lays.model import Marker, MarkerJob
from planner.core.lays.rows import first_marker
from planner.core.lays.store import Known
from planner.core.lays.stored import marker_for, marker_key
from planner.core.planning import plan_batch
from tests.core.makers import make_shop, wanted

DEMAND = [wanted(4, "M"), wanted(2, "L")]


class Shelf:
    """A store in memory. `told` holds all it was told of, in order."""

    def __init__(self) -> None:
        self.told: list[tuple[str, Known]] = []
        self.kept: dict[str, tuple[MarkerJob, Known]] = {}

    def find(self, job: MarkerJob) -> Known | None:
        if marker_key(job) not in self.kept:
            return None
        asked, known = self.kept[marker_key(job)]
        named = marker_for(job, known.marker, asked)
        return None if named is None else replace(known, marker=named)

    def keep(self, job: MarkerJob, known: Known) -> None:
        self.told.append((marker_key(job), known))
        self.kept[marker_key(job)] = (job, known)


@pytest.fixture
def nested(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, Marker | None]]:
    """The keys of the markers that were nested, in plain rows, and what each began from."""
    done: list[tuple[str, Marker | None]] = []

    def rows(job: MarkerJob, *, start: Marker | None = None, **_: Any) -> Marker:
        done.append((marker_key(job), start))
        return start or first_marker(job)

    monkeypatch.setattr(nestings, "nest_ruled", rows)
    return done


def lengths(shelf: Shelf) -> Lengths:
    return Lengths({key: known.marker.length_mm for key, (_, known) in shelf.kept.items()})


def test_what_the_store_knows_is_not_nested(nested: list[tuple[str, Marker | None]]) -> None:
    shelf = Shelf()
    first = plan_batch(DEMAND, make_shop(), batch="B-1", seconds=20, nest_singles=True, store=shelf)
    assert [key for key, _ in nested] == [key for key, _ in shelf.told]
    chosen = {marker_key(lay.planned.job) for lay in first.lays}
    # What was chosen is nested a second time, from what came of the first, but for what cannot be shorter; single
    # sizes are not.
    assert {key for key, (_, known) in shelf.kept.items() if known.is_polished} == chosen
    gain = {marker_key(lay.planned.job) for lay in first.lays if not is_known(lay.planned.job)}
    assert {key for key, start in nested if start is not None} == gain < chosen
    assert set(shelf.kept) > chosen
    count = len(nested)
    again = plan_batch(
        DEMAND, make_shop(), batch="B-1", seconds=20, nest_singles=True, store=shelf, lengths=lengths(shelf)
    )
    assert len(nested) == count
    assert [lay.marker for lay in again.lays] == [lay.marker for lay in first.lays]
    assert all(facts.single.nested == facts.single.lays for facts in again.facts.values())


def test_what_was_nested_for_the_comparison_only_is_nested_once_more(
    nested: list[tuple[str, Marker | None]],
) -> None:
    shelf = Shelf()
    plan = plan_batch(DEMAND, make_shop(), batch="B-1", seconds=20, store=shelf)
    shelf.kept = {key: (job, replace(known, is_polished=False)) for key, (job, known) in shelf.kept.items()}
    nested.clear()
    plan_batch(DEMAND, make_shop(), batch="B-1", seconds=20, store=shelf)
    jobs = [lay.planned.job for lay in plan.lays]
    assert {key for key, _ in nested} == {marker_key(job) for job in jobs if not is_known(job)}
    assert all(start is not None for _, start in nested)


def test_a_store_can_end_the_planning(nested: list[tuple[str, Marker | None]]) -> None:
    class ClosedError(Exception):
        pass

    class ClosedShelf(Shelf):
        def keep(self, job: MarkerJob, known: Known) -> None:
            raise ClosedError

    with pytest.raises(ClosedError):
        plan_batch(DEMAND, make_shop(), batch="B-1", seconds=20, store=ClosedShelf())
    assert len(nested) == 1
