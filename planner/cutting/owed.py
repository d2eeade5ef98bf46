"""Cloth that was cut without a roll although the books have none that lies loose: some roll has less than they say."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal

from planner.core.units import Display, format_metres_told
from planner.materials.models import FabricColour


@dataclass(frozen=True)
class Owed:
    """Metres that a cloth ("jersey, ink") has less than nothing of on no roll."""

    cloth: str
    metres: Decimal

    def told_in(self, display: Display) -> str:
        """What is owed, and what settles it."""
        metres = format_metres_told(self.metres, display)
        return (
            f"{metres} of {self.cloth} were cut from no roll, and the books have none that lies loose. Take it back "
            "and say from which roll, or measure its rolls and the loose cloth again; else as much is asked for again."
        )


def owed_by(colours: Collection[int]) -> tuple[Owed, ...]:
    """What these colours (pk) owe. Where no roll is known of nobody keeps books, so nothing is."""
    if not colours:
        return ()
    owing = FabricColour.objects.filter(pk__in=colours).owing_on_no_roll().select_related("fabric")
    return tuple(Owed(str(colour), round(-colour.on_no_roll_m, 2)) for colour in owing.order_by("pk"))
