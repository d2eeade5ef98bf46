"""What lays not cut yet are still to take from rolls, read from their promises."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from typing import Any

from django.db.models import F, Q, QuerySet, Sum
from django.db.models.functions import Coalesce

from planner.core.lays.model import LENGTHS
from planner.core.rolls import PliesPromised, still_from

# Where columns stand in the rows that :func:`shares` asks for. What its `more` asks for begins at SHARE_ENDS.
BATCH_AT, LAY_AT, MODE_AT = 1, 2, 3
END_AT, LEFT_AT = 5, 6
BATCH_PK_AT, STATE_AT, CUT_AT = 8, 9, 10
ROLL_AT, SHARE_ENDS = 11, 14


@dataclass(frozen=True)
class Due:
    """What a lay is still to take from one roll: how many spreads, and as which plies; lengths as on the table.

    `roll` is None where the cloth is to be bought. `cloth` is the lay's row for the colour (LayCloth pk), `colour` that
    colour (FabricColour pk), `mode` the way the lay is spread.
    """

    roll: int | None
    batch: str
    lay: int
    spreads: int
    plies: PliesPromised
    cloth: int = 0
    mode: str = "open"
    colour: int = 0
    #: The batch (pk), and whether it is being cut.
    batch_pk: int = 0
    is_cutting: bool = False

    @property
    def length_mm(self) -> float:
        """Length of all these plies together."""
        return self.plies.length_mm

    @property
    def name(self) -> tuple[str, int]:
        """The lay it is for, by the number of its batch and its own."""
        return self.batch, self.lay


@dataclass(frozen=True)
class PliesToBuyFor:
    """Plies of a lay still to be cut that no roll has cloth for: how many `spreads`, each of the marker's `length_mm`
    and `end_mm` at either end. `pk` is that of their row (LayRoll).
    """

    pk: int
    batch_pk: int
    fabric: str
    colour: str
    spreads: int
    mode: str
    length_mm: float
    end_mm: float


@dataclass(frozen=True)
class FlawOnRoll:
    """A flaw (RollFlaw pk) in what is left of a roll, in metres from its outer end."""

    pk: int
    from_m: Decimal
    to_m: Decimal


@dataclass(frozen=True)
class RollPromised:
    """A roll that plies are to come from, with its number, what is left of it, and the names of fabric and colour."""

    pk: int
    number: str
    left_m: Decimal
    fabric: str
    colour: str
    has_flaws: bool
    handling: str
    shrinkage_percent: Decimal


def dues_of(promised: QuerySet[Any]) -> list[Due]:
    """What the uncut lays of these promises (LayRoll) are still to take, from rolls and from cloth to be bought.

    The other rolls of the same plies are among them, for what was cut from another roll than planned stands for what
    was planned first. One query.
    """
    return dues_in(shares(promised))


def shares(promised: QuerySet[Any], *more: Any) -> QuerySet[Any]:
    """Asks for these promises (LayRoll) and the others of the same plies, with `more` columns of each."""
    facts = Q(lay_cloth__facts__roll=F("roll"), lay_cloth__facts__taken_back_at=None)
    of_plies = promised.filter(lay_cloth__lay__cut_at=None).order_by().values("lay_cloth")
    return (
        promised.model._default_manager.filter(lay_cloth__in=of_plies)
        .annotate(cut=Coalesce(Sum("lay_cloth__facts__spreads", filter=facts), 0))
        .order_by("lay_cloth__lay__batch_id", "lay_cloth__lay__number", "lay_cloth_id", "position", "pk")
        .values_list(
            "lay_cloth",
            "lay_cloth__lay__batch__number",
            "lay_cloth__lay__number",
            "lay_cloth__lay__mode",
            Coalesce("lay_cloth__lay__marker__length_mm", "lay_cloth__lay__estimated_length_mm"),
            "lay_cloth__lay__end_allowance_mm",
            F("lay_cloth__spreads") - Coalesce("lay_cloth__cut_spreads", 0),
            "lay_cloth__fabric_colour",
            "lay_cloth__lay__batch_id",
            "lay_cloth__lay__batch__state",
            Coalesce("lay_cloth__cut_spreads", 0),
            "roll",
            "spreads",
            "cut",
            *more,
        )
    )


def dues_in(rows: Iterable[tuple[Any, ...]]) -> list[Due]:
    """What is due, from the rows that :func:`shares` asks for, in the order of the lays' numbers."""
    found = []
    for plies, own in groupby(rows, key=lambda row: row[:ROLL_AT]):
        cloth, batch, lay, mode, length_mm, ends_mm, left, colour, batch_pk, state, _ = plies
        of_rolls = [row[ROLL_AT:SHARE_ENDS] for row in own]
        cut = {roll: spreads for roll, _, spreads in of_rolls}
        ply_mm, each = length_mm + 2.0 * ends_mm, LENGTHS[mode]
        # `still_from` may add plies that were dealt to no roll at all: these are left out.
        still = still_from([share[:2] for share in of_rolls], cut, max(left, 0))[: len(of_rolls)]
        for roll, spreads in still:
            if spreads:
                promised = PliesPromised(ply_mm, spreads * each, each)
                is_cutting = state == "cutting"
                found.append(
                    Due(roll, batch, lay, spreads, promised, cloth, mode, colour, batch_pk, is_cutting)
                )
    return found
