"""A cloth that was changed after lays were planned for it: which of them are wider than it now, and which batches were
planned with it as it was. No plan is changed by that.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from django.db.models import Q

from planner.core.lays.items import lay_width_in
from planner.core.lays.made_with import as_laid, as_laid_from_json
from planner.core.listed import lays_listed, listed
from planner.core.spec import Cloth
from planner.core.units import format_length
from planner.cutting.models import Batch, CutPlan, Lay
from planner.cutting.narrow_cloth import EXACT_MM
from planner.materials.models import Fabric, Workroom
from planner.materials.signals import cloth_saved
from planner.materials.specs import cloth_of


def listen() -> None:
    """Hears of every cloth that is changed."""
    cloth_saved.connect(_saved, dispatch_uid="lays planned with a cloth as it was")


def _saved(fabric: Fabric, **_: Any) -> list[str]:
    colour = fabric.colours.first()
    if colour is None:
        return []
    colour.fabric = fabric
    cloth = cloth_of(colour)
    wide = wider_than(cloth)
    words = [wider_in_words(wide, cloth, Workroom.the().display)] if wide else []
    others = [number for number in planned_otherwise(cloth) if number not in wide]
    if others:
        have, their = ("was", "Its page says") if len(others) == 1 else ("were", "Their pages say")
        words.append(f"{listed(others)} {have} planned with this cloth as it was. {their} what is other now.")
    return words


def wider_than(cloth: Cloth) -> dict[str, list[int]]:
    """Lays not cut yet that are wider than the cloth lies now, by the number of their batch. One query."""
    flat, folded = lay_width_in(cloth, "open") + EXACT_MM, lay_width_in(cloth, "folded") + EXACT_MM
    wide = Q(lay_width_mm__gt=flat) | Q(mode=Lay.Mode.FOLDED, lay_width_mm__gt=folded)
    lays = _uncut(cloth).filter(wide).order_by("batch_id", "number")
    found: dict[str, list[int]] = defaultdict(list)
    for batch, number in lays.values_list("batch__number", "number").distinct():
        found[batch].append(number)
    return dict(found)


def planned_otherwise(cloth: Cloth) -> list[str]:
    """Batches (by number) with lays not cut yet whose plan was made when the cloth lay otherwise. One query."""
    plans = CutPlan.objects.filter(
        fabric__name=cloth.key.fabric, batch__in=_uncut(cloth).order_by().values("batch")
    )
    noted = plans.order_by("batch_id").values_list("batch__number", "facts__made_with__laid")
    return [number for number, laid in noted if laid and as_laid_from_json(laid) != as_laid(cloth)]


def _uncut(cloth: Cloth) -> Any:
    return Lay.objects.filter(
        batch__in=Batch.objects.planned_not_cut(),
        cut_at=None,
        cloths__fabric_colour__fabric__name=cloth.key.fabric,
    )


def wider_in_words(found: Mapping[str, Sequence[int]], cloth: Cloth, display: str) -> str:
    """ "Wider than it is now (149 cm less its selvedges) are lays 1 and 2 of B-0001. …" """
    told = "; ".join(f"{lays_listed(numbers)} of {batch}" for batch, numbers in found.items())
    verb = "is" if sum(map(len, found.values())) == 1 else "are"
    wide = format_length(lay_width_in(cloth, "open"), display, "small")  # type: ignore[arg-type]
    return (
        f"Wider than it is now ({wide} less its selvedges) {verb} {told}. Cut nothing so wide: have it planned anew "
        "on the page of the batch."
    )
