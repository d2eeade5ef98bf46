"""What keeps pieces apart while all of them are moved a little.

Two pieces overlap where the vector between their reference points lies inside the no-fit polygon of the pair, the
Minkowski sum of the one and the other turned about (E. Burke et al., "Complete and robust no-fit polygon generation",
European Journal of Operational Research 179, 2007). Sums of convex parts are convex, and their edges those of both
parts: two parts are apart as long as one lies beyond an edge of the other. Of all their edges that one is chosen which
they lie farthest beyond.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from planner.core.lays.compiled import uncounted
from planner.core.lays.poses import Array, Poses, turned

Counts = NDArray[np.int64]

#: Room for so many sides at first, for each piece.
_SIDES = 64
#: Normals of unit length that differ by less are the same.
_HAIR = 1e-12


class Parts(NamedTuple):
    """The convex parts of all poses, a pose being 4 × shape + quarter turn.

    Pose p has `part_count[p]` parts; part k has `corner_count[p, k]` corners, which are the first of `corners[p, k]`,
    and as many outward `normals[p, k]` of unit length; its edges lie as far out as `reach[p, k]`, and `box[p, k]` are
    its bounds: first x and y, last x and y; `bounds[p]` the pose's.
    """

    part_count: Counts
    corner_count: Counts
    corners: Array
    normals: Array
    reach: Array
    box: Array
    bounds: Array


class Sides(NamedTuple):
    """normal · (move of second - move of first) >= least, for two pieces near each other and all their normals."""

    first: NDArray[np.int32]
    second: NDArray[np.int32]
    normal: Array
    least: Array


def parts_of(poses: Poses) -> Parts:
    """All parts of all poses, each filled up to the same number of corners with its first one."""
    shapes = poses.parts
    shape = (len(shapes), max(len(parts) for parts in shapes), max(len(p) for ps in shapes for p in ps), 2)
    corners, counts = np.zeros(shape), np.zeros(shape[:2], dtype=np.int64)
    for s, parts in enumerate(shapes):
        for k, part in enumerate(parts):
            corners[s, k], counts[s, k] = part[0], len(part)
            corners[s, k, : len(part)] = part
    along = np.roll(corners, -1, axis=2) - corners
    outward = np.stack([along[..., 1], -along[..., 0]], axis=-1)
    # Where a part was filled up an edge has no length: the part's first edge stands in for it.
    outward = np.where(np.any(outward != 0, axis=-1, keepdims=True), outward, outward[:, :, :1])
    length = np.hypot(outward[..., 0], outward[..., 1])[..., None]
    normals = outward / np.where(length > 0, length, 1.0)
    corners, normals = (
        np.stack([turned(a, q) for q in range(4)], axis=1).reshape(-1, *shape[1:]) for a in (corners, normals)
    )
    return Parts(
        np.repeat([len(parts) for parts in shapes], 4),
        np.repeat(counts, 4, axis=0),
        corners,
        normals,
        np.einsum("pkec,pkec->pke", normals, corners),
        np.concatenate([corners.min(axis=2), corners.max(axis=2)], axis=2),
        np.array(poses.bounds).reshape(-1, 4),
    )


def sides(parts: Parts, points: Array, pose: Sequence[int], step: float) -> Sides:
    """What keeps all pieces apart while each is moved at most `step` along and across.

    `points` (n × 2) are the reference points, `pose` the poses. Overlapping parts have a `least` above 0: by so much
    they are to be pushed apart. What is farther apart than two such steps stays apart and is left out.
    """
    poses = np.asarray(pose, dtype=np.int64)
    room = _SIDES * len(points)
    while True:
        first, second = np.empty(room, dtype=np.int32), np.empty(room, dtype=np.int32)
        normal, least = np.empty((room, 2)), np.empty(room)
        found = _sides(parts, points, poses, step, first, second, normal, least)
        if found <= room:
            return Sides(first[:found], second[:found], normal[:found], least[:found])
        room = found


@uncounted
def _sides(
    parts: Parts,
    points: Array,
    pose: Counts,
    step: float,
    first: NDArray[np.int32],
    second: NDArray[np.int32],
    normal: Array,
    least: Array,
) -> int:
    """Fills the four arrays as far as they go; how many sides there are."""
    found = 0
    bounds, box = parts.bounds, parts.box
    for i in range(len(points)):
        for j in range(i + 1, len(points)):
            p, r = pose[i], pose[j]
            x, y = points[j, 0] - points[i, 0], points[j, 1] - points[i, 1]
            if (
                bounds[r, 0] + x - bounds[p, 2] > 2 * step
                or bounds[p, 0] - bounds[r, 2] - x > 2 * step
                or bounds[r, 1] + y - bounds[p, 3] > 2 * step
                or bounds[p, 1] - bounds[r, 3] - y > 2 * step
            ):
                continue
            of_pair = found
            for k in range(parts.part_count[p]):
                for m in range(parts.part_count[r]):
                    if (
                        box[r, m, 0] + x - box[p, k, 2] > 2 * step
                        or box[p, k, 0] - box[r, m, 2] - x > 2 * step
                        or box[r, m, 1] + y - box[p, k, 3] > 2 * step
                        or box[p, k, 1] - box[r, m, 3] - y > 2 * step
                    ):
                        continue
                    beyond, nx, ny = _farthest(
                        parts.corners, parts.normals, parts.reach, parts.corner_count, p, k, r, m, x, y
                    )
                    if beyond >= 2 * step * (abs(nx) + abs(ny)):
                        continue
                    same = _same(normal, of_pair, min(found, len(first)), nx, ny)
                    if same >= 0:
                        least[same] = max(least[same], -beyond)
                        continue
                    if found < len(first):
                        first[found], second[found], least[found] = i, j, -beyond
                        normal[found, 0], normal[found, 1] = nx, ny
                    found += 1
    return found


@uncounted
def _same(normal: Array, start: int, end: int, nx: float, ny: float) -> int:
    """Which side from start on, before end, has that normal; -1 where none has."""
    for n in range(start, end):
        if abs(normal[n, 0] - nx) + abs(normal[n, 1] - ny) < _HAIR:
            return n
    return -1


@uncounted
def _farthest(
    corners: Array,
    normals: Array,
    reach: Array,
    corner_count: Counts,
    p: int,
    k: int,
    r: int,
    m: int,
    x: float,
    y: float,
) -> tuple[float, float, float]:
    """How far part m of pose r, moved by (x, y), lies beyond an edge of part k of pose p or the other way round.

    That of the edge it lies farthest beyond, and that edge's normal, from the first part outward.
    """
    best, best_x, best_y = -np.inf, 0.0, 0.0
    for turn in range(2):
        own, own_part, other, other_part = (p, k, r, m) if turn == 0 else (r, m, p, k)
        sign = 1.0 if turn == 0 else -1.0
        for e in range(corner_count[own, own_part]):
            nx, ny = normals[own, own_part, e, 0], normals[own, own_part, e, 1]
            away = sign * (nx * x + ny * y) - reach[own, own_part, e]
            nearest = np.inf
            for c in range(corner_count[other, other_part]):
                nearest = min(
                    nearest, nx * corners[other, other_part, c, 0] + ny * corners[other, other_part, c, 1]
                )
                if away + nearest <= best:
                    break
            if away + nearest > best:
                best, best_x, best_y = away + nearest, sign * nx, sign * ny
    return best, best_x, best_y
