"""The markers nested while the plan of a batch is settled: how long each has, what is known of them and learnt."""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress

from planner.core.lays.certain import enough_mm, is_known
from planner.core.lays.cloth_limits import longest_spread_mm
from planner.core.lays.cut_plans import FabricPlan
from planner.core.lays.examples import MOST_EXAMPLES
from planner.core.lays.learnt import Learnt, Sample, learnt_with
from planner.core.lays.model import Marker, MarkerJob, PlannedLay
from planner.core.lays.nest import NestingFailed, seconds_for
from planner.core.lays.nested_lay import NestedLay, Progress
from planner.core.lays.problems import CannotPlan, NotNested, PlanProblem
from planner.core.lays.ruled import nest_ruled
from planner.core.lays.store import Known, NoStore, Store
from planner.core.lays.stored import family_of, marker_for, marker_key
from planner.core.spec import Workshop

#: No marker is nested for less (s).
LEAST_SECONDS = 1.0
#: With less than this our own search does not come to its turn on a lay (s).
LEAST_POLISH_SECONDS = 2.5
#: Where estimates come from once lays of the batch are nested.
HOW_OWN = "the lays of this batch that are nested"


def jobs_of(plans: Sequence[FabricPlan]) -> dict[str, MarkerJob]:
    """The markers of plans, each once, by the key of the question."""
    return {marker_key(lay.job): lay.job for plan in plans for lay in plan.lays}


