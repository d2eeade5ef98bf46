"""How well cloth has been used so far, for estimates of markers that nobody has nested yet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.core.needs import DEFAULT_EFFICIENCY

#: Share of the efficiency of large markers that those of few garments reach. From our own demo tops, nested for 4 s:
#: 0.63 to 0.77 for one garment, 0.66 to 0.70 for two, 0.73 to 0.76 for three, 0.71 to 0.76 for six. A guess elsewhere,
#: which the first nested markers of a fabric replace.
_SMALL: Mapping[int, float] = {1: 0.95, 2: 0.95, 3: 0.99}
#: No marker is thought to be better or worse than this.
_LEAST, _MOST = 0.3, 0.97


@dataclass(frozen=True, slots=True)
class Learnt:
    """Efficiencies of markers that were cut or nested: pairs (garments in the marker, efficiency), the newest first.

    `how` says in plain words where they come from. Without any, the usual share holds.
    """

    samples: tuple[tuple[int, float], ...] = ()
    how: str = ""

    def at(self, garments: int) -> float:
        """Efficiency to reckon with for a marker of so many garments.

        The mean of the samples with as many garments; else that of all samples, each brought to this number of garments
        by the usual loss of small markers.
        """
        if not self.samples:
            return _within(DEFAULT_EFFICIENCY * _small(garments))
        alike = [efficiency for count, efficiency in self.samples if count == garments]
        if not alike:
            alike = [efficiency / _small(count) * _small(garments) for count, efficiency in self.samples]
        return _within(sum(alike) / len(alike))


def learnt_from(samples: Mapping[str, Sequence[tuple[int, float]]], how: str) -> dict[str, Learnt]:
    """What was learnt of each fabric, those without a sample left out."""
    found: dict[str, list[tuple[int, float]]] = defaultdict(list)
    for fabric, pairs in samples.items():
        found[fabric] += [(count, share) for count, share in pairs if count > 0 and share > 0]
    return {fabric: Learnt(tuple(pairs), how) for fabric, pairs in found.items() if pairs}


def _small(garments: int) -> float:
    return _SMALL.get(garments, 1.0)


def _within(share: float) -> float:
    return min(_MOST, max(_LEAST, share))
