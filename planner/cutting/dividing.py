"""Bundles of a lay that was cut in part: those that are cut stay as they are, the others go to the lays of the rest.

A ticket that is printed stays good: a bundle keeps its number and token whatever becomes of it. Where only some of its
garments are cut it is divided, and what is split off has the same number with a letter behind it: 03, 03b, 03c.
"""

from __future__ import annotations

import re
import secrets
from collections import Counter
from collections.abc import Collection, Mapping, Sequence

from planner.core.spec import ClothKey, Garment
from planner.cutting.models import Bundle, Lay
from planner.cutting.stored import garment_of

#: How many garments each lay of the rest cuts, lays in their order.
Places = list[tuple[Lay, int]]


def divide_bundles(
    lay: Lay,
    cut: Counter[tuple[Garment, ClothKey]],
    rest: Mapping[tuple[Garment, ClothKey], Places],
    lots: Collection[str] = (),
) -> int:
    """Gives the garments that a lay did not cut to the lays of its rest; returns how many bundles were divided.

    `cut` counts what the lay cut of each garment from each of its colours, `rest` says where the others are cut. `lots`
    are the shade lots it was cut from: bundles of these count as cut first. Bundles for which other lays cut part of
    this cloth come last, as far as this lay was to cut for them.
    """
    rows = list(
        lay.bundles.select_related("style", "colourway", "size", "lay")
        .prefetch_related("options__detail", "lays__cloths__fabric_colour__fabric")
        .order_by("pk")
    )
    of_garment: dict[Garment, list[Bundle]] = {}
    rows.sort(key=lambda row: row.shade_lot not in lots)
    for row in rows:
        of_garment.setdefault(garment_of(row), []).append(row)
    divided = 0
    for (garment, key), places in rest.items():
        left, places = cut[garment, key], list(places)
        total = left + sum(count for _, count in places)
        stays_too = any(same == garment and other != key for same, other in {*cut, *rest})
        for bundle, drawn in _draws(of_garment.get(garment, ()), lay, key, total):
            here = min(drawn, left)
            left -= here
            uncut = drawn - here
            if uncut:
                divided += _move(bundle, lay, uncut, places, leaves=not here and not stays_too)
    return divided


def _draws(bundles: Sequence[Bundle], lay: Lay, key: ClothKey, total: int) -> list[tuple[Bundle, int]]:
    """How many garments of each bundle the lay was to cut from this cloth; bundles it cuts whole come first."""
    sole, shared = [], []
    for bundle in bundles:
        (sole if bundle.lay_id == lay.pk or _lays_with(bundle, key) == 1 else shared).append(bundle)
    draws = []
    for bundle in (*sole, *shared):
        take = min(bundle.quantity, total)
        total -= take
        draws.append((bundle, take))
    return draws


def _lays_with(bundle: Bundle, key: ClothKey) -> int:
    """How many of a bundle's lays have plies of this cloth."""
    wanted = (key.fabric, key.colour)
    return sum(
        any((c.fabric_colour.fabric.name, c.fabric_colour.name) == wanted for c in lay.cloths.all())
        for lay in bundle.lays.all()
    )


def _move(bundle: Bundle, lay: Lay, uncut: int, places: Places, *, leaves: bool) -> int:
    """Gives `uncut` garments of a bundle to the lays of the rest; 1 where it was divided for that.

    `leaves`: nothing of it is cut from the lay.
    """
    stays = bundle.quantity - uncut
    before = [one.pk for one in bundle.lays.all() if one.pk != lay.pk or not leaves]
    others = [one.pk for one in bundle.lays.all() if one.pk != lay.pk]
    options = [option.pk for option in bundle.options.all()]
    is_main = bundle.lay_id == lay.pk
    first = True
    while uncut:
        place, there = places.pop(0)
        take = min(uncut, there)
        uncut -= take
        if there > take:
            places.insert(0, (place, there - take))
        row = bundle if first and not stays else _split_off(bundle, options)
        row.quantity = take
        if is_main:
            # The lot of the next roll is not known yet.
            row.lay, row.shade_lot = place, ""
        row.save()
        row.lays.set([*(before if row is bundle else others), place.pk])
        first = False
    if stays:
        Bundle.objects.filter(pk=bundle.pk).update(quantity=stays)
        bundle.quantity = stays
        bundle.lays.set(before)
    return 1 if stays else 0


def _split_off(bundle: Bundle, options: Sequence[int]) -> Bundle:
    """A new bundle like this one, with the next letter to its number."""
    made = Bundle.objects.create(
        batch_id=bundle.batch_id,
        number=_next_letter(bundle),
        token=secrets.token_urlsafe(12),
        lay_id=bundle.lay_id,
        line_id=bundle.line_id,
        style_id=bundle.style_id,
        colourway_id=bundle.colourway_id,
        size_id=bundle.size_id,
        quantity=1,
        shade_lot=bundle.shade_lot,
    )
    made.options.set(options)
    return made


def whole_number(number: str) -> str:
    """The number of the bundle that one was split off from: "B-0007-03" for "B-0007-03b"."""
    return re.sub(r"(?<=\d)[a-z]+$", "", number)


def _next_letter(bundle: Bundle) -> str:
    whole = whole_number(bundle.number)
    taken = set(
        Bundle.objects.filter(batch_id=bundle.batch_id, number__startswith=whole).values_list(
            "number", flat=True
        )
    )
    n = 2
    while whole + _letters(n) in taken:
        n += 1
    return whole + _letters(n)


def _letters(n: int) -> str:
    """2 is b, 26 is z, 27 is aa."""
    letters = ""
    while n:
        n, at = divmod(n - 1, 26)
        letters = chr(ord("a") + at) + letters
    return letters


def join_bundles(lay: Lay, rests: Sequence[Lay]) -> None:
    """Gives the bundles of the lays of a rest back to their lay; what was split off joins its bundle again."""
    gone = {rest.pk for rest in rests}
    pks = set(Bundle.objects.filter(lays__in=gone).values_list("pk", flat=True))
    for row in Bundle.objects.filter(pk__in=pks).prefetch_related("lays"):
        if row.lay_id in gone:
            row.lay = lay
            row.save(update_fields=["lay"])
        row.lays.set({lay.pk, *(one.pk for one in row.lays.all() if one.pk not in gone)})
    for row in Bundle.objects.filter(pk__in=pks).order_by("pk"):
        _join(row)


def _join(row: Bundle) -> None:
    """Puts a bundle that was split off back into one of its kin that comes from the same lays."""
    whole = whole_number(row.number)
    if whole == row.number:
        return
    own = set(row.lays.values_list("pk", flat=True))
    kin = Bundle.objects.filter(
        batch_id=row.batch_id, number__startswith=whole, pk__lt=row.pk, lay_id=row.lay_id
    )
    for one in kin.prefetch_related("lays").order_by("pk"):
        if whole_number(one.number) == whole and {held.pk for held in one.lays.all()} == own:
            Bundle.objects.filter(pk=one.pk).update(quantity=one.quantity + row.quantity)
            row.delete()
            return
