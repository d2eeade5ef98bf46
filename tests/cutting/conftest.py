"""Cut plans are reckoned once a run, however many tests of this room ask for the same one."""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Callable, Iterator
from functools import wraps
from inspect import signature
from typing import Any

import pytest

from planner.core.lays import cut_plans
from planner.core.lays.cut_plans import FabricPlan
from planner.core.lays.model import Marker, MarkerJob
from planner.cutting.actions import nesting
from tests.kept_rows import kept

_plan_fabrics = cut_plans.plan_fabrics


@wraps(_plan_fabrics)
def _answered(*args: Any, **options: Any) -> tuple[FabricPlan, ...]:
    """The answer to this very question, each time as new objects; what is refused is asked again."""
    question = pickle.dumps((args, sorted(options.items())))
    answer, _ = kept(
        f"cut plan {hashlib.sha256(question).hexdigest()}",
        lambda: pickle.dumps(_plan_fabrics(*args, **options)),
    )
    plans: tuple[FabricPlan, ...] = pickle.loads(answer)
    return plans


@pytest.fixture(autouse=True)
def plans_reckoned_once(request: pytest.FixtureRequest) -> Iterator[None]:
    """A question about the same garments, cloths, lengths and wishes has the answer it had before.

    The core reckons from nothing else. A test that may put something in the place of a part (it asks for `monkeypatch`,
    not for `beside`) has all reckoned anew, and so have the tests of the core itself. Fixtures of this room put only
    queue and nesting in another's place.
    """
    if "monkeypatch" in signature(request.function).parameters:
        yield
        return
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cut_plans, "plan_fabrics", _answered)
        yield


@pytest.fixture
def beside(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """For a test that puts something in another's place beside the cut plans, as the queue or who comes in between.

    These are reckoned once all the same.
    """
    return monkeypatch


@pytest.fixture
def nested_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """A lay is nested in earnest, but only until something shorter than at first is found, which takes no second.

    For tests of what follows when a lay was nested.
    """
    whole = nesting.nest

    def until_shorter(
        job: MarkerJob,
        *,
        on_progress: Callable[[Marker], None],
        should_stop: Callable[[], bool],
        **options: Any,
    ) -> Marker:
        found: list[Marker] = []

        def note(marker: Marker) -> None:
            found.append(marker)
            on_progress(marker)

        return whole(
            job, on_progress=note, should_stop=lambda: len(found) > 1 or should_stop(), workers=1, **options
        )

    monkeypatch.setattr(nesting, "nest", until_shorter)
