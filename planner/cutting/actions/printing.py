"""Noting which papers of a batch were printed, and what they said then."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from django.db import transaction

from planner.cutting.actions.laying import lock
from planner.cutting.flaws_ahead import flaws_ahead
from planner.cutting.models import Batch
from planner.cutting.printed import fingerprints, flaws_on_sheet, note, old_and_missing
from planner.cutting.reading import bundles_of, lays_of


@transaction.atomic
def note_printed(batch: Batch, papers: Collection[str], at: datetime, *, in_part: bool = False) -> None:
    """Notes that these papers (see :mod:`planner.cutting.printed`) were printed; those of lays that are not there are
    left out. With the tickets of all lays, or all that were missing or had changed, those of lays that are no more are
    forgotten: they are replaced now.

    Of what is printed `in_part` only, the rest may still be the paper noted before: where that says something else, it
    stays noted, and old.
    """
    batch = lock(batch)
    lays = lays_of(batch)
    ahead = flaws_ahead(lays)
    now = fingerprints(lays, bundles_of(batch, lays), ahead)
    printed, asked = batch.printed, set(papers)
    if in_part:
        papers = [key for key in papers if key not in printed or printed[key][0] == now.get(key)]
    old, missing = old_and_missing(printed, lays, now)
    wanted = {str(number) for number in (*old, *missing)}
    if {str(lay.number) for lay in lays} <= asked or (wanted and wanted <= asked):
        printed = {key: noted for key, noted in printed.items() if key in now}
    batch.printed = note(printed, [key for key in papers if key in now], now, at, flaws_on_sheet(lays, ahead))
    batch.save(update_fields=["printed"])
