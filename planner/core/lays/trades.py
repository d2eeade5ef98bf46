"""Two pieces of about the same size change places while overlaps are sought away, where that leaves less of them.

All lengths are in cells of the raster (`depths.py`). What one piece alone cannot mend, a larger and a smaller one can:
where a row is too tight by a little and another has a little to spare.
"""

from __future__ import annotations

import numpy as np

from planner.core.lays.charts import FAR, Laid, Room, Scratch
from planner.core.lays.compiled import Number, inlined, uncounted
from planner.core.lays.depths import Ints, Tables
from planner.core.lays.nofit import Floats
from planner.core.lays.places import depth_in, followed, gather, measure

#: The last step by which each of the two is moved where the other was.
_LAST_STEP = np.float32(0.05)


@inlined
def _deep(u: Number, v: Number, lies: int, moves: int, fine: Tables) -> Number:
    """How deep a pose lies in one that is (-u, -v) from it; 0 where they are apart."""
    right, up = u - fine.frame[lies, moves, 3], v - fine.frame[lies, moves, 4]
    high = fine.frame[lies, moves, 2]
    if right < 0.0 or up < 0.0 or right >= fine.frame[lies, moves, 1] - 1 or up >= high - 1:
        return np.float32(0.0)
    return max(np.float32(0.0), np.float32(depth_in(fine.depth, fine.frame[lies, moves, 0], high, right, up)))


@inlined
def _cost(i: int, x: Number, y: Number, pose: int, skip: int, laid: Laid, fine: Tables) -> Number:
    """The overlap of piece i with all others but `skip`, were it there."""
    total = np.float32(0.0)
    for j in range(len(laid.x)):
        if j in (i, skip):
            continue
        total += _deep(x - laid.x[j], y - laid.y[j], laid.pose[j], pose, fine) * laid.weight[i, j]
    return total


@inlined
def _own(i: int, j: int, laid: Laid) -> Number:
    """The overlap of both pieces with all others and each other."""
    total = np.float32(0.0)
    for k in range(len(laid.x)):
        total += laid.weight[i, k] * laid.deep[i, k] + laid.weight[j, k] * laid.deep[j, k]
    return total - laid.weight[i, j] * laid.deep[i, j]


@uncounted
def _turned_as(piece: int, pose: int, room: Room, own: int) -> int:
    """The piece's pose in the same quarter turn as another's, its own where it may not be turned so."""
    for t in range(room.turn_count[piece]):
        if room.turns[piece, t] % 4 == pose % 4:
            return int(room.turns[piece, t])
    return own


@uncounted
def _middle_there(
    piece_pose: int, x: Number, y: Number, other_pose: int, middle: Floats, room: Room
) -> tuple[Number, Number]:
    """Where the middle of its bounds is that of the other's."""
    within = room.within[piece_pose]
    there_x = x + middle[other_pose, 0] - middle[piece_pose, 0]
    there_y = y + middle[other_pose, 1] - middle[piece_pose, 1]
    return min(within[1], max(within[0], there_x)), min(within[3], max(within[2], there_y))


@uncounted
def _settle(i: int, laid: Laid, room: Room, fine: Tables, scratch: Scratch, step: Number) -> None:
    """Piece i moved downhill from where it lies."""
    pose = laid.pose[i]
    turn: Number = np.int64(0)  # a plain 0 would have all that is told it compiled twice
    for t in range(room.turn_count[i]):
        if room.turns[i, t] == pose:
            turn = t
    gather(i, turn, laid, room, fine, scratch)
    x, y, _ = followed(laid.x[i], laid.y[i], turn, room.within[pose], step, _LAST_STEP, fine, scratch)
    laid.x[i], laid.y[i] = x, y
    measure(i, laid, fine)


@uncounted
def _places(
    i: int, j: int, middle: Floats, laid: Laid, room: Room
) -> tuple[Number, Number, int, Number, Number, int]:
    """Where each of two pieces would go in place of the other, and in which poses: first i, then j."""
    pose_i = _turned_as(i, laid.pose[j], room, laid.pose[i])
    pose_j = _turned_as(j, laid.pose[i], room, laid.pose[j])
    xi, yi = _middle_there(pose_i, laid.x[j], laid.y[j], laid.pose[j], middle, room)
    xj, yj = _middle_there(pose_j, laid.x[i], laid.y[i], laid.pose[i], middle, room)
    return xi, yi, pose_i, xj, yj, pose_j


@uncounted
def _best_partner(
    i: int, partners: Ints, middle: Floats, laid: Laid, room: Room, fine: Tables
) -> tuple[int, Number]:
    """With whom a change leaves least more overlap than now, before anything is moved; −1 where there is nobody."""
    best, least = -1, FAR
    for n in range(len(partners)):
        j = partners[n]
        if j < 0:
            break
        xi, yi, pose_i, xj, yj, pose_j = _places(i, j, middle, laid, room)
        more = _deep(xi - xj, yi - yj, pose_j, pose_i, fine) * laid.weight[i, j] - _own(i, j, laid)
        more += _cost(i, xi, yi, pose_i, j, laid, fine) + _cost(j, xj, yj, pose_j, i, laid, fine)
        if more < least:
            best, least = j, more
    return best, least


@uncounted
def trade(
    i: int,
    partners: Ints,
    middle: Floats,
    laid: Laid,
    room: Room,
    fine: Tables,
    scratch: Scratch,
    step: Number,
) -> bool:
    """Piece i changes places with one of `partners` (−1 behind the last), and both are moved a little there.

    `middle[pose]` is the middle of a pose's bounds from its reference point, `step` the first step of the moves. True
    where less weighted overlap is left; else nothing is changed.
    """
    j, more = _best_partner(i, partners, middle, laid, room, fine)
    if j < 0:
        return False
    now = _own(i, j, laid)
    if more > now:
        return False
    kept = (laid.x[i], laid.y[i], laid.pose[i], laid.x[j], laid.y[j], laid.pose[j])
    xi, yi, pose_i, xj, yj, pose_j = _places(i, j, middle, laid, room)
    laid.x[i], laid.y[i], laid.pose[i] = xi, yi, pose_i
    laid.x[j], laid.y[j], laid.pose[j] = xj, yj, pose_j
    measure(j, laid, fine)
    _settle(i, laid, room, fine, scratch, step)
    _settle(j, laid, room, fine, scratch, step)
    if _own(i, j, laid) < now:
        return True
    laid.x[i], laid.y[i], laid.pose[i], laid.x[j], laid.y[j], laid.pose[j] = kept
    measure(i, laid, fine)
    measure(j, laid, fine)
    return False
