"""Rolls that are not as wide as their cloth: how wide they lie, and which lays are wider than a roll they were to come
from, once its width is put right.
"""

from __future__ import annotations

from typing import Any

from planner.core.cloth import shrunk
from planner.core.lays.items import lay_width_in
from planner.core.listed import lays_listed, listed
from planner.core.spec import Cloth
from planner.core.units import format_length
from planner.cutting.arrivals import cloth_is_free
from planner.cutting.models import Batch, LayRoll
from planner.cutting.narrow_cloth import EXACT_MM
from planner.cutting.tasks import queue_rolls
from planner.materials.models import Roll
from planner.materials.signals import roll_width_changed
from planner.materials.specs import cloth_of


def listen() -> None:
    """Hears of every roll whose width is put right."""
    roll_width_changed.connect(_changed, dispatch_uid="lays wider than a roll they were to be cut from")


def own_usable_mm(roll: Roll, cloth: Cloth) -> float | None:
    """The usable width of a roll, read with its cloth, as it lies on the table; None where it is as wide as that."""
    if roll.full_width_mm is None:
        return None
    usable = float(roll.full_width_mm - 2 * roll.fabric_colour.fabric.selvedge_mm)
    return shrunk(usable, cloth.shrinkage_width) if cloth.shrinkage_handling == "wash_first" else usable


def usable_mm(roll: Roll) -> float:
    """How wide a roll, read with its cloth, lies between its selvedges. No query."""
    cloth = cloth_of(roll.fabric_colour)
    own = own_usable_mm(roll, cloth)
    return lay_width_in(cloth, "open") if own is None else own


def own_width_in_words(roll: Roll, display: str) -> str:
    """ "140 cm wide", "" where the roll, read with its cloth, is as wide as that."""
    own = roll.full_width_mm
    if own is None or own == roll.fabric_colour.fabric.full_width_mm:
        return ""
    return f"{format_length(float(own), display, 'small')} wide"  # type: ignore[arg-type]


def _changed(roll: Roll, **_: Any) -> list[str]:
    """Batches nothing of which is cut get other rolls by themselves for lays that are wider; of others they are named.
    A roll that is wider than it was may take plies that fitted nowhere.
    """
    cloth_is_free({roll.fabric_colour_id})
    wide_mm = usable_mm(roll) + EXACT_MM
    rows = LayRoll.objects.filter(
        roll=roll, lay_cloth__lay__cut_at=None, lay_cloth__lay__batch__in=Batch.objects.planned_not_cut()
    )
    lays = rows.order_by("lay_cloth__lay__batch_id", "lay_cloth__lay__number").values_list(
        *(f"lay_cloth__lay__{name}" for name in ("batch", "batch__number", "batch__state", "number")),
        "lay_cloth__lay__mode",
        "lay_cloth__lay__lay_width_mm",
    )
    asked: dict[str, None] = {}
    others: dict[str, list[int]] = {}
    for pk, batch, state, number, mode, lay_mm in lays.distinct():
        if lay_mm <= (wide_mm / 2 if mode == "folded" else wide_mm):
            continue
        if state == Batch.State.PLANNED:
            queue_rolls(pk)
            asked[batch] = None
        else:
            others.setdefault(batch, []).append(number)
    return _said(list(asked), others)


def _said(asked: list[str], others: dict[str, list[int]]) -> list[str]:
    words = []
    if asked:
        words.append(
            f"Lays of {listed(asked)} are wider than this roll: their rolls are assigned again now; look there at what"
            " is short."
        )
    for batch, numbers in others.items():
        are, them = ("is", "it") if len(numbers) == 1 else ("are", "they")
        lays = lays_listed(numbers)
        words.append(
            f"{lays[:1].upper()}{lays[1:]} of {batch} {are} wider than this roll: choose another roll when {them}"
            f" {are} cut."
        )
    return words
