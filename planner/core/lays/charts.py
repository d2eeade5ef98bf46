"""A chart of all places of one piece: how much it would overlap the others there, and where that is least.

All lengths are in cells of the raster (`depths.py`). A piece's overlap is the sum over the others of depth × weight.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from planner.core.lays.compiled import Number, compiled, inlined
from planner.core.lays.depths import Ints, Tables
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
    """Room to work in: a chart, and for each turn what the piece may meet there (see :func:`gather`)."""

    chart: Floats
    met: Floats
    starts: Ints
    met_count: Ints
    near: Ints
    found: Floats
    found_turn: Ints


def scratch_for(pieces: int, columns: int, rows: int) -> Scratch:
    """Enough of it for so many pieces and a chart of so many coarse cells."""
    return Scratch(
        np.zeros((_whole_blocks(columns), _whole_blocks(rows)), dtype=np.float32),
        np.zeros((4, pieces, 5), dtype=np.float32),
        np.zeros((4, pieces, 2), dtype=np.int64),
        np.zeros(4, dtype=np.int64),
        np.zeros(pieces, dtype=np.int64),
        np.zeros((LOWEST + 1, 3), dtype=np.float32),
        np.zeros(LOWEST + 1, dtype=np.int64),
    )


@inlined
def _whole_blocks(points: int) -> int:
    return (points + _BLOCK - 1) // _BLOCK * _BLOCK


@compiled
def _draw_chart(
    i: int, pose: int, x0: int, y0: int, columns: int, rows: int, laid: Laid, coarse: Tables, chart: Floats
) -> None:
    """The overlap of piece i at the points (x0 + a, y0 + b) of the coarse raster; far in what fills up its blocks."""
    wide, high = _whole_blocks(columns), _whole_blocks(rows)
    for a in range(columns):
        chart[a, :rows] = 0.0
        chart[a, rows:high] = FAR
    for a in range(columns, wide):
        chart[a, :high] = FAR
    for j in range(len(laid.x)):
        if j == i:
            continue
        frame = coarse.frame[laid.pose[j], pose]
        x = int(np.round(laid.x[j] / coarse.step)) + frame[3] - x0
        y = int(np.round(laid.y[j] / coarse.step)) + frame[4] - y0
        low, count = max(y, 0), min(y + frame[2], rows) - max(y, 0)
        if count <= 0:
            continue
        weight = laid.weight[i, j]
        for a in range(max(x, 0), min(x + frame[1], columns)):
            at = frame[0] + (a - x) * frame[2] + low - y
            column, depth = chart[a, low : low + count], coarse.depth[at : at + count]
            for b in range(count):
                column[b] += weight * depth[b]


@compiled
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


@compiled
def _lowest(
    x0: int, y0: int, columns: int, rows: int, step: int, turn: int, within: Floats, scratch: Scratch
) -> None:
    """Notes the lowest point of each block of the chart; among points as low any."""
    chart = scratch.chart
    for left in range(0, columns, _BLOCK):
        for low in range(0, rows, _BLOCK):
            # Of so many points always, so that they are compared several at once.
            value = FAR
            for a in range(_BLOCK):
                for b in range(_BLOCK):
                    here = chart[left + a, low + b]
                    value = here if here < value else value
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


@compiled
def search_chart(
    i: int,
    turn: int,
    near_by: bool,  # noqa: FBT001 - compiled code has no keywords
    laid: Laid,
    room: Room,
    coarse: Tables,
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
    rows = min(max(y1 - y0, 0) + 1, scratch.chart.shape[1])
    _draw_chart(i, pose, x0, y0, columns, rows, laid, coarse, scratch.chart)
    _lowest(x0, y0, columns, rows, step, turn, within, scratch)
