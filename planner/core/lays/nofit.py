"""How deep two outlines lie in each other for every vector between them, on a raster.

Two simple polygons overlap where the vector between them lies in the Minkowski sum of the one and the other turned
about. Its boundary is part of their convolution: each edge of the one laid at those corners of the other between whose
edges it turns; and the convolution winds about a vector as often as the two polygons then have parts in common
(L. Guibas, L. Ramshaw, J. Stolfi, "A kinetic framework for computational geometry", FOCS 1983; R. Wein, "Exact and
efficient construction of planar Minkowski sums using the convolution method", ESA 2006). Depth is the distance to that
boundary, carried from cell to neighbouring cell (P.-E. Danielsson, "Euclidean distance mapping", Computer Graphics
and Image Processing 14, 1980); near the boundary it is exact, farther in it may be off by a small part of a cell.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from planner.core.lays.compiled import Number, compiled, inlined

Array = NDArray[np.float64]
Floats = NDArray[np.float32]

#: Outside the sum, farther than this from it, depth is no longer told apart (cells).
_OUTSIDE = 3.0
#: A piece of an edge is on the boundary where so little beyond it nothing overlaps (cells).
_BEYOND = 0.03
#: Edges are judged in pieces no longer than this (cells).
_PIECE = 0.75


def depth_table(lies: Array, moves: Array, cell: float) -> tuple[Floats, int, int]:
    """`depth[i, j]`, first_x, first_y for the vectors (first_x + i, first_y + j) × cell from `lies` to `moves`.

    Both are rings of corners (n × 2), counter-clockwise, without the first corner again at the end. Depth is in cells,
    below 0 outside (at least −3). Beyond the table there is no overlap.
    """
    first, second = np.ascontiguousarray(lies / cell), np.ascontiguousarray(-moves / cell)
    low = np.floor(first.min(axis=0) + second.min(axis=0)).astype(np.int64) - 1
    high = np.ceil(first.max(axis=0) + second.max(axis=0)).astype(np.int64) + 1
    wide, across = (high - low + 1).tolist()
    edges, count = _convolution(first, second)
    winding = _windings(edges[:count], low[0], low[1], wide, across)
    depth = _depths(edges[:count], winding, low[0], low[1])
    return depth, int(low[0]), int(low[1])


@compiled
def _between(ux: float, uy: float, dx: float, dy: float, wx: float, wy: float, after: bool) -> bool:  # noqa: FBT001
    """Does d turn into the bend from u to w, less than half a turn counter-clockwise?

    What runs along u is taken in, along w left out; with `after` the other way round.
    """
    before, behind = ux * dy - uy * dx, dx * wy - dy * wx
    if after:
        return before > 0.0 and behind >= 0.0
    return before >= 0.0 and behind > 0.0


@compiled
def _laid_at_corners(
    ring: Array,
    other: Array,
    after: bool,  # noqa: FBT001 - compiled code has no keywords
    edges: Array,
    count: int,
) -> int:
    """Appends the edges of `ring` laid at the corners of `other`; rows of x, y, x, y, 1 or −1."""
    for c in range(len(other)):
        corner = other[c]
        ux, uy = corner[0] - other[c - 1, 0], corner[1] - other[c - 1, 1]
        n = (c + 1) % len(other)
        wx, wy = other[n, 0] - corner[0], other[n, 1] - corner[1]
        bend = ux * wy - uy * wx
        for e in range(len(ring)):
            x0, y0, x1, y1 = ring[e - 1, 0], ring[e - 1, 1], ring[e, 0], ring[e, 1]
            dx, dy = x1 - x0, y1 - y0
            if bend > 0.0 and _between(ux, uy, dx, dy, wx, wy, after):
                sign = 1.0
            elif bend < 0.0 and _between(wx, wy, dx, dy, ux, uy, after):
                sign = -1.0
            else:
                continue
            edges[count, 0], edges[count, 1] = x0 + corner[0], y0 + corner[1]
            edges[count, 2], edges[count, 3] = x1 + corner[0], y1 + corner[1]
            edges[count, 4] = sign
            count += 1
    return count


@compiled
def _convolution(first: Array, second: Array) -> tuple[Array, int]:
    edges = np.empty((2 * len(first) * len(second), 5))
    # Of edges that run alike the one counts as turning a hair later, so that none is taken twice.
    count = _laid_at_corners(first, second, False, edges, 0)
    return edges, _laid_at_corners(second, first, True, edges, count)


@compiled
def _windings(edges: Array, first_x: int, first_y: int, wide: int, high: int) -> NDArray[np.int32]:
    """How often the convolution winds about each point of the raster."""
    winding = np.zeros((wide, high), dtype=np.int32)
    for e in range(len(edges)):
        x0, y0, x1, y1 = edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
        # What runs back over a point, seen from below, winds about it counter-clockwise.
        turn = np.int32(-edges[e, 4]) if x0 < x1 else np.int32(edges[e, 4])
        left, right = min(x0, x1), max(x0, x1)
        for i in range(max(0, math.ceil(left - first_x)), min(wide, math.ceil(right - first_x))):
            y = y0 + (y1 - y0) * (first_x + i - x0) / (x1 - x0)
            j = min(high, math.ceil(y - first_y)) - 1
            if j >= 0:
                winding[i, j] += turn
    for i in range(wide):
        for j in range(high - 2, -1, -1):
            winding[i, j] += winding[i, j + 1]
    return winding


@compiled
def _winding_at(edges: Array, x: float, y: float) -> int:
    winding = 0.0
    for e in range(len(edges)):
        x0, x1 = edges[e, 0], edges[e, 2]
        if (x0 <= x) != (x1 <= x):
            y0, y1 = edges[e, 1], edges[e, 3]
            if y0 + (y1 - y0) * (x - x0) / (x1 - x0) > y:
                winding += -edges[e, 4] if x0 < x1 else edges[e, 4]
    return int(winding)


@compiled
def _all_inside(winding: NDArray[np.int32], x: float, y: float) -> bool:
    """Are all points of the raster round a place inside, two deep?"""
    i, j = int(x), int(y)
    if i < 1 or j < 1 or i + 2 >= winding.shape[0] or j + 2 >= winding.shape[1]:
        return False
    for a in range(i - 1, i + 3):
        for b in range(j - 1, j + 3):
            if winding[a, b] <= 0:
                return False
    return True


@compiled
def _boundary(edges: Array, winding: NDArray[np.int32], first_x: int, first_y: int) -> Array:
    """Pieces of edges that are on the sum's boundary, in cells from the table's first point.

    Rows of where each begins, how far it goes and one over the square of its length.
    """
    most = 0
    for e in range(len(edges)):
        if edges[e, 4] > 0:
            most += int(math.hypot(edges[e, 2] - edges[e, 0], edges[e, 3] - edges[e, 1]) / _PIECE) + 1
    pieces = np.empty((most, 5))
    count = 0
    for e in range(len(edges)):
        if edges[e, 4] < 0:
            continue  # What is laid at a hollow corner is never on the boundary.
        x0, y0 = edges[e, 0], edges[e, 1]
        dx, dy = edges[e, 2] - x0, edges[e, 3] - y0
        length = math.hypot(dx, dy)
        if length <= 0.0:
            continue
        parts = int(length / _PIECE) + 1
        for k in range(parts):
            middle = (k + 0.5) / parts
            x, y = x0 + dx * middle + dy / length * _BEYOND, y0 + dy * middle - dx / length * _BEYOND
            if _all_inside(winding, x - first_x, y - first_y) or _winding_at(edges, x, y) > 0:
                continue
            pieces[count, 0], pieces[count, 1] = x0 + dx * k / parts - first_x, y0 + dy * k / parts - first_y
            pieces[count, 2], pieces[count, 3] = dx / parts, dy / parts
            pieces[count, 4] = (parts / length) ** 2
            count += 1
    return pieces[:count]


@inlined
def _squared(piece: Array, x: float, y: float) -> Number:
    """The square of a point's distance to a piece of an edge."""
    ex, ey = x - piece[0], y - piece[1]
    share = min(1.0, max(0.0, (ex * piece[2] + ey * piece[3]) * piece[4]))
    ex -= share * piece[2]
    ey -= share * piece[3]
    return ex * ex + ey * ey