class Nestings:
    """Nests what plans ask for and remembers all that was nested; made anew for each batch.

    `nested_before` are lengths (mm) by the key of the marker, known without the markers themselves.
    """

    def __init__(
        self,
        shop: Workshop,
        nested_before: Mapping[str, float],
        *,
        seed: int,
        on_progress: Callable[[Progress], None] | None,
        should_stop: Callable[[], bool],
        store: Store | None = None,
    ) -> None:
        self.shop, self.seed = shop, seed
        self.on_progress, self.should_stop = on_progress, should_stop
        self.store = store or NoStore()
        #: Lengths (mm) by the key of the marker.
        self.lengths = dict(nested_before)
        #: Markers nested here or taken from the store, by their keys; which of them need no second nesting.
        self.known: dict[str, tuple[MarkerJob, Marker]] = {}
        self.polished: set[str] = set()
        #: How well the markers of each fabric came out the first time.
        self.samples: dict[str, list[Sample]] = defaultdict(list)
        #: Fabrics of which a nested lay did not fit the table, or a roll.
        self.too_long: set[str] = set()

    def new_of(self, plans: Sequence[FabricPlan], seconds: float) -> float:
        """Nests the markers of plans that are not known yet, within `seconds` and a second each; the time it took.

        Markers known to be shortest in plain rows come first and leave their time to the others.
        """
        began = time.monotonic()
        lays = {marker_key(lay.job): lay for plan in plans for lay in plan.lays}
        new = {key: lay for key, lay in lays.items() if key not in self.known and not self._find(key, lay)}
        known = {key for key, lay in new.items() if is_known(lay.job)}
        pieces = sum(len(lay.job.items) for key, lay in new.items() if key not in known)
        for done, (key, lay) in enumerate(sorted(new.items(), key=lambda one: one[0] not in known)):
            count = len(lay.job.items)
            share = LEAST_SECONDS if key in known else seconds * count / pieces
            self._nest(key, lay, max(LEAST_SECONDS, min(seconds_for(count), share)), done, len(new))
        return time.monotonic() - began

    def polish(self, plans: Sequence[FabricPlan], seconds: float, *, least: float = LEAST_SECONDS) -> None:
        """Makes markers of plans shorter, and never one longer, within `seconds`; no share is below the `least`.

        A marker that cannot be shorter has no share, and what one leaves of its share is for those that follow.
        """
        lays: dict[str, PlannedLay] = {}
        spread: dict[str, float] = defaultdict(float)
        for plan in plans:
            for lay in plan.lays:
                if (key := marker_key(lay.job)) not in self.polished and not self._is_shortest(key, lay.job):
                    lays[key] = lay
                    spread[key] += len(lay.job.items)
        whole = sum(spread.values())
        for done, (key, lay) in enumerate(lays.items()):
            share = seconds * spread[key] / whole
            whole -= spread[key]
            share = max(share, least) if least > LEAST_SECONDS else share
            if share >= LEAST_SECONDS and not self.should_stop():
                began = time.monotonic()
                self._nest(key, lay, share, done, len(lays))
                share = min(share, time.monotonic() - began)
                seconds = max(0.0, seconds - share)

    def _is_shortest(self, key: str, job: MarkerJob) -> bool:
        """Whether what is known of a marker cannot be made shorter."""
        return key in self.known and self.known[key][1].length_mm <= enough_mm(job)

    def single(self, key: str, job: MarkerJob, seconds: float) -> None:
        """The marker of a single size, which teaches nothing of others; left out where it cannot be nested."""
        found = self.store.find(job)
        if found is None:
            with suppress(NestingFailed):
                found = Known(nest_ruled(job, seconds=seconds, seed=self.seed, should_stop=self.should_stop))
                self.store.keep(job, found)
        if found is not None:
            self.known[key] = (job, found.marker)
            self.lengths[key] = found.marker.length_mm

    def nested(self, lay: PlannedLay) -> NestedLay:
        """A planned lay with its marker, which was nested before. Raises CannotPlan."""
        job, marker = self.known[marker_key(lay.job)]
        named = marker_for(lay.job, marker, job)
        if named is None:
            raise CannotPlan([PlanProblem(None, f"a lay of {lay.fabric} could not be laid")])
        return NestedLay(lay, named)

    def fit(self, plans: Sequence[FabricPlan]) -> bool:
        """Whether all lays of these plans, nested before, fit the table and their rolls with their ends."""
        return all(self._as_known(lay).ply_mm <= self._most_mm(lay) for plan in plans for lay in plan.lays)

    def _as_known(self, lay: PlannedLay) -> NestedLay:
        """A planned lay with its marker under the names of the garments it was nested for: enough for its lengths."""
        return NestedLay(lay, self.known[marker_key(lay.job)][1])

    def taught(self, before: Mapping[str, Learnt]) -> dict[str, Learnt]:
        """What is learnt of each fabric by name, from `before` and from what was nested here."""
        own = {
            fabric: learnt_with(
                before.get(fabric, Learnt()), samples, HOW_OWN, all_count=fabric in self.too_long
            )
            for fabric, samples in self.samples.items()
        }
        return {**before, **own}

    def _find(self, key: str, lay: PlannedLay) -> bool:
        """Whether the store knows the marker; it then is one of those known here."""
        found = self.store.find(lay.job)
        if found is None:
            return False
        if found.is_polished:
            self.polished.add(key)
        self._learn(key, lay, found.marker)
        return True

    def _nest(self, key: str, lay: PlannedLay, seconds: float, done: int, count: int) -> None:
        def tell(marker: Marker) -> None:
            if self.on_progress:
                self.on_progress(Progress(lay, marker, done, count))

        before = self.known.get(key)
        start = marker_for(lay.job, before[1], before[0]) if before else None
        try:
            marker = nest_ruled(
                lay.job,
                seconds=seconds,
                seed=self.seed,
                on_progress=tell,
                should_stop=self.should_stop,
                start=start,
                examples=self._examples(key, lay.job),
            )
        except NestingFailed as fault:
            raise CannotPlan([NotNested(None, str(fault), fault)]) from fault
        is_polished = before is not None or marker.length_mm <= enough_mm(lay.job)
        if is_polished:
            self.polished.add(key)
        self.store.keep(lay.job, Known(marker, is_polished=is_polished))
        self._learn(key, lay, marker)

    def _learn(self, key: str, lay: PlannedLay, marker: Marker) -> None:
        """Takes note of a marker; how well it came out the first time is learnt for the estimates of others."""
        is_first = key not in self.known
        self.known[key] = (lay.job, marker)
        self.lengths[key] = marker.length_mm
        if is_first:
            if marker.length_mm + 2 * lay.end_allowance_mm > self._most_mm(lay):
                self.too_long.add(lay.fabric)
            sample = Sample(lay.garments_per_marker, marker.efficiency, in_rows=marker.how == "rows")
            self.samples[lay.fabric].append(sample)

    def _most_mm(self, lay: PlannedLay) -> float:
        cloths = (self.shop.cloths[key] for key in lay.cloths)
        return longest_spread_mm(cloths, lay.mode, self.shop) + 1e-6

    def _examples(self, key: str, job: MarkerJob) -> list[Marker]:
        """Markers nested here of the same pieces in other sizes, the best first."""
        if not (family := family_of(job)):
            return []
        alike = [
            marker
            for other, (asked, marker) in self.known.items()
            if other != key and family_of(asked) == family
        ]
        return sorted(alike, key=lambda marker: -marker.efficiency)[:MOST_EXAMPLES]
