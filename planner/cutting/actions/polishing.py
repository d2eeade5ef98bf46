"""Nesting lays a second time once that is worth it: the lays that were chosen, and those our own search never looked
at.

Until a plan is settled each of its lays is nested only once, for the comparison with others. In a large batch that is a
second or so, in which the library alone nests and may find nothing better than plain rows, a tenth too long.

While our own search is being compiled after an update, the library nests alone too. A plan does not wait for that: it
is settled, and when the search is ready its lays are nested again by themselves, as with "Nest longer", even those that
somebody had nested longer meanwhile. This is not done where papers are printed already, for they would be old without
anybody having asked for it; nor for what somebody stopped, who wants it kept. Where the search cannot be had, lays say
so and stay.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction
from django.db.models import F, Q, QuerySet

from planner.core.lays import kept_code
from planner.core.lays.model import ALONE
from planner.core.lays.nest import seconds_for
from planner.core.lays.nestings import LEAST_POLISH_SECONDS
from planner.core.lays.rows import GOOD_ROWS
from planner.cutting.actions.laying import lock, nesting_seconds, nesting_shares
from planner.cutting.actions.situation import Situation, stamp_of
from planner.cutting.models import Batch, Marker
from planner.cutting.printed import BUNDLES
from planner.cutting.reading import BatchPlan
from planner.cutting.tasks import FIRST_SEED, POLISH_SEED, STEP, queue_nesting, times_again

#: So often a marker that the library nested alone is nested again by itself: of several computers one may never have
#: the search.
MOST_AGAIN = 3


def polish_seconds(pieces: Sequence[int]) -> list[float]:
    """Seconds for the second nesting of lays with these numbers of pieces.

    In all that is about as long as the first nesting took, but even in a large batch each lay gets enough time to be
    searched.
    """
    shares = nesting_shares(pieces, nesting_seconds(0))
    return [
        max(share, min(LEAST_POLISH_SECONDS, seconds_for(n))) for share, n in zip(shares, pieces, strict=True)
    ]


def polish(seen: Situation, open_plans: Sequence[BatchPlan]) -> int:
    """Nests the chosen lays a second time, now that it is worth it. Returns how many.

    Until then they were nested just long enough to be compared. A marker from the store may have been polished before;
    its seed says so.
    """
    lays = [lay for one in open_plans for lay in seen.lays_of(one.plan)]
    shares = polish_seconds([len(lay.planned.job.items) for lay in lays])
    with transaction.atomic():
        batch = lock(seen.batch)
        if stamp_of(batch) != seen.stamp:
            return 0
        return sum(
            _nest_again(row, max(share, seconds_for(pieces_of(row))) if _is_poor(row) else share)
            for row, share in zip((lay.row.marker for lay in lays), shares, strict=True)
            if _is_compared_only(row)
        )


def is_to_polish(seen: Situation, open_plans: Sequence[BatchPlan]) -> bool:
    """Whether :func:`polish` would nest lays of these plans a second time."""
    rows = (lay.row.marker for one in open_plans for lay in seen.lays_of(one.plan))
    return any(row.state == Marker.State.READY and _is_compared_only(row) for row in rows)


def polish_unsearched() -> int:
    """Nests again what the library nested alone while our search was being compiled, once that is done. Returns how
    many.

    Only in batches of which nothing is cut and no paper that shows a lay is printed. Where the search cannot be had
    these lays are told to stay as they are. May be called twice without harm.
    """
    if kept_code.is_awaited():
        return 0
    if kept_code.is_given_up():
        leave_to_library()
        return 0
    left = _left_to_search(Marker.objects.filter(lays__batch__state=Batch.State.PLANNED))
    asked = 0
    for batch in Batch.objects.filter(lays__marker__in=left.values("pk")).distinct():
        with transaction.atomic():
            asked += _polish_batch(lock(batch))
    return asked


@transaction.atomic
def leave_to_library() -> int:
    """Notes with uncut lays that wait for our own search that it cannot be had. Returns how many."""
    final = [Marker.State.READY, Marker.State.STOPPED]
    left = Marker.objects.filter(
        lays__batch__in=Batch.objects.in_work(), placements__how="unsearched", state__in=final
    )
    rows = Marker.objects.filter(pk__in=left.values("pk")).only("placements", "state", "seed", "length_mm")
    return sum(
        # As read; what was laid otherwise meanwhile says itself how.
        Marker.objects.filter(pk=row.pk, state=row.state, seed=row.seed, length_mm=row.length_mm).update(
            placements={**row.placements, "how": "library"}
        )
        for row in rows
    )


def _polish_batch(batch: Batch) -> int:
    if batch.state != Batch.State.PLANNED or batch.lays.begun().exists() or shows_lays(batch):
        return 0
    pks = _left_to_search(Marker.objects.filter(lays__batch=batch)).values_list("pk", flat=True)
    rows = Marker.objects.filter(pk__in=set(pks)).defer("job")
    return sum(_nest_again(row, seconds_for(pieces_of(row))) for row in rows)


def shows_lays(batch: Batch) -> bool:
    """Whether a paper on the table shows how lays of the batch are laid."""
    return bool(batch.printed.keys() - {BUNDLES})


def _left_to_search(markers: QuerySet[Marker]) -> QuerySet[Marker]:
    """Those of these markers that the library nested alone.

    Of one that found nothing better than poor rows it is not known which search looked, so it is looked at once more,
    one time only. As long as a plan is not settled, its lays have their second nesting anyhow.
    """
    again = markers.annotate(again=(F("seed") + STEP - POLISH_SEED) % STEP)
    alone = Q(placements__how__in=sorted(ALONE)) & (Q(seed=FIRST_SEED) | Q(again__lt=MOST_AGAIN))
    rows = Q(placements__how="rows", seed__in=[FIRST_SEED, POLISH_SEED], efficiency__lt=GOOD_ROWS)
    return again.filter(alone | rows, state=Marker.State.READY).order_by()


def is_hurried(row: Marker) -> bool:
    """Whether our own search has yet to look at a marker: as soon as it is ready, or because it had no time for it."""
    if row.state != Marker.State.READY:
        return False
    if _is_poor(row):
        full = seconds_for(pieces_of(row))
        return (row.seed == FIRST_SEED and row.seconds < full) or (
            row.seed == POLISH_SEED and kept_code.is_awaited()
        )
    return times_again(row.seed) < MOST_AGAIN and (row.placements or {}).get("how") == "unsearched"


def _is_poor(row: Marker) -> bool:
    """Whether a marker is in plain rows that use less of the cloth than nested lays do."""
    return (row.placements or {}).get("how") == "rows" and (row.efficiency or 0.0) < GOOD_ROWS


def pieces_of(row: Marker) -> int:
    """How many pieces lie in a marker."""
    return len((row.placements or {}).get("placements", ()))


def _is_compared_only(row: Marker) -> bool:
    """Nested for the comparison of plans only, or by the library alone though our search is there by now."""
    alone = (row.placements or {}).get("how") in ALONE and times_again(row.seed) < MOST_AGAIN
    return row.seed == FIRST_SEED or (alone and not kept_code.is_missing())


def _nest_again(row: Marker, seconds: float) -> bool:
    """Asks for another nesting of a marker that is ready. Returns whether it still was."""
    seed = POLISH_SEED if row.seed == FIRST_SEED else row.seed + 1
    same = Marker.objects.filter(pk=row.pk, seed=row.seed, state=Marker.State.READY)
    if not same.update(state=Marker.State.WAITING, seconds=seconds, seed=seed, message=""):
        return False
    row.seconds, row.seed = seconds, seed
    queue_nesting(row)
    return True
