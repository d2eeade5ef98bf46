"""Hunting for ever shorter strips: overlaps sought away at a length a little shorter, then compacted exactly.

A hunt explores at first: from its own shortest arrangement, the strip cut somewhere and what lies behind the cut moved
up; from failures with little overlap left; and from pieces scattered anew where nothing helps. Of those who hunt
together one goes on from the shortest known to any, the others explore alone, at first by arrangements of the same
pieces in other sizes where such are known. In the closing part all go on from the shortest known, by small steps and
by exchanges of pieces of about the same size, which they share out among them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import cycle, islice

import numpy as np

from planner.core.lays import kept_code
from planner.core.lays.compact import Compacted, compacted
from planner.core.lays.depths import Depths, cells_across
from planner.core.lays.examples import laid_like
from planner.core.lays.exchange import exchanged, exchanges
from planner.core.lays.overlaps import Overlaps, State
from planner.core.lays.poses import Array, Poses
from planner.core.lays.sides import parts_of
from planner.core.lays.solver import Arrangement, Example, Shape, Strip

#: A strip is next tried shorter by this share, varied from half to one and a half times: at first and at most, and
#: at least while exploring and in the closing part. It grows by each success and shrinks by each failure.
_LONGEST_STEP, _LEAST_STEP, _LAST_STEP = 0.03, 0.0025, 0.001
_GROWTH, _SHRINKING = 1.6, 0.7
#: The search gives a length up after so many passes without less overlap, exploring and in the closing part.
_PATIENCE, _LAST_PATIENCE = 250, 80
#: Overlap for each piece (cells) that counts as none; and that the compaction is tried with, for it may end shorter
#: than before even where it does not reach the length that was tried.
_ENOUGH, _NEARLY = 0.002, 0.1
#: After a failure the search goes on this often from one of the better failures, with two pieces swapped.
_FROM_FAILURES = 0.85
#: So often a stretch of the strip is moved instead (`stretches.py`); and so often besides, after a few vain searches,
#: where the search goes on from its own shortest strip. With more pieces there are too few searches for such large
#: changes to come to something (measured with 20 to 64 of them).
_STRETCHES, _STRETCHES_OF_OWN, _FEW_VAIN, _MOST_STRETCHED = 0.4, 0.5, 3, 45
#: Failures kept to go on from, those with the least overlap.
_POOL = 20
#: After so many vain searches one who hunts alone begins anew from scattered pieces.
_VAIN_SEARCHES = 30
#: Pieces are laid by examples so often at most, on a strip that much longer than is likely; a search is given up soon,
#: for with other sizes in each other's place the next one may succeed.
_MOST_LAID, _LIKELY, _SHORT_PATIENCE = 200, 0.01, 60
#: In the closing part so many vain exchanges are followed by a search again.
_VAIN_EXCHANGES = 8
#: One who does not takes over what others found where it is shorter by more than this share.
_MUCH_SHORTER = 0.002
#: How full the strip is at first: easily had. Begun anew it is longer than the shortest by this share.
_FIRST_EFFICIENCY, _ANEW = 0.72, 0.02
#: The compaction ends when a round gains less than this share of the height; the finer one of a strip that lasts.
_GAIN, _FINE_GAIN = 3e-4, 1e-5


@dataclass(frozen=True)
class _Found:
    points: Array
    quarters: list[int]
    length: float


class Hunt:
    """One hunt. The shortest length known, found here or told from outside, is `best_length`."""

    def __init__(
        self,
        strip: Strip,
        seed: int,
        start: Arrangement | None,
        *,
        scattered: bool,
        alone: bool = True,
        examples: Sequence[Example] = (),
        share: tuple[int, int] = (0, 1),
    ) -> None:
        """`start` is taken to be free of overlap. `scattered`: begins with all pieces anywhere instead.

        `alone`: explores by itself, whatever others find. `examples`: begins with the pieces laid as in these.
        `share`: (number, of how many) among those who hunt together, for they share out the exchanges of the closing
        part.
        """
        self._poses = Poses(strip)
        self._parts = parts_of(self._poses)
        self._random = np.random.default_rng(seed)
        self._search = Overlaps(self._poses, Depths(self._poses, cells_across(self._poses)), seed)
        self._may_stretch = self._search.count <= _MOST_STRETCHED
        self._best: _Found | None = None
        self._own: _Found | None = None
        self._alone, self._scattered, self._examples = alone, scattered, tuple(examples)
        self._pool: list[tuple[float, State]] = []
        self._vain = 0
        self._closes = False
        #: The exchanges that are this one's to try, in which strip they are made, which are still to be tried there.
        number, of = share
        self._exchanges = exchanges(self._poses)[number::of]
        self._exchanged: _Found | None = None
        self._untried: list[tuple[int, int]] = []
        #: Free of overlap on the raster, but exactly it could not be freed: pieces got jammed across the strip.
        self._is_jammed = False
        self._step = _LONGEST_STEP
        if start is not None:
            self.hear(start)
            self._own = None if scattered else self._best

    @property
    def best_length(self) -> float:
        """The shortest length known; infinite where none is."""
        return self._best.length if self._best else math.inf

    def hear(self, arrangement: Arrangement) -> None:
        """Keeps in mind what was found elsewhere, where it is shorter."""
        points, quarters = self._poses.places(arrangement)
        bounds = np.array(
            [self._poses.bounds[s][q] for s, q in zip(self._poses.shape_of, quarters, strict=True)]
        )
        start = float((points[:, 0] + bounds[:, 0]).min())
        length = float((points[:, 0] + bounds[:, 2]).max()) - start
        if length < self.best_length:
            self._best = _Found(points - (start, 0.0), quarters, length)

    def run(
        self,
        news: Callable[[], Arrangement | None],
        over: Callable[[], bool],
        closing: Callable[[], bool] = lambda: False,
        beginning: Callable[[], bool] = lambda: True,
    ) -> Iterator[tuple[float, Arrangement]]:
        """Ever shorter strips with their lengths, until `over`, which is asked every few passes.

        `closing` says whether the last part has come, `beginning` whether pieces may still be laid by examples; `news`
        gives what others found since it was last asked.
        """
        if self._examples:
            for found in self._by_examples(lambda: over() or not beginning()):
                if found.length < self.best_length:
                    self._best = found
                    yield found.length, self._poses.arrangement(found.points, found.quarters)
        else:
            self._begin()
        while not over():
            while (heard := news()) is not None:
                self.hear(heard)
            self._closes = self._closes or closing()
            if self._best and self._best is not self._own and (self._closes or self._is_behind):
                self._own, self._vain, self._pool = self._best, 0, []
                self._from_own(self._best)
            for found in self._shorter(over):
                if found.length < self.best_length:
                    self._best = found
                    yield found.length, self._poses.arrangement(found.points, found.quarters)
            self._go_on()

    @property
    def _is_behind(self) -> bool:
        own_length = self._own.length if self._own else math.inf
        return not self._alone and self.best_length < own_length * (1 - _MUCH_SHORTER)

    def _begin(self) -> None:
        if self._own:
            self._from_own(self._own)
            return
        area = sum(self._poses.areas[s] for s in self._poses.shape_of)
        self._scatter_on(min(area / self._poses.height / _FIRST_EFFICIENCY, self.best_length * (1 + _ANEW)))

    def _by_examples(self, over: Callable[[], bool]) -> Iterator[_Found]:
        """Ever shorter strips with the pieces laid by one example after the other, sizes changing places by chance.

        What comes of them others go on from, so that one who was to begin with pieces anywhere does so then. Where none
        succeeds the one with the least overlap is gone on from, on a strip ever longer; or what it was to begin with,
        where that is shorter than all that came of them.
        """
        start, self._own = self._own, None
        for example in islice(cycle(self._examples), _MOST_LAID):
            if over():
                break
            points, quarters = laid_like(example, self._poses, self._random)
            length = min(example.length * (1 + _LIKELY), self.best_length * (1 - _LEAST_STEP))
            points[:, 0] *= length / example.length
            self._search.set_length(length)
            self._search.lay(points, quarters)
            if (found := self._attempt(over, _SHORT_PATIENCE)) is not None:
                yield found
        self._vain, self._step = 0, _LONGEST_STEP
        if start and not (self._own and self._own.length < start.length):
            self._own, self._pool = start, []
        if self._own and self._scattered:
            self._own, self._pool = None, []
            self._begin()
        elif self._own:
            self._go_on()
        elif self._pool:
            self._search.state = self._pool[0][1]
        else:
            self._begin()

    def _scatter_on(self, length: float) -> None:
        longest = max(
            min(b[q][2] - b[q][0] for q in t)
            for b, t in zip(self._poses.bounds, self._poses.turns, strict=True)
        )
        self._search.set_length(max(longest, length))
        self._search.scatter()

    @property
    def _steps_small(self) -> bool:
        """In the closing part, until the shortest strip has seen all exchanges: then it explores again."""
        seen_all = self._exchanges and self._exchanged is self._own and not self._untried
        return self._closes and not seen_all

    def _shorter(self, over: Callable[[], bool]) -> Iterator[_Found]:
        """What is shorter than the hunt's own shortest, by a search at one length and, closing, by exchanges."""
        found = self._attempt(over)
        if found is not None:
            yield found
        if self._closes and self._own:
            yield from self._exchange(self._own, over)

    def _exchange(self, own: _Found, over: Callable[[], bool]) -> Iterator[_Found]:
        """Pieces change places in the hunt's own shortest strip, until a few exchanges in turn were vain."""
        vain = 0
        while vain < _VAIN_EXCHANGES and not over():
            if self._exchanged is not own:
                self._exchanged, self._untried = own, list(self._exchanges)
                self._random.shuffle(self._untried)
            if not self._untried:
                return
            points, quarters = exchanged(self._poses, own.points, own.quarters, *self._untried.pop())
            found = self._compacted(points, quarters, _GAIN)
            vain += 1
            if found is not None:
                self._own, self._vain, self._pool, own, vain = found, 0, [], found, 0
                yield found

    def _attempt(self, over: Callable[[], bool], patience: int = 0) -> _Found | None:
        """Searches at one length; what comes of it where that is shorter than the hunt's own shortest."""
        search = self._search
        enough, small = _ENOUGH * search.count, self._steps_small
        left = search.separate(enough, patience or (_LAST_PATIENCE if small else _PATIENCE), over)
        found = None
        if left <= _NEARLY * search.count:
            found = self._compacted(search.points(), search.quarters(), _FINE_GAIN if small else _GAIN)
        self._is_jammed = found is None and left <= enough
        if found is None:
            self._vain += 1
            self._step = max(_LAST_STEP if small else _LEAST_STEP, self._step * _SHRINKING)
            self._pool = sorted([*self._pool, (left, search.state)], key=lambda p: p[0])[:_POOL]
            return None
        if left <= enough:
            self._step = min(_LONGEST_STEP, self._step * _GROWTH)
        self._own, self._vain, self._pool = found, 0, []
        return found

    def _compacted(self, points: Array, quarters: list[int], gain: float) -> _Found | None:
        own_length = self._own.length if self._own else math.inf
        found: Compacted | None = compacted(
            self._poses,
            self._parts,
            points,
            quarters,
            shorter_than=own_length,
            rounds=40 if gain == _FINE_GAIN else 14,
            gain=gain,
        )
        if found is None or found.length >= own_length * (1 - 1e-5):
            return None
        return _Found(found.points, quarters, found.length)

    def _go_on(self) -> None:
        """From its own shortest strip, from one of the better failures, or from scattered pieces."""
        if self._own is None:  # Nothing yet: the first guess was too short, or pieces got jammed.
            longer = self._search.length * (1 + _ANEW)
            if self._is_jammed:
                self._scatter_on(longer)
            else:
                self._search.set_length(longer)
            return
        if not self._closes and self._alone and self._vain > _VAIN_SEARCHES:
            self._own, self._vain, self._pool, self._step = None, 0, [], _LONGEST_STEP
            self._scatter_on(self.best_length * (1 + _ANEW))
            return
        if not self._steps_small and self._pool and self._random.random() < _FROM_FAILURES:
            chosen = min(abs(float(self._random.normal(0.0, 0.25))), 0.999)
            self._search.state = self._pool[int(chosen * len(self._pool))][1]
            self._search.set_length(self._next_length(self._own))
            self._shake()
            return
        self._from_own(self._own)

    def _shake(self) -> None:
        """A stretch of the strip is moved, or two pieces change places."""
        if self._may_stretch and self._random.random() < _STRETCHES:
            self._search.move_stretch()
        else:
            self._search.swap_two()

    def _from_own(self, own: _Found) -> None:
        """The strip is cut somewhere, and what lies behind is moved up."""
        length = self._next_length(own)
        points = own.points.copy()
        points[points[:, 0] > self._random.uniform(0.0, own.length), 0] -= own.length - length
        self._search.set_length(length)
        self._search.lay(points, own.quarters)
        stuck = self._vain > _FEW_VAIN and not self._steps_small
        if stuck and self._may_stretch and self._random.random() < _STRETCHES_OF_OWN:
            self._search.move_stretch()

    def _next_length(self, own: _Found) -> float:
        return own.length * (1 - self._step * float(self._random.uniform(0.5, 1.5)))


def compile_all() -> None:
    """Compiles everything a hunt calls, where it is not kept from an earlier time."""
    triangle = Shape(((0.0, 0.0), (60.0, 0.0), (0.0, 50.0)), 4, (0.0, 180.0))
    asked = iter(range(200))
    for _ in Hunt(Strip(50.0, 0.0, (triangle,)), 1, None, scattered=True).run(
        lambda: None, lambda: next(asked, None) is None
    ):
        pass
    kept_code.note_complete()
