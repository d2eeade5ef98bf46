"""Cut plans are reckoned once a run, however many tests of this room ask for the same one."""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Iterator
from functools import wraps
from inspect import signature
from typing import Any

import pytest

from planner.core.lays import cut_plans
from planner.core.lays.cut_plans import FabricPlan
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

    The core reckons from nothing else. A test that may put something in the place of a part (it asks for `monkeypatch`)
    has all reckoned anew, and so have the tests of the core itself. Fixtures of this room put only queue and nesting in
    another's place.
    """
    if "monkeypatch" in signature(request.function).parameters:
        yield
        return
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cut_plans, "plan_fabrics", _answered)
        yield
