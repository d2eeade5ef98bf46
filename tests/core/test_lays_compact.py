"""Compaction asks only for sides near by at first, and for the others where that was not enough."""

import numpy as np
import pytest

from planner.core.lays import compact
from planner.core.lays.poses import Poses
from planner.core.lays.sides import parts_of, sides
from planner.core.lays.solver import Shape, Strip

HOOK = ((0.0, 0.0), (90.0, 0.0), (90.0, 30.0), (30.0, 30.0), (30.0, 80.0), (0.0, 80.0))
HEIGHT, STEP = 300.0, 6.0
pytestmark = pytest.mark.usefixtures("compiled_search")


def test_sides_that_were_left_out_at_first_are_kept_as_well(monkeypatch):
    """Eight hooks anywhere in a strip of 300, forty times: whatever lies apart stays so in a round of moves, and some
    rounds would not keep to it by the sides near by alone."""
    was_enough = []
    kept = compact._kept
    monkeypatch.setattr(
        compact, "_kept", lambda rows, moves: was_enough.append(kept(rows, moves)) or was_enough[-1]
    )
    poses = Poses(Strip(HEIGHT, 0.0, (Shape(HOOK, 8, (0.0, 180.0)),)))
    parts, random = parts_of(poses), np.random.default_rng(1)
    for _ in range(40):
        points = np.column_stack([random.uniform(60, 500, 8), random.uniform(60, 240, 8)])
        quarters = random.choice([0, 2], 8).tolist()
        found = compact._round(compact._solver(), poses, parts, points, quarters)
        assert found is not None
        rows = sides(parts, points, quarters, STEP)
        moves = found.points - points
        apart = ((moves[rows.second] - moves[rows.first]) * rows.normal).sum(axis=1)
        lay_apart = rows.least <= 0
        assert (apart[lay_apart] >= rows.least[lay_apart] - 1e-6).all()
    assert 0 < was_enough.count(False) < len(was_enough) == 40
