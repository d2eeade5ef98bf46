"""Where one piece overlaps the others least: a chart of all places, the best of them followed to their bottoms.

All lengths are in cells of the raster (`depths.py`). A piece's overlap is the sum over the others of depth × weight.
Candidates are the lowest places of a coarse chart in each turn and the piece's own place; from each the piece is
pushed downhill by ever smaller steps while that helps, with depth and its slope interpolated between the points of the
raster (J. Gardeyn, G. Vanden Berghe, T. Wauters, "An open-source heuristic to reboot 2D nesting research",
arXiv:2509.13329, refine sampled places in a like manner).
"""

from __future__ import annotations

import numpy as np

from planner.core.lays.charts import FAR, LOWEST, Laid, Room, Scratch, search_chart
from planner.core.lays.compiled import Number, inlined, uncounted, unsigned
from planner.core.lays.depths import CoarseTables, Ints, Tables
from planner.core.lays.nofit import Floats

#: Steps in a follow-up begin at a coarse cell and end at this share of it; the best is followed to the last (cells).
_ROUGH, _LAST_STEP = 0.15, 0.02
#: A step that helps grows, one that does not shrinks.
_GROW, _SHRINK = np.float32(1.2), np.float32(0.5)
#: So many steps go down the slope: as little overlap is left as where both sides of each step are compared, in less
#: than half the time (measured).
_SLOPES = 0.6


@inlined
def depth_and_slope(
    depth: Floats, start: int, high: int, u: Number, v: Number
) -> tuple[Number, Number, Number]:
    """Interpolated depth, below 0 outside, and by how much it grows along and across in a cell.

    The table's first point is at (0, 0), its columns are `high` long.
    """
    column, row = np.int32(u), np.int32(v)
    at = unsigned(start + column * high + row)
    next_at = at + unsigned(high)
    along, across = u - np.float32(column), v - np.float32(row)
    low, low_slope = depth[at], depth[at + unsigned(1)] - depth[at]
    up, up_slope = depth[next_at], depth[next_at + unsigned(1)] - depth[next_at]
    below, above = low + low_slope * across, up + up_slope * across
    return below + (above - below) * along, above - below, low_slope + (up_slope - low_slope) * along


@inlined
def depth_in(depth: Floats, start: int, high: int, u: Number, v: Number) -> Number:
    """Interpolated depth, below 0 outside."""
    return depth_and_slope(depth, start, high, u, v)[0]


@uncounted
def measure(i: int, laid: Laid, fine: Tables) -> None:
    """How deep piece i and each other one lie in each other, anew."""
    pose = laid.pose[i]
    for j in range(len(laid.x)):
        if j == i:
            continue
        lies = laid.pose[j]
        u = laid.x[i] - laid.x[j] - fine.frame[lies, pose, 3]
        v = laid.y[i] - laid.y[j] - fine.frame[lies, pose, 4]
        high = fine.frame[lies, pose, 2]
        deep = np.float32(0.0)
        if u >= 0.0 and v >= 0.0 and u < fine.frame[lies, pose, 1] - 1 and v < high - 1:
            deep = max(
                np.float32(0.0), np.float32(depth_in(fine.depth, fine.frame[lies, pose, 0], high, u, v))
            )
        laid.deep[i, j] = deep
        laid.deep[j, i] = deep


@uncounted
def gather(i: int, turn: int, laid: Laid, room: Room, fine: Tables, scratch: Scratch) -> None:
    """What piece i may meet in one of its turns, side by side in memory: where each table begins, its size, weight."""
    pose = room.turns[i, turn]
    within = room.within[pose]
    met, starts = scratch.met[turn], scratch.starts[turn]
    count = 0
    for j in range(len(laid.x)):
        if j == i:
            continue
        lies = laid.pose[j]
        x, y = laid.x[j] + fine.frame[lies, pose, 3], laid.y[j] + fine.frame[lies, pose, 4]
        wide, high = fine.frame[lies, pose, 1], fine.frame[lies, pose, 2]
        if x + wide <= within[0] or x > within[1] or y + high <= within[2] or y > within[3]:
            continue
        met[count, 0], met[count, 1], met[count, 4] = x, y, laid.weight[i, j]
        met[count, 2], met[count, 3] = wide - 1, high - 1
        starts[count, 0], starts[count, 1] = fine.frame[lies, pose, 0], high
        count += 1
    scratch.met_count[turn] = count