@inlined
def _carry(pieces: Array, nearest: NDArray[np.int32], square: Array, i: int, j: int, a: int, b: int) -> None:
    """What is nearest to the neighbour (a, b) may be nearest to (i, j) as well."""
    piece = nearest[a, b]
    if piece >= 0 and piece != nearest[i, j]:
        found = _squared(pieces[piece], i, j)
        if found < square[i, j]:
            square[i, j], nearest[i, j] = found, piece


@compiled
def _near_pieces(pieces: Array, nearest: NDArray[np.int32], square: Array) -> None:
    """The nearest piece of the boundary, and the square of its distance, for all points within a cell of one."""
    wide, high = square.shape
    for p in range(len(pieces)):
        piece = pieces[p]
        left, low = piece[0] + min(piece[2], 0.0), piece[1] + min(piece[3], 0.0)
        right, top = piece[0] + max(piece[2], 0.0), piece[1] + max(piece[3], 0.0)
        for i in range(max(0, int(left) - 1), min(wide, int(right) + 3)):
            for j in range(max(0, int(low) - 1), min(high, int(top) + 3)):
                found = _squared(piece, i, j)
                if found < square[i, j]:
                    square[i, j], nearest[i, j] = found, p


@compiled
def _sweep(pieces: Array, winding: NDArray[np.int32], nearest: NDArray[np.int32], square: Array) -> None:
    """Carries on what is nearest, there and back over all points inside, which have neighbours on all sides."""
    wide, high = winding.shape
    for i in range(wide):
        for j in range(high):
            if winding[i, j] > 0:
                _carry(pieces, nearest, square, i, j, i - 1, j - 1)
                _carry(pieces, nearest, square, i, j, i - 1, j)
                _carry(pieces, nearest, square, i, j, i - 1, j + 1)
                _carry(pieces, nearest, square, i, j, i, j - 1)
    for i in range(wide - 1, -1, -1):
        for j in range(high - 1, -1, -1):
            if winding[i, j] > 0:
                _carry(pieces, nearest, square, i, j, i + 1, j - 1)
                _carry(pieces, nearest, square, i, j, i + 1, j)
                _carry(pieces, nearest, square, i, j, i + 1, j + 1)
                _carry(pieces, nearest, square, i, j, i, j + 1)


@compiled
def _depths(edges: Array, winding: NDArray[np.int32], first_x: int, first_y: int) -> Floats:
    wide, high = winding.shape
    pieces = _boundary(edges, winding, first_x, first_y)
    nearest = np.full((wide, high), -1, dtype=np.int32)
    square = np.full((wide, high), 1e12)
    _near_pieces(pieces, nearest, square)
    for _ in range(2):
        _sweep(pieces, winding, nearest, square)
    depth = np.empty((wide, high), dtype=np.float32)
    for i in range(wide):
        for j in range(high):
            distance = math.sqrt(square[i, j])
            depth[i, j] = distance if winding[i, j] > 0 else -min(distance, _OUTSIDE)
    return depth
