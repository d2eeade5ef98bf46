"""A style that was changed after batches were planned with it: they keep pattern, seams, operations and notions of
their day, and say so.

What is other now is noted with the kept style when the style is changed, so that no page has to compare outlines.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from django.db.models import Q

from planner.core.listed import listed
from planner.core.pieces_changed import KINDS, Named, changed_parts, changed_pieces
from planner.core.spec import Demand
from planner.core.stored_spec import style_from_json
from planner.cutting.models import Batch, Lay, LayGarment, StyleSnapshot
from planner.cutting.querysets import BatchQuerySet
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
    new_pieces, new_parts = [], defaultdict(list)
    for one in kept:
        then, is_now = style_from_json(one.data), now[numbers[one.style_id]]
        pieces, parts = _rows(changed_pieces(then, is_now)), _rows(changed_parts(then, is_now))
        if pieces and not one.changed:
            new_pieces.append(one.pk)
        for kind in {kind for kind, *_ in parts} - {kind for kind, *_ in one.changed_parts}:
            new_parts[kind].append(one.pk)
        if (pieces, parts) != (one.changed, one.changed_parts):
            StyleSnapshot.objects.filter(pk=one.pk).update(changed=pieces, changed_parts=parts)
    said = [_said("pattern", _batches(waiting, new_pieces))]
    said += [_said(kind, _batches(waiting, new_parts[kind])) for kind in KINDS]
    return [words for words in said if words]


def _rows(changed: Iterable[Named]) -> list[list[str]]:
    return [[name, *(option or ("", ""))] for name, option in changed]


def _batches(waiting: BatchQuerySet, kept: Sequence[int]) -> list[tuple[str, str]]:
    """Number and state of the batches planned with one of these."""
    batches = waiting.filter(snapshots__in=kept).order_by("pk").distinct() if kept else ()
    return [(batch.number, batch.state) for batch in batches]


def _said(what: str, batches: Sequence[tuple[str, str]]) -> str:
    numbers = [number for number, _ in batches]
    if not numbers:
        return ""
    keeps = "keeps" if len(numbers) == 1 else "keep"
    words = [f"{listed(numbers)} {keeps} the {what} of the day of planning."]
    if free := [number for number, state in batches if state == Batch.State.PLANNED]:
        them = "it" if len(numbers) == 1 else listed(free)
        do = f"cut {them} by the new one" if what == "pattern" else f"make {them} by the new ones"
        words.append(f"To {do}, take the plan back there and plan again.")
    return " ".join(words)


def old_patterns_in_words(batch: Batch, demand: Iterable[Demand], lays: Iterable[Lay]) -> str:
    """ "Style 110 (front and back) was changed after this batch was planned"; "" where its pieces are as they were, or
    all that is cut of them is cut. `batch` was read with what its styles have become; no query."""
    return _styles_in_words(getattr(batch, "styles_changed", {}), demand, lays)


def old_parts_in_words(batch: Batch, demand: Iterable[Demand], lays: Iterable[Lay]) -> str:
    """The same of seams, operations and notions: "Style 110 (seams) was changed after this batch was planned"."""
    return _styles_in_words(getattr(batch, "parts_changed", {}), demand, lays)


def _styles_in_words(
    changed_by_style: Mapping[str, Iterable[Sequence[str]]], demand: Iterable[Demand], lays: Iterable[Lay]
) -> str:
    if not changed_by_style:
        return ""
    uncut = {
        garment.style.number
        for lay in lays
        if lay.cut_at is None
        for cloth in lay.cloths.all()
        for garment in cloth.garments.all()
    }
    rows = list(demand)
    parts = []
    for number, changed in changed_by_style.items():
        options = {one for row in rows if row.garment.style == number for one in row.garment.options}
        names = _names(_read(changed), options)
        if names and number in uncut:
            parts.append(f"{number} ({_named(names)})")
    return _was_changed(parts)


def old_pieces_of_lay(lay: Lay, cut: Iterable[tuple[str, str]]) -> str:
    """The same for one lay: of the pieces `cut` from it (style, name), those that their style has otherwise by now; ""
    where it is cut. One query, two where there are any."""
    if lay.cut_at is not None:
        return ""
    kept = StyleSnapshot.objects.filter(batches=lay.batch_id).exclude(changed=[]).order_by("style__number")
    found = list(kept.values_list("style__number", "changed"))
    if not found:
        return ""
    garments = LayGarment.objects.filter(lay_cloth__lay=lay)
    options = set(garments.values_list("style__number", "options__detail__name", "options__name"))
    on_lay, parts = set(cut), []
    for number, changed in found:
        own = {(detail, option) for style, detail, option in options if style == number}
        names = [name for name in _names(_read(changed), own) if (number, name) in on_lay]
        if names:
            parts.append(f"{number} ({_named(names)})")
    return _was_changed(parts)


def _was_changed(parts: Sequence[str]) -> str:
    if not parts:
        return ""
    style, was = ("Style", "was") if len(parts) == 1 else ("Styles", "were")
    return f"{style} {listed(parts)} {was} changed after this batch was planned"


def _named(names: Sequence[str]) -> str:
    return listed(names) if len(names) <= MOST_NAMED else f"{len(names)} pieces"


def _read(changed: Iterable[Sequence[str]]) -> list[Named]:
    return [(name, (detail, option) if detail else None) for name, detail, option in changed]


def _names(changed: Iterable[Named], options: Collection[tuple[str, str]]) -> list[str]:
    """The names of what is changed that garments with these options have, each once."""
    return list(dict.fromkeys(name for name, option in changed if option is None or option in options))
