"""What cut tickets and bundle tickets tell, as plain facts that two prints are held against each other by."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from planner.core.lays.signs import signs_of
from planner.cutting.kept_rolls import planned_rolls
from planner.cutting.laid import valid_spreads
from planner.cutting.marker_store import Places, read_marker
from planner.cutting.models import Lay, LayCloth
from planner.cutting.reading import BundleThere


def ticket_facts(lay: Lay, bundles: Sequence[BundleThere]) -> tuple[Any, ...]:
    """What the cut ticket of a lay tells, but for flaws: how it is spread, from which rolls, its marker, for which
    `bundles`.

    Its number is among it, for a ticket goes by it, and what each number of a piece names. Places of pieces are not
    looked at: another arrangement has another length.
    """
    rolls = [
        [
            (roll.roll and (roll.roll.number, roll.roll.shade_lot), roll.spreads)
            for roll in planned_rolls(cloth)
        ]
        for cloth in lay.cloths.all()
    ]
    return (
        (lay.number, lay.way, round(lay.lay_width_mm, 1), round(lay.end_allowance_mm, 1)),
        (lay.marker.key, round(lay.marker.length_mm or 0.0, 2)),
        _numbers(lay),
        plies_told(lay),
        rolls,
        [bundle_told(bundle) for bundle in bundles],
        *_cloth_told(lay),
    )


def _cloth_told(lay: Lay) -> list[tuple[float, ...]]:
    """Of cloth with a pattern how often that comes again by now, and of any what washing it first takes. What the lay
    was made for, and over which seams a pattern runs on there, is in the key of its marker.
    """
    fabric = lay.cloths.all()[0].fabric_colour.fabric
    repeats = (float(fabric.repeat_length_mm or 0), float(fabric.repeat_width_mm or 0))
    if fabric.shrinkage_handling == fabric.Shrinkage.WASH_FIRST:
        return [(*repeats, float(fabric.shrinkage_length_percent), float(fabric.shrinkage_width_percent))]
    return [repeats] if any(repeats) else []


#: What the pieces' numbers name in markers met lately, by their digest: of very many lays reading all their places
#: took longer than all else that the page of a batch shows.
_NUMBERS: dict[bytes, list[tuple[Any, ...]]] = {}
_MOST_KEPT = 2000


def _numbers(lay: Lay) -> list[tuple[Any, ...]]:
    """What the numbers of the pieces name, from 1: the piece, and of which garments of the marker it is."""
    places = lay.marker.placements
    if not isinstance(places, Places):
        return _numbered(lay)
    found = _NUMBERS.get(places.digest)
    if found is None:
        found = _numbered(lay)
        if len(_NUMBERS) >= _MOST_KEPT:
            _NUMBERS.clear()
        _NUMBERS[places.digest] = found
    return found


def _numbered(lay: Lay) -> list[tuple[Any, ...]]:
    marker = read_marker(lay.marker)
    pieces = marker.placements if marker else ()
    return [(one.style, one.piece, one.size, one.mirrored, signs_of(one)) for one in pieces]


def plies_told(lay: Lay) -> list[tuple[Any, ...]]:
    """What lies on the table, colour by colour; of a lay that was cut in part what was cut."""
    return [
        (
            cloth.fabric_colour.fabric.name,
            cloth.fabric_colour.name,
            valid_spreads(lay, cloth),
            [
                (held.style.number, held.colourway.name, held.size.name, held.per_marker)
                for held in cloth.garments.all()
            ],
        )
        for cloth in lay.cloths.all()
    ]


def lots_told(cloth: LayCloth) -> list[tuple[Any, int]]:
    """The lots that its plies are planned from, from the bottom up, with their spreads: they say whose plies are.

    Cloth that was to be bought then is a lot of its own, whatever roll came in for it since.
    """
    found: list[tuple[Any, int]] = []
    for roll in planned_rolls(cloth):
        lot = None if roll.roll is None or roll.came_later else roll.roll.shade_lot
        if found and found[-1][0] == lot:
            found[-1] = (lot, found[-1][1] + roll.spreads)
        else:
            found.append((lot, roll.spreads))
    return found


def bundle_told(bundle: BundleThere) -> tuple[Any, ...]:
    return bundle.number, bundle.quantity, bundle.style, bundle.colourway, bundle.size
