"""Where one piece overlaps the others least: a chart of all places, the best of them followed to their bottoms.

All lengths are in cells of the raster (`depths.py`). A piece's overlap is the sum over the others of depth × weight.
Candidates are the lowest places of a coarse chart in each turn and the piece's own place; from each the piece is
pushed along and across by ever smaller steps while that helps, with depth interpolated between the points of the
raster (J. Gardeyn, G. Vanden Berghe, T. Wauters, "An open-source heuristic to reboot 2D nesting research",
arXiv:2509.13329, refine sampled places in the same manner).
"""

from __future__ import annotations

import numpy as np

from planner.core.lays.charts import FAR, LOWEST, Laid, Room, Scratch, search_chart
from planner.core.lays.compiled import Number, compiled, inlined
from planner.core.lays.depths import Ints, Tables
from planner.core.lays.nofit import Floats

#: Steps in a follow-up begin at a coarse cell and end at this share of it; the best is followed to the last (cells).
_ROUGH, _LAST_STEP = 0.15, 0.02
#: A step that helps grows, one that does not shrinks; along a diagonal each by the root of that.
_GROW, _SHRINK = np.float32(1.1), np.float32(0.5)
_GROW_BOTH, _SHRINK_BOTH = np.float32(1.0488), np.float32(0.7071)


@inlined
def depth_in(depth: Floats, start: int, high: int, u: Number, v: Number) -> Number:
    """Interpolated depth, below 0 outside; the table's first point is at (0, 0), its columns are `high` long."""
    column, row = int(u), int(v)
    at = start + column * high + row
    across, along = np.float32(v - row), np.float32(u - column)
    low = depth[at] + (depth[at + 1] - depth[at]) * across
    up = depth[at + high] + (depth[at + high + 1] - depth[at + high]) * across
    return low + (up - low) * along


@compiled
def measure(i: int, laid: Laid, fine: Tables) -> None:
    """How deep piece i and each other one lie in each other, anew."""
    pose = laid.pose[i]
    for j in range(len(laid.x)):
        if j == i:
            continue
        frame = fine.frame[laid.pose[j], pose]
        u, v = laid.x[i] - laid.x[j] - frame[3], laid.y[i] - laid.y[j] - frame[4]
        deep = np.float32(0.0)
        if u >= 0.0 and v >= 0.0 and u < frame[1] - 1 and v < frame[2] - 1:
            deep = max(np.float32(0.0), np.float32(depth_in(fine.depth, frame[0], frame[2], u, v)))
        laid.deep[i, j] = deep
        laid.deep[j, i] = deep


@compiled
def gather(i: int, turn: int, laid: Laid, room: Room, fine: Tables, scratch: Scratch) -> None:
    """What piece i may meet in one of its turns, side by side in memory: where each table begins, its size, weight."""
    pose = room.turns[i, turn]
    within = room.within[pose]
    met, starts = scratch.met[turn], scratch.starts[turn]
    count = 0
    for j in range(len(laid.x)):
        if j == i:
            continue
        frame = fine.frame[laid.pose[j], pose]
        x, y = laid.x[j] + frame[3], laid.y[j] + frame[4]
        if x + frame[1] <= within[0] or x > within[1] or y + frame[2] <= within[2] or y > within[3]:
            continue
        met[count, 0], met[count, 1], met[count, 4] = x, y, laid.weight[i, j]
        met[count, 2], met[count, 3] = frame[1] - 1, frame[2] - 1
        starts[count, 0], starts[count, 1] = frame[0], frame[2]
        count += 1
    scratch.met_count[turn] = count


@compiled
def _near(x: Number, y: Number, reach: Number, met: Floats, count: int, near: Ints) -> int:
    """Which of them can be met within reach of a place."""
    found = 0
    for k in range(count):
        u, v = x - met[k, 0], y - met[k, 1]
        if u > -reach and v > -reach and u < met[k, 2] + reach and v < met[k, 3] + reach:
            near[found] = k
            found += 1
    return found


@compiled
def _overlap(
    x: Number, y: Number, near: Ints, count: int, most: Number, met: Floats, starts: Ints, depth: Floats
) -> Number:
    """The overlap at a place; far where it reaches `most`."""
    total = np.float32(0.0)
    for n in range(count):
        k = near[n]
        u, v = x - met[k, 0], y - met[k, 1]
        if u < 0.0 or v < 0.0 or u >= met[k, 2] or v >= met[k, 3]:
            continue
        deep = np.float32(depth_in(depth, starts[k, 0], starts[k, 1], u, v))
        if deep > 0.0:
            total += deep * met[k, 4]
            if total >= most:
                return FAR
    return total


