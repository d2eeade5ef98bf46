"""Plan against fact of lays at the table: what their spreads should have taken, and what was used."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from planner.cutting.models import Lay, LayCloth
from planner.cutting.portions import spread_m, up_to_cm


@dataclass(frozen=True)
class FactRow:
    """Plan against fact of one colour in one lay, or of all lays of a colour (`lay` 0).

    `planned_m` is what the spreads that are cut should have taken, `lost_m` what of `used_m` was lost at flaws noted
    on the rolls: that is no fault of the plan nor of the cutter, so it counts for no difference.
    """

    lay: int
    colour: str
    swatch: str
    spreads: int
    cut_spreads: int
    planned_m: Decimal
    used_m: Decimal
    lost_m: Decimal

    @property
    def more_m(self) -> Decimal:
        """Used more (+) or less (−) than planned, besides what was lost at flaws."""
        return self.used_m - self.lost_m - self.planned_m

    @property
    def less_m(self) -> Decimal:
        """Used less than planned."""
        return -self.more_m

    @property
    def more_percent(self) -> Decimal | None:
        """The same in percent of the plan; None where nothing was planned."""
        return 100 * self.more_m / self.planned_m if self.planned_m else None


@dataclass(frozen=True)
class FactTable:
    """Plan against fact, lay by lay; `totals` where a colour lies in several lays."""

    rows: tuple[FactRow, ...]
    totals: tuple[FactRow, ...]


def fact_table(lays: Iterable[Lay], shown: Collection[int] | None = None) -> FactTable | None:
    """Plan against fact of all lays (read by `for_page`) of which something was used; None where nothing was.

    Plies of one colour that are marked differently stand in one row. Of very many lays those `shown` (numbers) have
    rows; the sums are of all. No query.
    """
    rows: list[FactRow] = []
    for lay in lays:
        of_colour: dict[int, list[LayCloth]] = defaultdict(list)
        for cloth in lay.cloths.all():
            if cloth.used_m is not None:
                of_colour[cloth.fabric_colour_id].append(cloth)
        for cloths in of_colour.values():
            # Lays that were cut before plies were told have metres alone: all their plies were cut.
            cut = sum(_cut_of(c) for c in cloths)
            used = sum((c.used_m or Decimal(0) for c in cloths), Decimal(0))
            lost = sum((c.lost_m for c in cloths), Decimal(0))
            colour = cloths[0].fabric_colour
            # Each row to the centimetre, as it is filled in at the table.
            planned = sum((_planned_m(lay, c) for c in cloths), Decimal(0))
            spreads = sum(c.spreads for c in lay.cloths.all() if c.fabric_colour_id == colour.pk)
            rows.append(FactRow(lay.number, str(colour), colour.swatch, spreads, cut, planned, used, lost))
    grouped: dict[str, list[FactRow]] = defaultdict(list)
    for row in rows:
        grouped[row.colour].append(row)
    totals = tuple(_total(group) for group in grouped.values() if len(group) > 1)
    own = tuple(row for row in rows if shown is None or row.lay in shown)
    return FactTable(own, totals) if rows else None


def _cut_of(cloth: LayCloth) -> int:
    return int(cloth.spreads if cloth.cut_spreads is None else cloth.cut_spreads)


def _planned_m(lay: Lay, cloth: LayCloth) -> Decimal:
    """What the spreads of these plies that are cut should have taken (m), rounded up to the centimetre."""
    return up_to_cm(_cut_of(cloth) * spread_m(lay))


def _total(rows: Sequence[FactRow]) -> FactRow:
    return FactRow(
        0,
        rows[0].colour,
        rows[0].swatch,
        sum(row.spreads for row in rows),
        sum(row.cut_spreads for row in rows),
        sum((row.planned_m for row in rows), Decimal(0)),
        sum((row.used_m for row in rows), Decimal(0)),
        sum((row.lost_m for row in rows), Decimal(0)),
    )
