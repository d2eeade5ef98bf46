"""Who has the time for nesting: what is known to be as short as can be leaves its share to the others."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from planner.core.lays import nestings, settle
from planner.core.lays.certain import enough_mm, is_known
from planner.core.lays.cut_plans import Lengths, plan_fabrics
from planner.core.lays.model import Marker, MarkerJob
from planner.core.lays.nest import seconds_for
from planner.core.lays.nestings import Nestings
from planner.core.lays.rows import first_marker
from planner.core.lays.single_sizes import job_of
from tests.core.makers import SIZES, make_shop, wanted

SHOP = make_shop()


class Clock:
    """A clock that goes on by nesting alone, and what was nested with it: the first piece, and the seconds given."""

    def __init__(self) -> None:
        self.now = 0.0
        self.given: list[tuple[str, float]] = []

    def nest(self, job: MarkerJob, *, seconds: float, **_: Any) -> Marker:
        marker = first_marker(job)
        self.given.append((job.items[0].piece, seconds))
        # As the search does: what cannot be shorter is answered at once.
        self.now += 0.0 if marker.length_mm <= enough_mm(job) else seconds
        return marker

    def of(self, *, bands: bool) -> list[float]:
        return [seconds for piece, seconds in self.given if (piece == "rib band") == bands]


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(nestings, "nest_ruled", clock.nest)
    for room in (nestings, settle):
        monkeypatch.setattr(room, "time", SimpleNamespace(monotonic=lambda: clock.now))
    return clock


def nestings_of(shop: Any) -> Nestings:
    return Nestings(shop, {}, seed=1, on_progress=None, should_stop=lambda: False)


def test_bands_in_rows_are_known_without_a_search_and_tops_are_not() -> None:
    plans = plan_fabrics([wanted(2, "M")], SHOP, seconds=1, compare=False)
    known = {plan.fabric: [is_known(lay.job) for lay in plan.lays] for plan in plans}
    assert known == {"jersey": [False], "rib": [True]}


def test_what_can_still_gain_has_all_of_the_time(clock: Clock) -> None:
    plans = plan_fabrics([wanted(2, "M")], SHOP, seconds=1, compare=False)
    (jersey,) = (lay for plan in plans for lay in plan.lays if plan.fabric == "jersey")
    own = nestings_of(SHOP)
    own.new_of(plans, 2.5)
    # Formerly 2.5 s times its share of the pieces.
    assert clock.of(bands=False) == [2.5]
    assert seconds_for(len(jersey.job.items)) > 2.5
    clock.given.clear()
    own.polish(plans, 10.0)
    assert clock.given == [(jersey.job.items[0].piece, 10.0)], "bands are not asked again"


def test_what_one_lay_did_not_need_is_for_those_that_follow(
    clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three lays of as many pieces have 9 s; the first is done after 1 s, so that the others have 4 s each."""
    plans = plan_fabrics([wanted(2, size) for size in SIZES[:3]], SHOP, seconds=1, compare=False)
    jobs = {one.key: job_of(one, SHOP) for plan in plans for one in plan.facts.single_lays}
    lays = [
        SimpleNamespace(job=job, fabric="jersey", cloths=(), mode="open", end_allowance_mm=0.0)
        for job in jobs.values()
        if not is_known(job)
    ]
    assert len({len(lay.job.items) for lay in lays}) == 1
    given: list[float] = []

    def nest(job: MarkerJob, *, seconds: float, **_: Any) -> Marker:
        given.append(seconds)
        clock.now += seconds if len(given) > 1 else 1.0
        return first_marker(job)

    monkeypatch.setattr(nestings, "nest_ruled", nest)
    monkeypatch.setattr(Nestings, "_learn", lambda *_: None)
    nestings_of(SHOP).polish([SimpleNamespace(lays=lays[:3])], 9.0)  # type: ignore[list-item]
    assert given == pytest.approx([3.0, 4.0, 4.0])


def test_every_single_size_that_a_saving_is_told_against_is_nested_in_the_time_there_is(
    clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three of jersey have 4 s. Formerly two had 2 s each, and the third and all of the rib stayed estimates, though
    nothing is shorter than the rib's rows."""
    monkeypatch.setattr(settle, "SINGLES_SECONDS", 4.0)
    took: list[float] = []
    real = settle.Settler._held_against_nested

    def held(self: settle.Settler, *rest: Any) -> Any:
        began = clock.now
        told = real(self, *rest)
        took.append(clock.now - began)
        return told

    monkeypatch.setattr(settle.Settler, "_held_against_nested", held)
    demand = [wanted(count, size) for count, size in zip((2, 3, 5), SIZES, strict=True)]
    plans, _ = settle.Settler(demand, SHOP, {}, Lengths(), None, 1, None, None).settle()
    told = {plan.fabric: (plan.facts.single.nested, plan.facts.single.lays) for plan in plans}
    assert set(told) == {"jersey", "rib"}
    assert all(nested == lays for nested, lays in told.values()), told
    assert took[0] == pytest.approx(4.0)


def test_where_she_said_how_long_single_sizes_that_need_no_search_are_told_all_the_same(clock: Clock) -> None:
    settler = settle.Settler([wanted(2, "S"), wanted(3, "M")], SHOP, {}, Lengths(), 3.0, 1, None, None)
    plans, _ = settler.settle()
    told = {plan.fabric: (plan.facts.single.nested, plan.facts.single.lays) for plan in plans}
    assert told["rib"][0] == told["rib"][1]
    assert told["jersey"][0] < told["jersey"][1]