@uncounted
def _near(
    x: Number,
    y: Number,
    reach: Number,
    met: Floats,
    starts: Ints,
    count: int,
    near: Floats,
    near_starts: Ints,
) -> int:
    """Those of them that can be met within reach of a place, side by side in memory; how many."""
    found = 0
    for k in range(count):
        u, v = x - met[k, 0], y - met[k, 1]
        if u > -reach and v > -reach and u < met[k, 2] + reach and v < met[k, 3] + reach:
            for n in range(5):
                near[found, n] = met[k, n]
            near_starts[found, 0], near_starts[found, 1] = starts[k, 0], starts[k, 1]
            found += 1
    return found


@uncounted
def _overlap(
    x: Number, y: Number, count: int, most: Number, met: Floats, starts: Ints, depth: Floats
) -> tuple[Number, Number, Number]:
    """The overlap at a place, and by how much it grows along and across; far where it reaches `most`."""
    total, along, across = np.float32(0.0), np.float32(0.0), np.float32(0.0)
    for k in range(unsigned(count)):
        u, v = x - met[k, 0], y - met[k, 1]
        if u < 0.0 or v < 0.0 or u >= met[k, 2] or v >= met[k, 3]:
            continue
        deep, by_u, by_v = depth_and_slope(depth, starts[k, 0], starts[k, 1], u, v)
        if deep > 0.0:
            total += deep * met[k, 4]
            if total >= most:
                return FAR, along, across
            along += by_u * met[k, 4]
            across += by_v * met[k, 4]
    return total, along, across


@uncounted
def _follow(
    x: Number,
    y: Number,
    first_step: Number,
    last_step: Number,
    within: Floats,
    count: int,
    met: Floats,
    starts: Ints,
    depth: Floats,
) -> tuple[Number, Number, Number]:
    """From a place downhill: steps along the slope, now and then along, across or both, to the side that falls.

    Where two overlaps meet as in a gutter the slope points from side to side of it; there the other ways help.
    """
    value, along, across = _overlap(x, y, count, FAR, met, starts, depth)
    step = first_step
    while value > 0.0 and step > last_step:
        steep = np.sqrt(along * along + across * across)
        if steep > 0.0 and np.random.random() < _SLOPES:
            by_x, by_y = -step * along / steep, -step * across / steep
        else:
            way = np.random.randint(4)
            by_x = np.float32(0.0) if way == 1 else step
            by_y = np.float32(0.0) if way == 0 else -step if way == 3 else step
            if by_x * along + by_y * across > 0.0:
                by_x, by_y = -by_x, -by_y
        there_x, there_y = min(within[1], max(within[0], x + by_x)), min(within[3], max(within[2], y + by_y))
        there, there_along, there_across = _overlap(there_x, there_y, count, value, met, starts, depth)
        if there < value:
            x, y, value, along, across = there_x, there_y, there, there_along, there_across
            step *= _GROW
        else:
            step *= _SHRINK
    return x, y, value


@uncounted
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
    near, near_starts = scratch.near, scratch.near_starts
    count = _near(
        x,
        y,
        8 * first_step,
        scratch.met[turn],
        scratch.starts[turn],
        scratch.met_count[turn],
        near,
        near_starts,
    )
    return _follow(x, y, first_step, last_step, within, count, near, near_starts, fine.depth)


@uncounted
def place(
    i: int,
    near_by: bool,  # noqa: FBT001 - compiled code has no keywords
    laid: Laid,
    room: Room,
    fine: Tables,
    coarse: CoarseTables,
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
