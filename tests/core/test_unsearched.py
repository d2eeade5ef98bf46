"""What the library nested alone says so, until our own search has looked at it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from planner.core.lays import kept_code, nest, ruled, solver
from planner.core.lays.model import ItemToLay, Marker, MarkerJob
from planner.core.lays.stored import marker_from_json, marker_to_json
from planner.core.outline import make_outline

#: Right triangles: two of them lie in half the length of rows.
PIECE = make_outline([(0, 0), (300, 0), (0, 400)])


def job(bound: int = 0) -> MarkerJob:
    """Pieces that lie where they will, and so many that must lie beside one another."""
    items = (
        ItemToLay("T", f"piece {n}", "M", 1, False, True, PIECE, beside="body" if n < bound else "")
        for n in range(bound + 4)
    )
    return MarkerJob(820.0, False, 2.0, tuple(items))


@pytest.fixture
def awaited(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """Whether our own search is still being compiled."""
    told = [True]
    monkeypatch.setattr(kept_code, "is_awaited", lambda: told[0])
    return told


def soon_nested(asked: MarkerJob, seconds: float = 1.0) -> Marker:
    """What is found first that is shorter than rows: by the library, where nothing else is to be had."""
    found: list[Marker] = []
    return ruled.nest_ruled(
        asked, seconds=seconds, on_progress=found.append, should_stop=lambda: len(found) > 1, workers=1
    )


@pytest.mark.parametrize("bound", [0, 2])
def test_what_was_nested_without_our_search_says_so_until_it_was_searched(
    awaited: list[bool], monkeypatch: pytest.MonkeyPatch, bound: int
) -> None:
    asked = job(bound)
    alone = soon_nested(asked)
    assert alone.how == "unsearched"
    assert marker_from_json(marker_to_json(alone)).how == "unsearched"
    awaited[0] = False
    searched: list[float] = []

    def nothing_found(search: nest._Search, best: object) -> Iterator[object]:
        searched.append(search.run.seconds)
        yield from ()

    monkeypatch.setattr(nest, "_hunted", nothing_found)
    again = ruled.nest_ruled(asked, seconds=3.0, start=alone)
    assert searched
    assert (again.how, again.length_mm) == ("nested", pytest.approx(alone.length_mm))


def test_a_nesting_that_is_stopped_before_it_was_searched_still_says_so(awaited: list[bool]) -> None:
    alone = soon_nested(job())
    awaited[0] = False
    assert (
        nest.nest(job(), seconds=3.0, start=alone, should_stop=lambda: True).how == alone.how == "unsearched"
    )


def test_where_our_search_cannot_be_had_the_library_has_nested_for_good(
    awaited: list[bool], monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = soon_nested(job())
    awaited[0] = False
    monkeypatch.setattr(kept_code, "is_given_up", lambda: True)
    monkeypatch.setattr(nest, "_solved", lambda *_: (one for one in ()))
    again = nest.nest(job(), seconds=1.0, start=alone)
    assert (again.length_mm, marker_from_json(marker_to_json(again)).how) == (alone.length_mm, "library")


def test_a_search_that_breaks_down_at_once_has_not_looked(
    awaited: list[bool], monkeypatch: pytest.MonkeyPatch
) -> None:
    awaited[0] = False

    def broken(*_: object, **__: object) -> Iterator[object]:
        raise solver.SolverFailed("no compiler")
        yield

    monkeypatch.setattr(nest, "hunted", broken)
    assert soon_nested(job(), seconds=2.5).how == "library"
