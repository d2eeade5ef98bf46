"""How well cloth has been used so far, for estimates of markers that nobody has nested yet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from planner.core.needs import DEFAULT_EFFICIENCY, Usage

#: Share of the efficiency of large markers that those of few garments reach. From our own demo tops, nested for 4 s:
#: 0.63 to 0.77 for one garment, 0.66 to 0.70 for two, 0.73 to 0.76 for three, 0.71 to 0.76 for six. A guess elsewhere,
#: which the first nested markers of a fabric replace.
_SMALL: Mapping[int, float] = {1: 0.95, 2: 0.95, 3: 0.99}
#: No marker is thought to be better or worse than this.
_LEAST, _MOST = 0.3, 0.97
#: A small marker that reaches less than this share of what was expected of it was nested badly (too short a time, a
#: busy machine), or its pieces leave gaps that others will fill. Those above, nested well, came down to 0.63 / 0.74.
MUCH_WORSE = 0.85


@dataclass(frozen=True, slots=True)
class Learnt:
    """Efficiencies of markers that were cut or nested: pairs (garments in the marker, efficiency), the newest first.

    `how` says in plain words where they come from. Without any, the usual share holds. Those in `poor` came out much
    worse than expected: they count for markers of as many garments or fewer, but say nothing of larger ones.
    """

    samples: tuple[tuple[int, float], ...] = ()
    how: str = ""
    poor: tuple[tuple[int, float], ...] = ()

    def at(self, garments: int) -> float:
        """Efficiency to reckon with for a marker of so many garments.

        The mean of the samples with as many garments; else that of all samples, each brought to this number of garments
        by the usual loss of small markers.
        """
        samples = self.samples + tuple(one for one in self.poor if one[0] >= garments)
        if not samples:
            return _within(DEFAULT_EFFICIENCY * _small(garments))
        alike = [efficiency for count, efficiency in samples if count == garments]
        if not alike:
            return _within(_of_large(samples) * _small(garments))
        return _within(sum(alike) / len(alike))

    @property
    def usage(self) -> Usage:
        """What to reckon with where nobody knows yet which garments will share a marker: large ones are supposed."""
        return Usage(_within(_of_large(self.samples)), self.how) if self.samples else Usage()


@dataclass(frozen=True, slots=True)
class Sample:
    """A marker that was cut or nested; `in_rows` where nothing but plain rows was found."""

    garments: int
    efficiency: float
    in_rows: bool = False


def learnt_with(before: Learnt, samples: Sequence[Sample], how: str, *, all_count: bool = False) -> Learnt:
    """What to reckon with once these were nested, in place of what was known `before`: like is held against like.

    A small marker that came out much worse than expected is no reason against putting more garments into one, and where
    the plain rows of one are worse than expected nothing was found out at all. Without any good sample, what was known
    before holds for all that the poor ones say nothing of. `all_count`: so that estimates come down to what is reached
    where lays were too long for the table, every sample counts for every marker.
    """
    if all_count and samples:
        return Learnt(tuple((one.garments, one.efficiency) for one in samples), how)
    told = [
        one
        for one in samples
        if not (one.in_rows and one.garments in _SMALL and one.efficiency < before.at(one.garments))
    ]
    poor = [one for one in told if is_poor(one.garments, one.efficiency, before.at(one.garments))]
    good = tuple((one.garments, one.efficiency) for one in told if one not in poor)
    return Learnt(
        good or before.samples,
        how if told else before.how,
        tuple((one.garments, one.efficiency) for one in poor) + (() if good else before.poor),
    )


def weighted_median(pairs: Iterable[tuple[float, float]]) -> float:
    """The median of values with weights above zero, pairs (value, weight): half of the weight lies on either side.

    Where just half of it lies below a value, the mean of that and the value before. What is odd moves it no farther
    than to its neighbour, however odd it is. Raises ValueError where there is none.
    """
    known = sorted(pair for pair in pairs if pair[1] > 0)
    half, below, before = sum(weight for _, weight in known) / 2, 0.0, 0.0
    for value, weight in known:
        if abs(below - half) <= 1e-9 * half:
            return (before + value) / 2
        below += weight
        if below > half * (1 + 1e-9):
            return value
        before = value
    raise ValueError("there is no value")


def is_poor(garments: int, efficiency: float, expected: float) -> bool:
    """Whether a marker came out so badly that it says nothing of larger ones.

    In a marker of many garments gaps are filled already: what that comes to is no accident.
    """
    return garments in _SMALL and efficiency < MUCH_WORSE * expected


def _of_large(samples: Sequence[tuple[int, float]]) -> float:
    """The mean of what these come to in large markers."""
    return sum(efficiency / _small(count) for count, efficiency in samples) / len(samples)


def _small(garments: int) -> float:
    return _SMALL.get(garments, 1.0)


def _within(share: float) -> float:
    return min(_MOST, max(_LEAST, share))
