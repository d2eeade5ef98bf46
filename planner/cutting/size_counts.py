"""Garments on a marker by size, in the order of the sizes' ranges, as pages show them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

from planner.core.size_order import in_range_order
from planner.cutting.models import Lay, LayGarment
from planner.styles.models import Size


def size_counts(rows: Sequence[Lay]) -> dict[int, tuple[tuple[str, int], ...]]:
    """By the key of each lay (read with its garments) what its marker holds of each size.

    No query where all garments of a lay have sizes of one range, else one for all lays.
    """
    held = {row.pk: list(next(iter(row.cloths.all())).garments.all()) for row in rows}
    mixed = {pk: {one.size.size_range_id for one in garments} for pk, garments in held.items()}
    whole = _ranges({pk for of_lay in mixed.values() if len(of_lay) > 1 for pk in of_lay})
    found = {}
    for pk, garments in held.items():
        own = [whole[one] for one in sorted(mixed[pk])] if len(mixed[pk]) > 1 else [_by_position(garments)]
        counts: Counter[str] = Counter()
        for one in garments:
            counts[one.size.name] += one.per_marker
        found[pk] = in_range_order(counts.items(), own)
    return found


def _by_position(garments: Iterable[LayGarment]) -> list[str]:
    """Sizes of one range, from small to large."""
    sizes = {(one.size.position, one.size.name) for one in garments}
    return [name for _, name in sorted(sizes)]


def _ranges(pks: set[int]) -> dict[int, list[str]]:
    """The sizes of each range from small to large; no query for none."""
    found: dict[int, list[str]] = defaultdict(list)
    if pks:
        rows = Size.objects.filter(size_range__in=pks).order_by("position")
        for pk, name in rows.values_list("size_range_id", "name"):
            found[pk].append(name)
    return found
