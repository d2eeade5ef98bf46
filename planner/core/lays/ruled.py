"""Nesting a marker whatever its rules: what callers use.

Plain markers go straight to :func:`planner.core.lays.nest.nest`. Where pieces must lie side by side they are bound
into blocks and nested as one. Where stripes must run on over seams two ways are tried, each for half of the time: the
pieces bound onto the same stripes as well, and nested freely and then moved on to the next stripe; the shorter is kept.
Neither way finds every arrangement there is: a better one that moves and nests at once may exist.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from planner.core.lays.blocks import BlockTooWide, Bound, bind_blocks, bind_stripes_too
from planner.core.lays.check import check_marker, marker_from_placements
from planner.core.lays.model import ALONE, Marker, MarkerJob
from planner.core.lays.nest import NestingFailed, check_job, first_of, nest
from planner.core.lays.rows import first_marker
from planner.core.lays.stripes import moved_onto_stripes, without_turning
from planner.core.lays.together import CannotMatch, has_rules
from planner.core.units import Display


def nest_ruled(
    job: MarkerJob,
    *,
    seconds: float,
    seed: int = 0,
    on_progress: Callable[[Marker], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
    start: Marker | None = None,
    examples: Sequence[Marker] = (),
    workers: int = 2,
) -> Marker:
    """The shortest marker found for the job within `seconds` that keeps all its rules; never longer than `start`.

    As :func:`planner.core.lays.nest.nest`: every marker handed to `on_progress` or returned has passed
    :func:`check_marker`. Raises PieceTooWide, and NestingFailed in plain words where pieces that must lie together
    fit the cloth nowhere.
    """
    if not has_rules(job):
        return nest(
            job, seconds=seconds, seed=seed, on_progress=on_progress, should_stop=should_stop, start=start,
            examples=examples, workers=workers,
        )  # fmt: skip
    check_ruled(job)
    best = _Best(job, first_of(job, start), on_progress)
    ways = _ways(job)
    for number, bound in enumerate(ways):
        if should_stop and should_stop():
            break
        found = nest(
            bound.job,
            seconds=seconds / len(ways),
            seed=seed + number,
            on_progress=lambda found, bound=bound: best.offer(bound, found),  # type: ignore[misc]
            should_stop=should_stop,
            start=_as_start(bound, best.marker),
            workers=workers,
        )
        if found.how in {"nested", "library"} and best.marker.how in ALONE:
            best.marker = replace(best.marker, how=found.how)
    return best.marker


def check_ruled(job: MarkerJob) -> None:
    """Raises PieceTooWide or NestingFailed for what can never be laid, the rules of what lies together included."""
    check_job(job)
    try:
        first_marker(job)
    except BlockTooWide as never:
        raise BlockNeverFits(never) from never
    except CannotMatch as never:
        raise NestingFailed(str(never)) from never


class BlockNeverFits(NestingFailed):
    """Pieces that must lie side by side fit the cloth nowhere."""

    def __init__(self, block: BlockTooWide) -> None:
        self.block = block
        super().__init__(str(block))

    def told_in(self, display: Display) -> str:
        """As the block tells it."""
        return self.block.told_in(display)


@dataclass
class _Best:
    """The shortest valid marker yet."""

    job: MarkerJob
    marker: Marker
    on_progress: Callable[[Marker], None] | None

    def __post_init__(self) -> None:
        if self.on_progress:
            self.on_progress(self.marker)

    def offer(self, bound: Bound, found: Marker) -> None:
        """Takes what was found for the bound job where it is shorter once taken apart, and valid."""
        placements = found.placements
        if bound.stripes:
            placements = moved_onto_stripes(bound, placements, repeat_length_mm=self.job.repeat_length_mm)
        marker = replace(marker_from_placements(self.job, bound.unbind(placements)), how=found.how)
        if marker.length_mm >= self.marker.length_mm - 1e-6 or check_marker(self.job, marker.placements):
            return
        self.marker = marker
        if self.on_progress:
            self.on_progress(marker)


def _ways(job: MarkerJob) -> list[Bound]:
    """The ways of binding that can be nested: none where stripes must meet across the cloth and pieces cannot be
    bound."""
    bound = bind_blocks(job)
    if not bound.stripes:
        return [bound]
    ways = [bind_stripes_too(job), bound]
    return [
        without_turning(way)
        for way in ways
        if way is not None and not any(place is not None for g in way.stripes for place in g.across)
    ]


def _as_start(bound: Bound, marker: Marker) -> Marker | None:
    placements = bound.rebind(marker.placements)
    if placements is None:
        return None
    return replace(marker_from_placements(bound.job, placements), how=marker.how)