@compiled
def _follow(
    x: Number,
    y: Number,
    first_step: Number,
    last_step: Number,
    within: Floats,
    near: Ints,
    count: int,
    met: Floats,
    starts: Ints,
    depth: Floats,
) -> tuple[Number, Number, Number]:
    """From a place downhill: steps along, across or both, growing where they help and shrinking where not."""
    value = _overlap(x, y, near, count, FAR, met, starts, depth)
    step_x, step_y = first_step, first_step
    while value > 0.0 and (step_x > last_step or step_y > last_step):
        way = np.random.randint(4)
        by_x = np.float32(0.0) if way == 1 else step_x
        by_y = np.float32(0.0) if way == 0 else -step_y if way == 3 else step_y
        there_x, there_y = min(within[1], max(within[0], x + by_x)), min(within[3], max(within[2], y + by_y))
        back_x, back_y = min(within[1], max(within[0], x - by_x)), min(within[3], max(within[2], y - by_y))
        there = _overlap(there_x, there_y, near, count, value, met, starts, depth)
        back = _overlap(back_x, back_y, near, count, min(value, there), met, starts, depth)
        helps = there < value or back < value
        if back < value:
            x, y, value = back_x, back_y, back
        elif there < value:
            x, y, value = there_x, there_y, there
        if way == 0:
            step_x *= _GROW if helps else _SHRINK
        elif way == 1:
            step_y *= _GROW if helps else _SHRINK
        else:
            step_x *= _GROW_BOTH if helps else _SHRINK_BOTH
            step_y *= _GROW_BOTH if helps else _SHRINK_BOTH
    return x, y, value


@compiled
def followed(
    x: Number,
    y: Number,
    turn: int,
    within: Floats,
    first_step: Number,
    last_step: Number,
    fine: Tables,
    scratch: Scratch,
) -> tuple[Number, Number, Number]:
    """Downhill from a place in one of its turns, among what was gathered for it: where that ends and what is left."""
    met, near = scratch.met[turn], scratch.near
    count = _near(x, y, 8 * first_step, met, scratch.met_count[turn], near)
    return _follow(x, y, first_step, last_step, within, near, count, met, scratch.starts[turn], fine.depth)


@compiled
def place(
    i: int,
    near_by: bool,  # noqa: FBT001 - compiled code has no keywords
    laid: Laid,
    room: Room,
    fine: Tables,
    coarse: Tables,
    scratch: Scratch,
) -> bool:
    """Piece i goes to the best place found for it, where that is better than its own; True where it did."""
    now = np.float32(0.0)
    for j in range(len(laid.x)):
        now += laid.weight[i, j] * laid.deep[i, j]
    found, turns = scratch.found, scratch.found_turn
    found[:, 2] = FAR
    for turn in range(room.turn_count[i]):
        search_chart(i, turn, near_by, laid, room, coarse, scratch)
        gather(i, turn, laid, room, fine, scratch)
        if room.turns[i, turn] == laid.pose[i]:
            found[LOWEST, 0], found[LOWEST, 1], found[LOWEST, 2] = laid.x[i], laid.y[i], now
            turns[LOWEST] = turn
    best, value, step = -1, FAR, np.float32(coarse.step)
    for c in range(LOWEST + 1):
        if found[c, 2] >= FAR:
            continue
        within = room.within[room.turns[i, turns[c]]]
        x, y, left = followed(
            found[c, 0],
            found[c, 1],
            turns[c],
            within,
            step,
            step * np.float32(_ROUGH),
            fine,
            scratch,
        )
        found[c, 0], found[c, 1] = x, y
        if left < value:
            best, value = c, left
        if left <= 0.0:
            break
    if best < 0:
        return False
    pose = room.turns[i, turns[best]]
    x, y, left = followed(
        found[best, 0],
        found[best, 1],
        turns[best],
        room.within[pose],
        step * np.float32(2 * _ROUGH),
        np.float32(_LAST_STEP),
        fine,
        scratch,
    )
    if left >= now:
        return False
    laid.x[i], laid.y[i], laid.pose[i] = x, y, pose
    measure(i, laid, fine)
    return True
