"""What was typed at the table of a lay that is not as it was seen: it stands there again, to be looked at once more."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.forms import Field
from django.http import QueryDict

from planner.core.lays.model import LENGTHS
from planner.core.units import Display, format_length
from planner.cutting.actions.since_seen import Changed
from planner.cutting.portions import Portion, up_to_cm
from planner.cutting.table_forms import LayCutForm
from planner.papers.layers import SPREADS

#: Metres filled in are rounded up to the centimetre, here and in the browser.
_SAME_M = Decimal("0.011")


def marker_seen(data: QueryDict) -> float | None:
    """How long the marker was that the form was filled in by (mm); None where the form does not say it."""
    try:
        seen = float(data.get("marker_mm", ""))
    except ValueError:
        return None
    return seen if math.isfinite(seen) and seen > 0 else None


def typed_again(
    data: QueryDict, portions: Sequence[Portion], changed: Changed, marker_mm: float | None, display: str
) -> QueryDict | None:
    """What was typed, for the form as it is now; None where it is another form.

    Rolls are those that the plies have now, where these are others. Metres that stood as planned are filled in by what
    is planned now: the lay has another length, other flaws are before its plies.
    """
    if not portions or any(f"spreads-{portion.key}" not in data for portion in portions):
        return None
    again = data.copy()
    blank = LayCutForm(None, portions, display=display)
    for portion in portions:
        if changed.rolls:
            again[f"roll-{portion.key}"] = "" if portion.roll is None else str(portion.roll)
        field = blank.fields[f"used-{portion.key}"]
        spreads = _number(data.get(f"spreads-{portion.key}", ""))
        if spreads and _stands_as_planned(
            data, portion, field, spreads, marker_mm if changed.length else None
        ):
            again[f"used-{portion.key}"] = str(field.prepare_value(portion.metres_of(spreads)))
    return again


def _stands_as_planned(
    data: QueryDict, portion: Portion, field: Field, spreads: int, marker_mm: float | None
) -> bool:
    """Whether nobody typed the metres: they are those that the form was filled in with, or what so many spreads took
    as planned while the marker was so long (None where that is not asked).
    """
    try:
        typed = field.clean(data.get(f"used-{portion.key}", ""))
        filled = field.clean(data.get(f"filled-{portion.key}", ""))
    except ValidationError:
        return False
    if typed is None or typed == filled:
        return typed is not None
    if marker_mm is None:
        return False
    planned = up_to_cm(spreads * each_seen_m(portion, marker_mm) + portion.lost_before(spreads))
    return bool(abs(typed - planned) < _SAME_M)


def each_seen_m(portion: Portion, marker_mm: float) -> Decimal:
    """Metres that a spread took while its marker was so long."""
    ends_m = portion.each_m - portion.marker_m
    return ends_m + LENGTHS[portion.mode] * Decimal(marker_mm) / 1000  # type: ignore[index]


def changed_in_words(
    changed: Changed, portions: Sequence[Portion], marker_mm: float | None, display: Display, *, is_kept: bool
) -> str:
    """What changed, what of that typed stands there still, and what to do."""
    if not is_kept:
        return changed.problem
    if changed.length and marker_mm is not None:
        one = portions[0]
        now, before = (
            format_length(float(metres) * 1000, display, "cloth", at_least=True)
            for metres in (one.each_m, each_seen_m(one, marker_mm))
        )
        return (
            f"{changed.problem} A {SPREADS[one.way][0]} takes {now} now, it was {before}. Metres that stood as "
            "planned are filled in anew, what you typed stands as it was. If it was spread as long as before, type "
            "the metres it took. Then press again."
        )
    if changed.rolls:
        return (
            f"{changed.problem} The rolls are those it has now, and metres that stood as planned go by them; what you"
            " typed stands. Look, and press again."
        )
    return (
        f"{changed.problem} What was told stands below, and what you typed stands here still: "
        "press again only for what is not told yet."
    )


def _number(text: str) -> int:
    text = text.strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) < 4 else 0
