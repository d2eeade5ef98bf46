"""A chart of all places of one piece: how much it would overlap the others there, and where that is least.

All lengths are in cells of the raster (`depths.py`). A piece's overlap is the sum over the others of depth × weight.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from planner.core.lays.compiled import Number, inlined, uncounted, unsigned
from planner.core.lays.depths import SPARE, CoarseTables, Ints
from planner.core.lays.nofit import Floats

#: Lowest places of the chart that are followed.
LOWEST = 3
#: Sides of the blocks of the chart of which each gives its lowest point.
_BLOCK = 8
#: More than any overlap.
FAR = np.float32(1e30)


class Laid(NamedTuple):
    """Reference points and poses of all pieces, the weights of their overlaps and how deep they lie in each other."""

    x: Floats
    y: Floats
    pose: Ints
    weight: Floats
    deep: Floats


class Room(NamedTuple):
    """`within[pose]`: first and last x, first and last y of a reference point, and the pose's length and width.

    `turns[piece]` holds the poses a piece may take, of which there are `turn_count[piece]`.
    """

    within: Floats
    turns: Ints
    turn_count: Ints


class Scratch(NamedTuple):
    """Room to work in, for one piece after the other.

    `chart` holds a point in each place, columns along the strip, and `points` are the same in one row; `lowest` is the
    lowest of each row in eight columns.
    `met[turn]` and `starts[turn]` hold what the piece may meet in that turn, of which there are `met_count[turn]` (see
    `gather` in `places.py`): where it begins, the last of its points along and across, its weight; and where its table
    begins and how long the columns there are. `near` and `near_starts` are those of them that are near one place.
    `found` are the lowest places yet, with what is overlapped there, and `found_turn` the turns they are for; last
    comes where the piece lies.
    """

    chart: Floats
    points: Floats
    lowest: Floats
    met: Floats
    starts: Ints
    met_count: Ints
    near: Floats
    near_starts: Ints
    found: Floats
    found_turn: Ints


def scratch_for(pieces: int, columns: int, rows: int) -> Scratch:
    """Enough of it for so many pieces and a chart of so many coarse cells."""
    chart = np.zeros((_whole_blocks(columns), _whole_blocks(rows) + _BLOCK), dtype=np.float32)
    return Scratch(
        chart,
        chart.reshape(-1),
        np.zeros(_whole_blocks(rows) + _BLOCK, dtype=np.float32),
        np.zeros((4, pieces, 5), dtype=np.float32),
        np.zeros((4, pieces, 2), dtype=np.int64),
        np.zeros(4, dtype=np.int64),
        np.zeros((pieces, 5), dtype=np.float32),
        np.zeros((pieces, 2), dtype=np.int64),
        np.zeros((LOWEST + 1, 3), dtype=np.float32),
        np.zeros(LOWEST + 1, dtype=np.int64),
    )


@inlined
def _whole_blocks(points: int) -> int:
    return (points + _BLOCK - 1) // _BLOCK * _BLOCK


@uncounted
def _draw_chart(
    i: int,
    pose: int,
    x0: int,
    y0: int,
    columns: int,
    rows: int,
    laid: Laid,
    coarse: CoarseTables,
    scratch: Scratch,
) -> None:
    """The overlap of piece i at the points (x0 + a, y0 + b) of the coarse raster; far in what fills up its blocks."""
    points, stride = scratch.points, scratch.chart.shape[1]
    high = _whole_blocks(rows)
    # Point by point throughout: to take a part out of an array takes longer than to read it.
    for n in range(unsigned(columns * stride)):
        points[n] = np.float32(0.0)
    for j in range(len(laid.x)):
        if j == i:
            continue
        lies = laid.pose[j]
        start, wide, deep = (
            coarse.frame[lies, pose, 0],
            coarse.frame[lies, pose, 1],
            coarse.frame[lies, pose, 2],
        )
        x = int(np.round(laid.x[j] / coarse.step)) + coarse.frame[lies, pose, 3] - x0
        y = int(np.round(laid.y[j] / coarse.step)) + coarse.frame[lies, pose, 4] - y0
        low = max(y, 0)
        count = min(y + deep - SPARE, rows) - low
        first, last = max(x, 0), min(x + wide, columns)
        if count <= 0 or last <= first:
            continue
        weight, whole = laid.weight[i, j] * coarse.unit, unsigned(_whole_blocks(count))
        at, to = unsigned(start + (first - x) * deep + low - y), unsigned(first * stride + low)
        for _ in range(first, last):
            for b in range(whole):
                points[to + b] += weight * np.float32(coarse.depth[at + b])
            at += unsigned(deep)
            to += unsigned(stride)
    for a in range(columns):
        for n in range(unsigned(a * stride + rows), unsigned(a * stride + high)):
            points[n] = FAR
    for n in range(unsigned(columns * stride), unsigned(_whole_blocks(columns) * stride)):
        points[n] = FAR


@uncounted
def _note(x: Number, y: Number, value: Number, turn: int, scratch: Scratch) -> None:
    """Takes a place up among the lowest, in their order, where it is lower than the last of them."""
    found, turns = scratch.found, scratch.found_turn
    q = LOWEST - 1
    if value >= found[q, 2]:
        return
    while q > 0 and found[q - 1, 2] > value:
        # One by one: for a whole row the compiler brings along how a fault in its size is worded, for seconds.
        for n in range(3):
            found[q, n] = found[q - 1, n]
        turns[q] = turns[q - 1]
        q -= 1
    found[q, 0], found[q, 1], found[q, 2] = x, y, value
    turns[q] = turn


@inlined
def _lesser(one: Number, other: Number) -> Number:
    return one if one < other else other


@uncounted
def _lowest_of_block(points: Floats, at: Number, stride: Number, high: Number, lowest: Floats) -> None:
    """The lowest point of each row in eight columns side by side."""
    middle = at + stride * unsigned(4)
    a, b, c, d = at, at + stride, at + stride * unsigned(2), at + stride * unsigned(3)
    e, f, g, h = middle, middle + stride, middle + stride * unsigned(2), middle + stride * unsigned(3)
    for row in range(high):
        first = _lesser(_lesser(points[a + row], points[b + row]), _lesser(points[c + row], points[d + row]))
        last = _lesser(_lesser(points[e + row], points[f + row]), _lesser(points[g + row], points[h + row]))
        lowest[row] = _lesser(first, last)


@uncounted
def _lowest(
    x0: int, y0: int, columns: int, rows: int, step: int, turn: int, within: Floats, scratch: Scratch
) -> None:
    """Notes the lowest point of each block of the chart; among points as low any."""
    chart, points, lowest = scratch.chart, scratch.points, scratch.lowest
    stride = chart.shape[1]
    for left in range(0, columns, _BLOCK):
        # Over eight columns side by side first, many points at once.
        _lowest_of_block(
            points, unsigned(left * stride), unsigned(stride), unsigned(_whole_blocks(rows)), lowest
        )
        for low in range(0, rows, _BLOCK):
            value = FAR
            for b in range(low, low + _BLOCK):
                value = lowest[b] if lowest[b] < value else value
            if value >= scratch.found[LOWEST - 1, 2]:
                continue
            at_a, at_b = 0, 0
            for a in range(left, left + _BLOCK):
                for b in range(low, low + _BLOCK):
                    if chart[a, b] == value:
                        at_a, at_b = a, b
            x = min(within[1], max(within[0], np.float32((x0 + at_a) * step)))
            y = min(within[3], max(within[2], np.float32((y0 + at_b) * step)))
            _note(x, y, value + np.float32(np.random.random() * 0.01), turn, scratch)


@uncounted
def search_chart(
    i: int,
    turn: int,
    near_by: bool,  # noqa: FBT001 - compiled code has no keywords
    laid: Laid,
    room: Room,
    coarse: CoarseTables,
    scratch: Scratch,
) -> None:
    """The lowest places of piece i in one of its turns, over the whole strip or near where it lies."""
    pose = room.turns[i, turn]
    within = room.within[pose]
    if within[1] < within[0]:
        return
    step = coarse.step
    x0, x1 = math.ceil(within[0] / step), math.floor(within[1] / step)
    y0, y1 = math.ceil(within[2] / step), math.floor(within[3] / step)
    if near_by:
        reach, middle = int(within[4] * 0.6 / step) + 2, int(laid.x[i] / step)
        x0, x1 = max(x0, min(middle - reach, x1)), min(x1, max(middle + reach, x0))
    columns = min(max(x1 - x0, 0) + 1, scratch.chart.shape[0])
    rows = min(max(y1 - y0, 0) + 1, scratch.chart.shape[1] - _BLOCK)
    _draw_chart(i, pose, x0, y0, columns, rows, laid, coarse, scratch)
    _lowest(x0, y0, columns, rows, step, turn, within, scratch)
