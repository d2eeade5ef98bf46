"""Bundles that have a cloth from several shade lots, as the papers and the page of a lay say it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.core.bundle_lots import lots_apart
from planner.core.ply_list import PlyRun, runs_by_bundle
from planner.cutting.wording import lots_apart_in_words

#: Of each bundle the plies of its lays, see :func:`runs_by_bundle`.
OfBundles = Mapping[str, Mapping[int, Sequence[PlyRun]]]


def apart_in(
    lay: int, runs: Mapping[int, Sequence[PlyRun]], of_bundles: OfBundles | None = None
) -> tuple[tuple[str, str], ...]:
    """The bundles with plies of a lay that have its cloth from several shade lots, here or in others: number, and
    which plies are of which in words. `of_bundles` are the same `runs` by bundle, where these are known already.
    """
    of_bundles = runs_by_bundle(runs) if of_bundles is None else of_bundles
    here = sorted({bundle for run in runs.get(lay, ()) for bundle in run.bundles if bundle})
    cloths = {run.cloth for run in runs.get(lay, ())}
    told = {
        bundle: lots_apart_in_words(
            [part for part in lots_apart(bundle, of_bundles[bundle]) if part.cloth in cloths]
        )
        for bundle in here
    }
    return tuple((bundle, words) for bundle, words in told.items() if words)
