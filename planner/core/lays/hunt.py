"""Hunting for ever shorter strips: overlaps sought away at a length a little shorter, then compacted exactly."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from planner.core.lays.compact import Compacted, compacted
from planner.core.lays.depths import Depths, cells_across
from planner.core.lays.overlaps import Overlaps, State
from planner.core.lays.poses import Array, Poses
from planner.core.lays.solver import Arrangement, Strip

#: A strip is next tried shorter by this share, varied from 0.3 to 1.7 times; by more while that is easy.
_STEP, _LONGEST_STEP = 0.008, 0.05
#: The search gives a length up after so many passes without less overlap; then two pieces are swapped.
_STALE_PASSES = 200
#: A length that was too bold a guess is given up after so many.
_BOLD_PASSES = 40
#: After so many vain searches it begins elsewhere: from the shortest strip or from pieces scattered anew.
_VAIN_SEARCHES = 6
#: Less overlap than this for each piece is left to the compaction (cells).
_NEARLY = 0.1
#: How full the strip is at first: easily had, and there at once where `start` is plain rows.
_FIRST_EFFICIENCY = 0.68
#: A length reached within so few passes was easy.
_EASY_PASSES = 50
#: Nearly free of overlap, an arrangement is compacted each time the overlap has shrunk to this share.
_SHRUNK = 0.7
#: The compaction ends when a round gains less than this share of the height; the finer one of a strip that lasts.
_GAIN, _FINE_GAIN = 3e-4, 1e-5
#: Arrangements kept with overlap, the least first, to go on from.
_POOL = 30


class Hunt:
    """One hunt. The shortest arrangement known, found here or told from outside, is `best`."""

    def __init__(self, strip: Strip, seed: int, start: Arrangement | None, *, scattered: bool) -> None:
        """`start` is taken to be free of overlap. `scattered`: begins with all pieces anywhere instead."""
        self._poses = Poses(strip)
        self._random = np.random.default_rng(seed)
        self._search = Overlaps(self._poses, Depths(self._poses, cells_across(self._poses)), self._random)
        self._scattered = scattered or start is None
        self.best_length = math.inf
        self._points: Array | None = None
        self._quarters: list[int] = []
        self._pool: list[tuple[float, State]] = []
        self._vain = 0
        self._step = _LONGEST_STEP
        self._polished_length = math.inf
        if start is not None:
            self.hear(start)

    def hear(self, arrangement: Arrangement) -> None:
        """Takes over what was found elsewhere, where it is shorter."""
        points, quarters = self._poses.places(arrangement)
        bounds = np.array(
            [self._poses.bounds[s][q] for s, q in zip(self._poses.shape_of, quarters, strict=True)]
        )
        start = float((points[:, 0] + bounds[:, 0]).min())
        length = float((points[:, 0] + bounds[:, 2]).max()) - start
        if length < self.best_length:
            self._keep(points - (start, 0.0), quarters, length)

    def run(
        self, news: Callable[[], Arrangement | None], over: Callable[[], bool]
    ) -> Iterator[tuple[float, Arrangement]]:
        """Ever shorter strips with their lengths, until `over`; both are asked at every pass."""
        self._begin()
        while not over():
            if self._vain == 0 and self._step <= 2 * _STEP and (found := self._polished()):
                yield self._found(found, self._quarters)
            left, state, found = self._attempt(news, over)
            if found is not None:
                quarters = list(self._search.quarter)
                yield self._found(found, quarters)
                self._search.lay(found.points, quarters)
                self._shorten()
            elif self._search.length > self.best_length * (1 - 0.25 * _STEP):
                self._shorten()  # Something shorter was heard of.
            else:
                self._go_on(left, state)

    def _begin(self) -> None:
        first = (
            sum(self._poses.areas[s] for s in self._poses.shape_of) / self._poses.height / _FIRST_EFFICIENCY
        )
        longest = max(b[0][2] - b[0][0] for b in self._poses.bounds)
        self._search.set_length(max(longest, min(first, self.best_length * (1 - _STEP))))
        if self._scattered or self._points is None:
            self._search.scatter()
        else:
            self._search.lay(self._points, self._quarters)

    def _attempt(
        self, news: Callable[[], Arrangement | None], over: Callable[[], bool]
    ) -> tuple[float, State, Compacted | None]:
        """Searches at one length: the least overlap left, where that was, and what came of it."""
        least, state, stale = math.inf, self._search.state, 0
        patience = _BOLD_PASSES if self._bold else _STALE_PASSES
        worth = _NEARLY * self._search.count
        for number, left in enumerate(self._search.passes()):
            stale += 1
            if left < least - 1e-6:
                least, state, stale = left, self._search.state, 0
                if left <= 0 or (left <= worth and number >= _EASY_PASSES):
                    worth = left * _SHRUNK
                    found = self._compacted(self._search.points(), self._search.quarter)
                    if found is not None:
                        easy = number < _EASY_PASSES
                        self._step = (
                            min(_LONGEST_STEP, self._step * 1.5) if easy else max(_STEP, self._step / 2)
                        )
                        return left, state, found
            heard = news()
            if heard is not None:
                self.hear(heard)
            beaten = self._search.length > self.best_length * (1 - 0.25 * _STEP)
            if stale > patience or beaten or over():
                break
        return least, state, None

    @property
    def _bold(self) -> bool:
        return self._step > 1.5 * _STEP and self.best_length < math.inf

    def _polished(self) -> Compacted | None:
        """The shortest strip compacted once more and finely, where it is not yet."""
        if self._points is None or self._polished_length == self.best_length:
            return None
        self._polished_length = self.best_length
        found = compacted(
            self._poses,
            self._points,
            self._quarters,
            shorter_than=self.best_length,
            rounds=40,
            gain=_FINE_GAIN,
        )
        if found is None or found.length >= self.best_length:
            return None
        self._polished_length = found.length
        return found

    def _compacted(self, points: Array, quarters: list[int]) -> Compacted | None:
        found = compacted(self._poses, points, quarters, shorter_than=self.best_length, gain=_GAIN)
        return found if found is not None and found.length < self.best_length * (1 - 1e-5) else None

    def _found(self, found: Compacted, quarters: list[int]) -> tuple[float, Arrangement]:
        self._keep(found.points, list(quarters), found.length)
        return found.length, self._poses.arrangement(found.points, quarters)

    def _keep(self, points: Array, quarters: list[int], length: float) -> None:
        self._points, self._quarters, self.best_length = points, quarters, length

    def _shorten(self) -> None:
        self._vain, self._pool = 0, []
        self._search.set_length(self._next_length())

    def _next_length(self) -> float:
        return self.best_length * (1 - self._step * float(self._random.uniform(0.3, 1.7)))

    def _go_on(self, left: float, state: State) -> None:
        """After a vain search: from one of the better failures with two pieces swapped, or from elsewhere."""
        if self._bold:
            self._step = max(_STEP, self._step / 3)  # That was too much at once.
            self._search.state = state
            self._shorten()
            return
        self._vain += 1
        self._pool = sorted([*self._pool, (left, state)], key=lambda p: p[0])[:_POOL]
        if self._vain < _VAIN_SEARCHES:
            chosen = min(abs(float(self._random.normal(0.0, 0.25))), 0.999)
            self._search.state = self._pool[int(chosen * len(self._pool))][1]
            self._search.swap_two()
            return
        longer = self._search.length * 1.03
        self._shorten()
        if longer < self._search.length:  # Far from anything found: the first guess was too short.
            self._search.set_length(longer)
        if self._points is None or self._random.random() < 0.5:
            self._search.scatter()
        else:
            self._search.lay(self._points, self._quarters)
            self._search.swap_two()
