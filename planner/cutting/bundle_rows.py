"""Bundles as the page of their batch lists them: what each is, where its pieces are cut, and how far that is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import prefetch_related_objects

from planner.core.lays.model import LAYERS
from planner.cutting.models import Lay
from planner.cutting.plan_now import is_begun
from planner.cutting.reading import BundleThere
from planner.cutting.wording import options_in_words


@dataclass(frozen=True)
class BundleRow:
    """A bundle in its batch: `what` it is, and `where` its pieces are cut and how far that is."""

    number: str
    token: str
    size: str
    what: str
    where: str


def bundle_rows(shown: Iterable[BundleThere], bundles: Sequence[BundleThere]) -> list[BundleRow]:
    """Those `shown` of the bundles of a batch in words; many have their pieces from the same lays (read with their
    cloths).

    No query, but one where bundles that differ in nothing but their options come from a lay that is begun: then how far
    each is depends on which plies are cut.
    """
    unlike = _unlike_in_options(bundles)
    told: dict[tuple[Any, ...], str] = {}
    rows = []
    for one in shown:
        # How much of a lay is cut may differ from one bundle of it to another.
        begun = any(_is_half_cut(lay) for lay in one.lays)
        of_its_own = (one.style, one.colourway, one.size, *sorted(one.named_options)) if begun else ()
        same = (*(lay.number for lay in one.lays), *of_its_own)
        if same not in told:
            told[same] = _where_cut(one, unlike)
        chosen = options_in_words(one.options)
        what = f"{one.quantity} × {one.style}, {one.colourway}{f' ({chosen})' if chosen else ''}"
        rows.append(BundleRow(one.number, one.token, one.size, what, told[same]))
    return rows


def _is_half_cut(lay: Lay) -> bool:
    return lay.cut_at is None and is_begun(lay)


def _unlike_in_options(bundles: Sequence[BundleThere]) -> Container[int]:
    """Lays that are begun and hold garments that differ in their options alone, read with these from here on."""
    chosen: dict[tuple[int, str, str, str], set[frozenset[int]]] = defaultdict(set)
    begun: dict[int, Lay] = {}
    for one in bundles:
        for lay in filter(_is_half_cut, one.lays):
            begun[lay.pk] = lay
            chosen[lay.pk, one.style, one.colourway, one.size].add(frozenset(one.named_options))
    unlike = {pk for (pk, *_), options in chosen.items() if len(options) > 1}
    plies = [cloth for pk in sorted(unlike) for cloth in begun[pk].cloths.all()]
    if plies:
        prefetch_related_objects(plies, "garments__options")
    return unlike


def _where_cut(bundle: BundleThere, unlike: Container[int]) -> str:
    """ "jersey 180: lays 1, 3; rib: lay 4 · lay 3 not cut yet"."""
    parts = (
        f"{cloth}: lay{'' if len(numbers) == 1 else 's'} {', '.join(map(str, numbers))}"
        for cloth, numbers in bundle.lays_by_cloth
    )
    return f"{'; '.join(parts)} · {_how_far(bundle, unlike)}"


def _how_far(bundle: BundleThere, unlike: Container[int]) -> str:
    """ "cut", "not cut yet", "lay 3 not cut yet"; "lay 3 cut in part, 1 of 2 plies" of the plies it has garments of."""
    if bundle.is_cut:
        return "cut"
    for lay in (lay for lay in bundle.lays if lay.cut_at is None):
        is_of = bundle.is_just_of if lay.pk in unlike else bundle.is_of
        own = [cloth for cloth in lay.cloths.all() if is_of(cloth)]
        cut = LAYERS[lay.mode] * sum(cloth.cut_spreads or 0 for cloth in own)  # type: ignore[index]
        if cut:
            whole = LAYERS[lay.mode] * sum(cloth.spreads for cloth in own)  # type: ignore[index]
            return f"lay {lay.number} cut in part, {cut} of {whole} plies"
    return f"lay {bundle.lay_awaited} not cut yet" if bundle.any_cut else "not cut yet"
