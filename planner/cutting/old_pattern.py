"""A style that was changed after batches were planned with it: they keep the pattern of their day, and say so.

What is other now is noted with the kept style when the style is changed, so that no page has to compare outlines.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django.db.models import Q

from planner.core.listed import listed
from planner.core.pieces_changed import Named, changed_pieces
from planner.core.spec import Demand
from planner.core.stored_spec import style_from_json
from planner.cutting.models import Batch, Lay, StyleSnapshot
from planner.styles.models import Style
from planner.styles.signals import style_changed
from planner.styles.specs import style_specs

#: More pieces than these are not named one by one.
MOST_NAMED = 4


def listen() -> None:
    """Hears of every change of a style."""
    style_changed.connect(_changed, dispatch_uid="batches that keep the pattern of their day")


def _changed(style: Style, **_: Any) -> list[str]:
    """Notes what is other now than batches still to be cut were planned with; batches that were as it was until now are
    named. One query where there is none.
    """
    base = style.base_id or style.pk
    family = Style.objects.filter(Q(pk=base) | Q(base=base))
    waiting = Batch.objects.planned_not_cut()
    kept = list(StyleSnapshot.objects.filter(style__in=family, batches__in=waiting).distinct())
    if not kept:
        return []
    styles = list(Style.objects.filter(pk__in={one.style_id for one in kept}))
    numbers, now = {one.pk: one.number for one in styles}, style_specs(styles)
    begun = []
    for one in kept:
        pieces = changed_pieces(style_from_json(one.data), now[numbers[one.style_id]])
        changed = [[name, *(option or ("", ""))] for name, option in pieces]
        if changed and not one.changed:
            begun.append(one.pk)
        if changed != one.changed:
            StyleSnapshot.objects.filter(pk=one.pk).update(changed=changed)
    batches = waiting.filter(snapshots__in=begun).order_by("pk").distinct()
    return _said(list(batches.values_list("number", "state"))) if begun else []


def _said(batches: Sequence[tuple[str, str]]) -> list[str]:
    numbers = [number for number, _ in batches]
    if not numbers:
        return []
    keeps = "keeps" if len(numbers) == 1 else "keep"
    words = [f"{listed(numbers)} {keeps} the pattern of the day of planning."]
    if free := [number for number, state in batches if state == Batch.State.PLANNED]:
        them = "it" if len(numbers) == 1 else listed(free)
        words.append(f"To cut {them} by the new one, take the plan back there and plan again.")
    return [" ".join(words)]


def old_patterns_in_words(batch: Batch, demand: Iterable[Demand], lays: Iterable[Lay]) -> str:
    """ "Style 110 was changed after this batch was planned (front and back)"; "" where its pieces are as they were, or
    all that is cut of them is cut. `batch` was read with what its styles have become; no query."""
    uncut = {
        garment.style.number
        for lay in lays
        if lay.cut_at is None
        for cloth in lay.cloths.all()
        for garment in cloth.garments.all()
    }
    rows = list(demand)
    parts = []
    for number, changed in getattr(batch, "styles_changed", {}).items():
        options = {one for row in rows if row.garment.style == number for one in row.garment.options}
        names = _names(
            [(name, (detail, option) if detail else None) for name, detail, option in changed], options
        )
        if names and number in uncut:
            what = listed(names) if len(names) <= MOST_NAMED else f"{len(names)} pieces"
            parts.append(f"{number} ({what})")
    if not parts:
        return ""
    style, was = ("Style", "was") if len(parts) == 1 else ("Styles", "were")
    return f"{style} {listed(parts)} {was} changed after this batch was planned"


def _names(changed: Iterable[Named], options: set[tuple[str, str]]) -> list[str]:
    """The names of changed pieces that garments with these options have, each once."""
    return list(dict.fromkeys(name for name, option in changed if option is None or option in options))
