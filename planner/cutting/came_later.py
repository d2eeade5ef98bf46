"""Plies whose roll came in after their papers could be printed: a cut ticket from before says it is to be bought."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Min

from planner.core.lays.model import LAYERS
from planner.cutting.models import Lay, LayRoll
from planner.cutting.wording import plies_in_words
from planner.materials.models import StockMove


@dataclass(frozen=True)
class CameLater:
    """Plies ("plies 3 to 5") of a colour from a roll ("R9, lot A"), and when that came in; None where it is not noted,
    or was there when the batch was planned: then another batch let go of it, nobody notes when.
    """

    plies: str
    colour: str
    roll: str
    came_at: datetime | None


def came_later(lay: Lay) -> tuple[CameLater, ...]:
    """Plies of a lay read by `with_rolls` that are still to be cut and whose roll came in later. No query, or one."""
    if lay.cut_at is not None:
        return ()
    rows = [row for cloth in lay.cloths.all() for row in cloth.rolls.all()]
    rolls = [row.roll_id for row in rows if row.came_later]
    if not rolls:
        return ()
    moves = StockMove.objects.filter(roll__in=rolls, quantity__gt=0).order_by().values_list("roll")
    planned_at = lay.batch.planned_at
    came = {
        roll: first
        for roll, first in moves.annotate(first=Min("moved_at"))
        if planned_at is None or first >= planned_at
    }
    return tuple(
        CameLater(plies, colour, roll_in_words(row), came.get(row.roll_id))
        for plies, colour, row in _numbered(lay, rows)
        if row.came_later
    )


def _numbered(lay: Lay, rows: list[LayRoll]) -> Iterator[tuple[str, str, LayRoll]]:
    """Every roll of plies nothing is cut of, with their numbers and their colour."""
    layers = LAYERS[lay.mode]  # type: ignore[index]
    below = 0
    for cloth in lay.cloths.all():
        place = below
        for row in rows:
            if row.lay_cloth_id == cloth.pk:
                first, place = place * layers + 1, place + row.spreads
                if not cloth.cut_spreads:
                    yield plies_in_words([(first, place * layers)]), cloth.fabric_colour.name, row
        below += cloth.spreads


def roll_in_words(row: LayRoll) -> str:
    """ "R9, lot A"."""
    if row.roll is None:
        return "cloth to be bought"
    return f"{row.roll.number}, lot {row.roll.shade_lot}" if row.roll.shade_lot else row.roll.number
