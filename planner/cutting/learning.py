"""How well each fabric was used so far: by lays that were cut and what they really used, else by nested ones.

Each marker says what its pieces leave of the cloth. What is wasted at the table besides (used ÷ planned) is a habit of
cloth and cutter, so one figure holds for all lays: the median over the lays cut, weighted by metres. One lay cut far
over plan thus moves no estimate of the others. Of a lay that took over a third more than planned the table asked
whether that is right; even where it is, no other lay is estimated by it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Case, F, Q, Sum, When, Window
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import RowNumber
from django.db.models.lookups import IsNull

from planner.core.lays.learnt import Learnt, Sample, learnt_with, weighted_median
from planner.core.lays.model import LENGTHS
from planner.core.needs import Usage
from planner.cutting.models import LayCloth, LayFact, LayGarment, Marker

#: The last so many lays of a fabric are looked at; habits and cutters change.
MOST_SAMPLES = 20
#: A lay often has plies of two or three colours or lots, each a row of its own.
ROWS_A_LAY = 3
#: Used ÷ planned, without ends. Beyond these it is a slip of whoever typed the metres, cloth spoilt or a splice, and no
#: experience: less no ply can take, but for ends laid shorter than planned; more is asked about at the table
#: (`table_forms.MUCH_MORE`). Common practice reckons a few per cent.
LEAST_OF_PLAN, MOST_OF_PLAN = 0.9, 4 / 3


@dataclass(frozen=True)
class _Row:
    """Plies of a lay as read; `garments` in the marker, `spoilt_m` was cut off without a ply coming of it, or lost at
    flaws of the roll."""

    pk: int
    lay: int
    fabric: str
    cut_spreads: int
    used_m: Decimal | None
    mode: str
    end_mm: float
    marker: int
    length_mm: float | None
    efficiency: float | None
    is_nested: bool
    garments: int
    spoilt_m: Decimal


def learnt(fabrics: Collection[str], *, besides: int | None = None) -> Mapping[str, Learnt]:
    """What was learnt of these fabrics (by name); fabrics without a lay are left out. Four queries, however many lays.

    A lay that was cut counts with its marker's efficiency ÷ what is usually used of a planned metre. Cloth that was
    spoilt without giving a ply is left out, and so is what was lost at flaws noted on the roll. A lay cut far off its
    plan counts as a nested one. Nested lays count with their marker's efficiency, each marker once, unless its pieces
    merely lie in rows. Lays of the batch `besides` (pk) are left out.
    """
    by_lay: dict[str, dict[int, list[_Row]]] = defaultdict(lambda: defaultdict(list))
    for row in _rows(fabrics, besides):
        by_lay[row.fabric][row.lay].append(row)
    found = {}
    for fabric, lays in by_lay.items():
        cut, nested = _samples(lays)
        cut = cut[:MOST_SAMPLES]
        nested = nested[: MOST_SAMPLES - len(cut)]
        usual = weighted_median((one.used_of_plan, one.planned_mm) for one in cut) if cut else 1.0
        samples = [Sample(one.garments, one.efficiency / usual) for one in cut]
        samples += [Sample(*one) for one in nested]
        if samples:
            found[fabric] = learnt_with(Learnt(), samples, _in_words(len(cut), len(nested)))
    return found


def usage_learnt(fabrics: Collection[str]) -> dict[str, Usage]:
    """What that comes to for estimates of orders and prices, where nothing is planned yet. Four queries."""
    return {fabric: one.usage for fabric, one in learnt(fabrics).items()}


@dataclass(frozen=True)
class _Cut:
    """A lay as it was cut: garments and efficiency of its marker, metres used for each metre planned, and how many mm
    were planned."""

    garments: int
    efficiency: float
    used_of_plan: float
    planned_mm: float


def _samples(lays: Mapping[int, list[_Row]]) -> tuple[list[_Cut], list[tuple[int, float]]]:
    """Lays that were cut, and garments and efficiency of markers nested beside them, the newest first."""
    facts, nested = [], []
    seen: set[int] = set()
    for _, rows in sorted(lays.items(), reverse=True):
        cut = _as_cut(rows)
        first = rows[0]
        if cut is not None:
            facts.append(cut)
        elif first.is_nested and first.marker not in seen:
            nested.append((first.garments, first.efficiency or 0.0))
        seen.add(first.marker)
    return facts, nested


def _as_cut(rows: list[_Row]) -> _Cut | None:
    """How a lay was really cut; None where that is not known, or where it teaches nothing."""
    planned_mm = used_mm = 0.0
    for row in rows:
        if row.used_m is None or not row.length_mm:
            continue
        lengths = row.cut_spreads * LENGTHS[row.mode]  # type: ignore[index]
        planned_mm += lengths * row.length_mm
        used_mm += float(row.used_m - row.spoilt_m) * 1000 - lengths * 2 * row.end_mm
    efficiency = rows[0].efficiency
    if planned_mm <= 0 or not efficiency or not LEAST_OF_PLAN <= used_mm / planned_mm <= MOST_OF_PLAN:
        return None
    return _Cut(rows[0].garments, efficiency, used_mm / planned_mm, planned_mm)


def _rows(fabrics: Collection[str], besides: int | None) -> list[_Row]:
    """The last plies of each fabric, those with metres and those without apart, the newest lay first."""
    # Only these are looked up in the tables of lays and markers: markers are heavy.
    last = Window(
        RowNumber(),
        partition_by=[F("fabric_colour__fabric_id"), IsNull(F("used_m"), False)],
        order_by=[F("lay_id").desc(), F("pk").asc()],
    )
    newest = LayCloth.objects.filter(fabric_colour__fabric__name__in=list(fabrics)).order_by()
    if besides is not None:
        newest = newest.exclude(lay__batch=besides)
    newest = newest.annotate(place=last).filter(place__lte=MOST_SAMPLES * ROWS_A_LAY)
    pks = list(newest.values_list("pk", flat=True))
    if not pks:
        return []  # no question about none of them is so much as worded
    facts = LayFact.objects.filter(lay_cloth__in=pks, taken_back_at=None).order_by()
    spoilt = facts.filter(Q(spreads=0) | Q(lost_m__gt=0)).annotate(
        spoilt_m=Case(When(spreads=0, then=F("used_m")), default=F("lost_m"))
    )
    garments = LayGarment.objects.filter(lay_cloth__in=pks).order_by()
    spoilt_m = dict(spoilt.values_list("lay_cloth").annotate(m=Sum("spoilt_m")))
    counts = dict(garments.values_list("lay_cloth").annotate(n=Sum("per_marker")))
    fields = (
        LayCloth.objects.filter(pk__in=pks)
        .order_by("pk")
        .annotate(how=KeyTextTransform("how", "lay__marker__placements"))
    )
    return [
        _row(values, counts.get(values["pk"], 0), spoilt_m.get(values["pk"], Decimal(0)))
        for values in fields.values(
            "pk", "lay_id", "fabric_colour__fabric__name", "spreads", "cut_spreads", "used_m", "lay__mode",
            "lay__end_allowance_mm", "lay__marker_id", "lay__marker__length_mm", "lay__marker__efficiency",
            "lay__marker__state", "how",
        )
    ]  # fmt: skip


def _row(values: Mapping[str, Any], garments: int, spoilt_m: Decimal) -> _Row:
    final = values["lay__marker__state"] in {Marker.State.READY, Marker.State.STOPPED}
    # Lays that were cut before plies were told have metres alone: all their plies were cut.
    cut = values["spreads"] if values["cut_spreads"] is None else values["cut_spreads"]
    return _Row(
        pk=values["pk"],
        lay=values["lay_id"],
        fabric=values["fabric_colour__fabric__name"],
        cut_spreads=cut,
        used_m=values["used_m"],
        mode=values["lay__mode"],
        end_mm=values["lay__end_allowance_mm"],
        marker=values["lay__marker_id"],
        length_mm=values["lay__marker__length_mm"],
        efficiency=values["lay__marker__efficiency"],
        is_nested=final and values["how"] != "rows",
        garments=garments,
        spoilt_m=spoilt_m,
    )


def _in_words(cut: int, nested: int) -> str:
    """ "the last 12 lays cut", "the last 3 lays cut and 4 nested"."""
    if not cut:
        return "the last nested lay" if nested == 1 else f"the last {nested} nested lays"
    words = "the last lay cut" if cut == 1 else f"the last {cut} lays cut"
    return f"{words} and {nested} nested" if nested else words
