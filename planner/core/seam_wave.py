"""How a ring moves sideways by the allowances of its edges, to its sewing line or its cut line.

Every straight stretch of the outline moves sideways by the allowance of its edge, all at the same rate, and
neighbouring stretches stay joined where their lines meet. A stretch that shrinks to nothing on the way drops
out and its neighbours meet instead. This is the wavefront of the weighted straight skeleton, without its
split events. So corners are where the two inset lines meet, an arc of radius R that is hollow grows to R + a,
one that is round shrinks to R − a, and a hem as deep as the first few stretches of a curved side swallows
them. Lines that would have to cross (a strip narrower than its two allowances) are refused.

Two corners are not drawn to where the lines meet, because that would be far away:

- A join that hardly turns between two allowances: the sewing line steps square from one to the other
  (:data:`LONGEST_STEP`).
- The bottom of a slit, and seen from outside the tip of a sharp point: cut off square
  (:data:`LONGEST_MITRE`).
"""

from __future__ import annotations

import math
from heapq import heappop, heappush
from itertools import pairwise

from shapely.geometry import Polygon

from planner.core.outline import Outline, OutlineError, Point

Path = tuple[Point, ...]

#: A corner lies at most this many times the larger allowance away; a sharper one is cut off square there.
LONGEST_MITRE = 4.0
#: Between two allowances a corner lies at most this many times the larger one away; beyond, the line steps.
#: With 7 and 20 mm that is a turn of less than about 20°.
LONGEST_STEP = 2.0
#: Cosine beyond which two stretches lie back to back, with nothing left between them.
_BACK_TO_BACK = -1.0 + 1e-9
NO_EDGE = -1

TOO_NARROW = "the piece is narrower than its seam allowances, so it has no sewing line"
OVERLAPPING = "the seam allowance would overlap itself"


