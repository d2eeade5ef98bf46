"""Which pieces of a marker belong together, side by side or on the same stripe: the words all who lay pieces share.

Two pieces belong together where they share a garment: its number or the number of its twin.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from planner.core.lays.model import ItemToLay, MarkerJob, MatchPoint
from planner.core.lays.signs import garments_of
from planner.core.outline import Point

#: A match point whose name begins so must agree along the cloth only, or across it only; others must agree in both.
ALONG = "along "
ACROSS = "across "


class CannotMatch(ValueError):  # noqa: N818 - it says what happened
    """Pieces that can lie on the same stripe nowhere; the text says why in plain words."""


def matched_along(job: MarkerJob, name: str) -> bool:
    """Whether points of this name must agree along the cloth."""
    return job.repeat_length_mm > 0 and not name.startswith(ACROSS)


def matched_across(job: MarkerJob, name: str) -> bool:
    """Whether points of this name must agree across the cloth."""
    return job.repeat_width_mm > 0 and not name.startswith(ALONG)


def has_rules(job: MarkerJob) -> bool:
    """Whether some pieces of the job must lie together; otherwise it is plain."""
    return bool(blocks_of(job.items)) or any(
        matched_along(job, point.name) or matched_across(job, point.name)
        for item in job.items
        for point in item.matches
    )


def blocks_of(items: Sequence[ItemToLay]) -> tuple[tuple[int, ...], ...]:
    """The indices of items that lie side by side, block by block; a piece alone with its word is no block."""
    keys = (((no, item.beside) for no in garments_of(item) if item.beside) for item in items)
    return tuple(group for group in _joined(keys) if len(group) > 1)


def point_from_corner(item: ItemToLay, point: MatchPoint, rotation_deg: int) -> Point:
    """A match point seen from the corner where the bounds of the item begin, turned as given (mm)."""
    x0, y0, x1, y1 = item.outline.bounds_mm
    if rotation_deg % 360 == 180:
        return (x1 - point.x_mm, y1 - point.y_mm)
    return (point.x_mm - x0, point.y_mm - y0)


@dataclass(frozen=True)
class StripeGroup:
    """Items that must lie on the same stripes, and how far from the group's own place each begins (mm).

    Item `indices[i]`, unturned, begins at x where (x + along[i]) is the same for all of them modulo the repeat along
    the cloth, and likewise at y with `across`; None where an item is bound to no place that way.
    """

    indices: tuple[int, ...]
    along: tuple[float | None, ...]
    across: tuple[float | None, ...]


def stripe_groups(job: MarkerJob) -> tuple[StripeGroup, ...]:
    """The items of a job that must lie on the same stripes. Raises CannotMatch where two seams want two things."""
    keys = (
        (
            (no, point.name)
            for point in item.matches
            if matched_along(job, point.name) or matched_across(job, point.name)
            for no in garments_of(item)
        )
        for item in job.items
    )
    groups = []
    for indices in _joined(keys):
        if len(indices) > 1:
            along = _offsets(job, indices, axis=0)
            across = _offsets(job, indices, axis=1)
            groups.append(StripeGroup(indices, along, across))
    return tuple(groups)


def off_stripe_mm(distance_mm: float, repeat_mm: float) -> float:
    """How far a distance is from a whole number of repeats (mm, at least 0)."""
    rest = distance_mm % repeat_mm
    return min(rest, repeat_mm - rest)


def on_to_stripe_mm(place_mm: float, wanted_mm: float, repeat_mm: float) -> float:
    """The first place from `place_mm` on that lies a whole number of repeats from `wanted_mm`."""
    step = (wanted_mm - place_mm) % repeat_mm
    # Already there but for a last digit: not a whole repeat further.
    return place_mm if repeat_mm - step < 1e-6 else place_mm + step


def tied(
    stripes: Sequence[StripeGroup], members: Sequence[int], spots: Sequence[Point]
) -> tuple[StripeGroup, ...]:
    """The stripe groups once `members` lie at these `spots` of one block: the groups that the block binds become one.

    Within the new group they lie as in this block, so that the next block with pieces of both lies alike.
    """
    spot_of = dict(zip(members, spots, strict=True))
    touched = [group for group in stripes if spot_of.keys() & set(group.indices)]
    if len(touched) < 2:
        return tuple(stripes)
    one, *others = touched
    for other in others:
        shifts = []
        for axis in (0, 1):
            here, there = _runs_at(one, spot_of, axis), _runs_at(other, spot_of, axis)
            # Where the stripes of one run nowhere in the block both are one as they stand.
            shifts.append(0.0 if here is None or there is None else here - there)
        one = StripeGroup(
            (*one.indices, *other.indices),
            (*one.along, *(None if a is None else a + shifts[0] for a in other.along)),
            (*one.across, *(None if a is None else a + shifts[1] for a in other.across)),
        )
    return (one, *(group for group in stripes if group not in touched))


def _runs_at(group: StripeGroup, spot_of: Mapping[int, Point], axis: int) -> float | None:
    """Where the stripes of a group run in a block, along (0) or across (1); None where none of it is bound."""
    offsets = zip(group.indices, (group.along, group.across)[axis], strict=True)
    return next((at + spot_of[i][axis] for i, at in offsets if at is not None and i in spot_of), None)


_Offsets = tuple[float | None, float | None]


def stripes_of_units(
    job: MarkerJob, stripes: Sequence[StripeGroup], unit_of: dict[int, tuple[int, float, float]]
) -> tuple[StripeGroup, ...]:
    """The stripe groups in terms of units, once those that a unit binds together are one (:func:`tied`).

    `unit_of` says for each item the number of its unit and where in it the item begins (mm). Raises CannotMatch where
    the units cannot lie on all their stripes.
    """
    found = []
    for group in stripes:
        if any(i not in unit_of for i in group.indices):
            continue
        now: dict[int, _Offsets] = {}
        for i, along, across in zip(group.indices, group.along, group.across, strict=True):
            number, x, y = unit_of[i]
            at = (None if along is None else along + x, None if across is None else across + y)
            now[number] = _both(job, now.get(number), at)
        if len(now) > 1:
            found.append(
                StripeGroup(tuple(now), tuple(a for a, _ in now.values()), tuple(b for _, b in now.values()))
            )
    return tuple(found)


def _both(job: MarkerJob, one: _Offsets | None, other: _Offsets) -> _Offsets:
    """Two offsets of one unit as one. Raises CannotMatch where they differ."""
    if one is None:
        return other
    repeats = (job.repeat_length_mm, job.repeat_width_mm)
    for a, b, repeat in zip(one, other, repeats, strict=True):
        if a is not None and b is not None and off_stripe_mm(a - b, repeat) > 1.0:
            raise CannotMatch("pieces that lie side by side cannot lie on the same stripes as well")
    return (one[0] if one[0] is not None else other[0], one[1] if one[1] is not None else other[1])


def _offsets(job: MarkerJob, indices: Sequence[int], *, axis: int) -> tuple[float | None, ...]:
    """Offsets that make all points of one name agree, followed from item to item by the names they share."""
    repeat = (job.repeat_length_mm, job.repeat_width_mm)[axis]
    counts = (matched_along, matched_across)[axis]
    points = {
        i: [
            ((no, point.name), point_from_corner(job.items[i], point, 0)[axis])
            for point in job.items[i].matches
            if counts(job, point.name)
            for no in garments_of(job.items[i])
        ]
        for i in indices
    }
    offsets: dict[int, float] = {}
    # What is not linked along this axis may stand anywhere; each linked part begins afresh, and is then one with
    # the others, which asks a little more than the rule does.
    for first in indices:
        if first in offsets or not points[first]:
            continue
        offsets[first] = points[first][0][1]
        levels = {key: offsets[first] - at for key, at in points[first]}
        reached = True
        while reached:
            reached = False
            for i in indices:
                known = next(((key, at) for key, at in points[i] if key in levels), None)
                if i in offsets or known is None:
                    continue
                offsets[i] = levels[known[0]] + known[1]
                reached = True
                for key, at in points[i]:
                    levels.setdefault(key, offsets[i] - at)
        for i in indices:
            for key, at in points[i]:
                if key in levels and off_stripe_mm(offsets[i] - at - levels[key], repeat) > 1.0:
                    raise CannotMatch(_contradiction(job, i, key[1]))
    return tuple(offsets.get(i) for i in indices)


def _contradiction(job: MarkerJob, index: int, name: str) -> str:
    item = job.items[index]
    seam = name.removeprefix(ALONG).removeprefix(ACROSS)
    return (
        f"the stripes of {item.piece} in size {item.size} cannot run on over the seam {seam} and over the other "
        "seams chosen for it as well"
    )


def _joined(keys_of: Iterable[Iterable[object]]) -> tuple[tuple[int, ...], ...]:
    """Indices of what shares a key, directly or through others; in the order they are met."""
    home: dict[object, int] = {}
    parent: list[int] = []

    def root(i: int) -> int:
        while parent[i] != i:
            i = parent[i]
        return i

    keyed = []
    for i, keys in enumerate(keys_of):
        parent.append(i)
        for key in keys:
            other = home.setdefault(key, i)
            one, two = sorted((root(i), root(other)))
            parent[two] = one
            keyed.append(i)
    groups: dict[int, list[int]] = {}
    for i in dict.fromkeys(keyed):
        groups.setdefault(root(i), []).append(i)
    return tuple(tuple(group) for group in groups.values())
