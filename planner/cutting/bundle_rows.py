"""Bundles as the page of their batch lists them: what each is, where its pieces are cut, and how far that is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from planner.core.lays.model import LAYERS
from planner.cutting.plan_now import is_begun
from planner.cutting.reading import BundleThere


@dataclass(frozen=True)
class BundleRow:
    """A bundle in its batch: `what` it is, and `where` its pieces are cut and how far that is."""

    number: str
    token: str
    size: str
    what: str
    where: str


def bundle_rows(bundles: Iterable[BundleThere]) -> list[BundleRow]:
    """Bundles in words; many have their pieces from the same lays (read with their cloths). No query."""
    told: dict[tuple[Any, ...], str] = {}
    rows = []
    for one in bundles:
        # How much of a lay is cut may differ from one bundle of it to another.
        begun = any(lay.cut_at is None and is_begun(lay) for lay in one.lays)
        same = (*(lay.number for lay in one.lays), *((one.style, one.colourway, one.size) if begun else ()))
        if same not in told:
            told[same] = _where_cut(one)
        what = f"{one.quantity} × {', '.join([one.style, *one.options, one.colourway])}"
        rows.append(BundleRow(one.number, one.token, one.size, what, told[same]))
    return rows


def _where_cut(bundle: BundleThere) -> str:
    """ "jersey 180: lays 1, 3; rib: lay 4 · lay 3 not cut yet"."""
    parts = (
        f"{cloth}: lay{'' if len(numbers) == 1 else 's'} {', '.join(map(str, numbers))}"
        for cloth, numbers in bundle.lays_by_cloth
    )
    return f"{'; '.join(parts)} · {_how_far(bundle)}"


def _how_far(bundle: BundleThere) -> str:
    """ "cut", "not cut yet", "lay 3 not cut yet"; "lay 3 cut in part, 1 of 2 plies" of the plies it has garments of."""
    if bundle.is_cut:
        return "cut"
    for lay in (lay for lay in bundle.lays if lay.cut_at is None):
        own = [cloth for cloth in lay.cloths.all() if bundle.is_of(cloth)]
        cut = LAYERS[lay.mode] * sum(cloth.cut_spreads or 0 for cloth in own)  # type: ignore[index]
        if cut:
            whole = LAYERS[lay.mode] * sum(cloth.spreads for cloth in own)  # type: ignore[index]
            return f"lay {lay.number} cut in part, {cut} of {whole} plies"
    return f"lay {bundle.lay_awaited} not cut yet" if bundle.any_cut else "not cut yet"
