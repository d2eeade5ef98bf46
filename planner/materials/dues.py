"""What lays not cut yet are still to take of rolls, read from their promises."""

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

#: Where batch, mode, end allowance, what is left of the plies and cut of them, and roll stand in what :func:`shares`
#: asks for, and where that ends.
BATCH_AT, LAY_AT, MODE_AT, END_AT, LEFT_AT, BATCH_PK_AT, STATE_AT, CUT_AT, ROLL_AT, SHARE_ENDS = (
    1,
    2,
    3,
    5,
    6,
    8,
    9,
    10,
    11,
    14,
)


@dataclass(frozen=True)
class Due:
    """What a lay is still to take of one roll: so many spreads, as plies of cloth as it lies on the table.

    `roll` is None where that cloth is to be bought. `cloth` are the plies in the lay (LayCloth pk), of one `colour`
    (FabricColour pk), `mode` is that of it.
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
        """All of it."""
        return self.plies.length_mm

    @property
    def name(self) -> tuple[str, int]:
        """Of which lay of which batch it is."""
        return self.batch, self.lay


@dataclass(frozen=True)
class PliesToBuyFor:
    """Plies of a lay still to be cut that no roll has cloth for: so many `spreads`, each of a marker's `length_mm` and
    `end_mm` at either end. `pk` is that of their row.
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
    """A flaw (pk) in what is left of a roll, metres from its outer end."""

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
    """What the lays of these promises (LayRoll), as far as they are not cut, are still to take of rolls, and of cloth
    to be bought. One query.

    Told besides are the other rolls of the same plies: what was cut from another roll than planned stands for what was
    planned first.
    """
    return dues_in(shares(promised))


def shares(promised: QuerySet[Any], *more: Any) -> QuerySet[Any]:
    """Asks for these promises (LayRoll) and the others of the same plies, with `more` of each."""
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
    """What is due by the rows that :func:`shares` asks for, in the order of their lays' numbers."""
    found = []
    for plies, own in groupby(rows, key=lambda row: row[:ROLL_AT]):
        cloth, batch, lay, mode, length_mm, ends_mm, left, colour, batch_pk, state, _ = plies
        of_rolls = [row[ROLL_AT:SHARE_ENDS] for row in own]
        cut = {roll: spreads for roll, _, spreads in of_rolls}
        ply_mm, each = length_mm + 2.0 * ends_mm, LENGTHS[mode]
        # What may be told at the end are plies that were dealt to nothing.
        still = still_from([share[:2] for share in of_rolls], cut, max(left, 0))[: len(of_rolls)]
        for roll, spreads in still:
            if spreads:
                promised = PliesPromised(ply_mm, spreads * each, each)
                is_cutting = state == "cutting"
                found.append(
                    Due(roll, batch, lay, spreads, promised, cloth, mode, colour, batch_pk, is_cutting)
                )
    return found