class Wave:
    """The stretches of a ring moving sideways from t = 0 to 1, in lists by number.

    Stretch i runs in the direction (dx, dy) and moves along its inward normal (−dy, dx) by `speed` mm per t,
    negative outwards. Its start moves from (x, y) at t = `since` by (vx, vy) per t; its end is the start
    of the next one. `edge` is the index of its edge, or none for a step or a cut-off corner.
    """

    def __init__(self, outline: Outline, allowances: tuple[float, ...], *, inwards: bool) -> None:
        self.sign = 1.0 if inwards else -1.0
        self.edges = len(allowances)
        self.dx: list[float] = []
        self.dy: list[float] = []
        self.speed: list[float] = []
        self.edge: list[int] = []
        self.x: list[float] = []
        self.y: list[float] = []
        self.vx: list[float] = []
        self.vy: list[float] = []
        self.since: list[float] = []
        self.before: list[int] = []
        self.after: list[int] = []
        self.version: list[int] = []
        self.alive: list[bool] = []
        self.heap: list[tuple[float, int, int]] = []
        self._start(outline, allowances)
        self._move()

    def _start(self, outline: Outline, allowances: tuple[float, ...]) -> None:
        for index, allowance in enumerate(allowances):
            for start, end in pairwise(outline.edge_path(index)):
                length = math.dist(start, end)
                if length == 0.0:
                    continue  # stored outlines are rounded, which can bring two points together
                dx, dy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
                self._add(dx, dy, self.sign * allowance, index)
                self.x[-1], self.y[-1] = start
        count = self.left = len(self.dx)
        if count < 3:
            raise OutlineError("an outline needs at least three different points")
        self.most_events = 8 * count + 64
        for i in range(count):
            self.before[i], self.after[i] = (i - 1) % count, (i + 1) % count
        for i in range(count):
            if self.alive[i]:
                self._join((i - 1) % count, i, self.x[i], self.y[i], 0.0)
        for i in range(len(self.dx)):
            self._watch(i, 0.0)

    def _add(self, dx: float, dy: float, speed: float, edge: int) -> int:
        self.dx.append(dx)
        self.dy.append(dy)
        self.speed.append(speed)
        self.edge.append(edge)
        for numbers in (self.x, self.y, self.vx, self.vy, self.since):
            numbers.append(0.0)
        self.before.append(0)
        self.after.append(0)
        self.version.append(0)
        self.alive.append(True)
        return len(self.dx) - 1

    def _move(self) -> None:
        """Lets stretches drop out in the order in which they shrink to nothing, up to t = 1."""
        while self.heap:
            t, i, version = heappop(self.heap)
            if t >= 1.0:
                return
            if not self.alive[i] or version != self.version[i]:
                continue
            self.most_events -= 1
            if self.most_events < 0:
                raise OutlineError(TOO_NARROW if self.sign > 0 else OVERLAPPING)
            a, b = self.before[i], self.after[i]
            x, y = self.corner(i, t)
            self._drop(i)
            self._meet(a, b, x, y, t)

    def _drop(self, i: int) -> None:
        self.alive[i] = False
        self.left -= 1
        if self.left < 3:
            raise OutlineError(TOO_NARROW if self.sign > 0 else OVERLAPPING)
        a, b = self.before[i], self.after[i]
        self.after[a], self.before[b] = b, a

    def _meet(self, a: int, b: int, x: float, y: float, t: float) -> None:
        """Joins two stretches that became neighbours at (x, y), and watches whatever that changed."""
        while self.dx[a] * self.dx[b] + self.dy[a] * self.dy[b] < _BACK_TO_BACK:
            # Nothing is left between the two: the shorter goes, and what follows it meets the longer.
            end = self.corner(self.after[b], t)
            start = self.corner(a, t)
            if math.dist(start, (x, y)) <= math.dist(end, (x, y)):
                a, gone, (x, y) = self.before[a], a, start
            else:
                b, gone, (x, y) = self.after[b], b, end
            self._drop(gone)
        self._join(a, b, x, y, t)
        i = a
        while True:
            self._watch(i, t)
            if i == b:
                return
            i = self.after[i]

    def _join(self, a: int, b: int, x: float, y: float, t: float) -> None:
        """Lets the corner between a and b start at (x, y), with a step or a cut between where needed."""
        cos = self.dx[a] * self.dx[b] + self.dy[a] * self.dy[b]
        sin = self.dx[a] * self.dy[b] - self.dy[a] * self.dx[b]
        largest = max(abs(self.speed[a]), abs(self.speed[b]))
        even = abs(self.speed[a] - self.speed[b]) <= 1e-9 * largest
        if not even and abs(sin) < 1e-9 and cos > 0:
            return self._step(a, b, x, y, t)
        vx, vy = self._velocity(a, b)
        away = math.hypot(vx, vy)
        if not even and cos > 0 and away > LONGEST_STEP * largest:
            return self._step(a, b, x, y, t)
        if sin * self.sign < 0 and away > LONGEST_MITRE * largest:
            return self._cut_off(a, b, (x, y, t), (vx / away, vy / away), LONGEST_MITRE * largest)
        return self._set_corner(b, x, y, (vx, vy), t)

    def _velocity(self, a: int, b: int) -> Point:
        """How the corner between two lines moves: n·v is the speed of each, n its normal."""
        (ax, ay), (bx, by) = (-self.dy[a], self.dx[a]), (-self.dy[b], self.dx[b])
        sa, sb = self.speed[a], self.speed[b]
        if abs(sa - sb) <= 1e-9 * max(abs(sa), abs(sb)):
            # Along the bisector; unlike the general formula this stays exact where the ring hardly turns.
            share = sa / max(1.0 + ax * bx + ay * by, 1e-12)
            return share * (ax + bx), share * (ay + by)
        cross = ax * by - ay * bx
        if abs(cross) < 1e-12:
            cross = math.copysign(1e-12, cross)
        return (sa * by - sb * ay) / cross, (sb * ax - sa * bx) / cross

    def _step(self, a: int, b: int, x: float, y: float, t: float) -> None:
        """A stretch that stands still, square to the two, and leads from the one line to the other."""
        nx, ny = -self.dy[a] - self.dy[b], self.dx[a] + self.dx[b]
        size = math.copysign(math.hypot(nx, ny), self.speed[b] - self.speed[a])
        self._between(a, b, (nx / size, ny / size), 0.0, (x, y, t))

    def _cut_off(
        self, a: int, b: int, place: tuple[float, float, float], towards: Point, speed: float
    ) -> None:
        """A stretch square to the way of a sharp corner, that runs ahead of the two."""
        nx, ny = self.sign * towards[0], self.sign * towards[1]
        self._between(a, b, (ny, -nx), self.sign * speed, place)

    def _between(
        self, a: int, b: int, direction: Point, speed: float, place: tuple[float, float, float]
    ) -> None:
        x, y, t = place
        new = self._add(*direction, speed, self.edge[a] if self.edge[a] == self.edge[b] else NO_EDGE)
        self.left += 1
        self.before[new], self.after[new] = a, b
        self.after[a] = self.before[b] = new
        self._set_corner(new, x, y, self._velocity(a, new), t)
        self._set_corner(b, x, y, self._velocity(new, b), t)

    def _set_corner(self, i: int, x: float, y: float, velocity: Point, t: float) -> None:
        self.x[i], self.y[i], self.since[i] = x, y, t
        self.vx[i], self.vy[i] = velocity

    def corner(self, i: int, t: float) -> Point:
        """Where stretch i starts at a moment."""
        run = t - self.since[i]
        return self.x[i] + run * self.vx[i], self.y[i] + run * self.vy[i]

    def _watch(self, i: int, t: float) -> None:
        """Notes when the stretch will have shrunk to nothing."""
        self.version[i] += 1
        j = self.after[i]
        dx, dy = self.dx[i], self.dy[i]
        rate = (self.vx[j] - self.vx[i]) * dx + (self.vy[j] - self.vy[i]) * dy
        (x0, y0), (x1, y1) = self.corner(i, t), self.corner(j, t)
        length = (x1 - x0) * dx + (y1 - y0) * dy
        if rate < 0.0 and length + rate * (1.0 - t) < 0.0:
            heappush(self.heap, (t - max(length, 0.0) / rate, i, self.version[i]))

    def order(self) -> list[int]:
        """The stretches left, in the order of the ring, beginning with one that starts its edge."""
        first = next(i for i in range(len(self.alive)) if self.alive[i] and self.edge[i] != NO_EDGE)
        found = [first]
        while (i := self.after[found[-1]]) != first:
            found.append(i)
        if self.edge[found[-1]] == self.edge[first] and len({self.edge[i] for i in found}) > 1:
            # A cut-off corner within the first edge has a high number and stands before it in the ring.
            while self.edge[found[-1]] == self.edge[first]:
                found.insert(0, found.pop())
        return found

    def paths(self) -> tuple[Path, ...]:
        """The moved stretches of every edge as one path, by edge index; empty where none is left."""
        paths: list[list[Point]] = [[] for _ in range(self.edges)]
        for i in self.order():
            if self.edge[i] == NO_EDGE:
                continue
            path = paths[self.edge[i]]
            if not path:
                path.append(self.corner(i, 1.0))
            path.append(self.corner(self.after[i], 1.0))
        return tuple(map(tuple, paths))

    def check(self) -> None:
        """Raises OutlineError where the moved ring crosses itself: the piece is too narrow somewhere."""
        ring = Polygon([self.corner(i, 1.0) for i in self.order()])
        if not (ring.is_valid and ring.exterior.is_ccw):
            raise OutlineError(TOO_NARROW)
