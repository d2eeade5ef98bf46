"""What of a fabric's lays is cut and what is still to cut, by what was told at the table, lays of rests among them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from planner.core.lays.model import LENGTHS
from planner.core.lays.wishes import PlanFacts
from planner.core.units import format_length
from planner.cutting.actions.table import left_of
from planner.cutting.laid import length_mm
from planner.cutting.models import Lay
from planner.cutting.screens_lay import is_in_part
from planner.cutting.wording import to_spread_in_words


def is_begun(lay: Lay) -> bool:
    """Whether it is cut, wholly or in part."""
    return lay.cut_at is not None or any(cloth.cut_spreads for cloth in lay.cloths.all())


def is_untouched(lay: Lay) -> bool:
    """Whether nothing told of it at the table still holds."""
    told = any(c.cut_spreads is not None or c.used_m is not None for c in lay.cloths.all())
    return lay.cut_at is None and not told


def may_be_planned_anew(lay: Lay) -> bool:
    """Whether it can be planned anew while others of its batch are being cut. Not a lay of a rest, which has its own
    way back, nor one the maker keeps.
    """
    return lay.rest_of_id is None and not lay.is_kept and is_untouched(lay)


def are_others(lays: Sequence[Lay], plans: Iterable[PlanFacts | None]) -> bool:
    """Whether some of these lays are no longer those of the batch's `plans`: lays of a rest, or planned anew while
    others were cut. Both have numbers after the last of the plans.
    """
    known = list(plans)
    last = None if None in known else sum(facts.best.lays for facts in known if facts is not None)
    return any(lay.rest_of_id is not None or (last is not None and lay.number > last) for lay in lays)


def now_in_words(lays: Sequence[Lay], display: str) -> str:
    """ "Now: 1 lay cut, 1 lay begun (7.4 m used); still to cut 3 spreads of 2 lays, 5.1 m of cloth"; "" before any cut.

    `lays` are those of one fabric with their cloths. A lay that is begun counts among those still to cut with the
    plies that are left. No query.
    """
    if not any(is_begun(lay) for lay in lays):
        return ""
    return f"Now: {_cut_in_words(lays, display)}; {_left_in_words(lays, display)}"


def _cut_in_words(lays: Sequence[Lay], display: str) -> str:
    ended = [lay for lay in lays if lay.cut_at is not None]
    in_part = sum(map(is_in_part, ended))
    begun = sum(lay.cut_at is None and is_begun(lay) for lay in lays)
    whole = len(ended) - in_part
    parts = [f"{_lays(whole)} cut"] if whole or not (in_part or begun) else []
    parts += [f"{_lays(in_part)} cut in part, the rest in lays of its own"] if in_part else []
    parts += [f"{_lays(begun)} begun"] if begun else []
    used = sum((c.used_m or Decimal(0) for lay in lays for c in lay.cloths.all()), Decimal(0))
    return f"{', '.join(parts)} ({_length(float(used) * 1000, display)} used)"


def _left_in_words(lays: Sequence[Lay], display: str) -> str:
    left = [lay for lay in lays if lay.cut_at is None]
    if not left:
        return "nothing is left to cut"
    spreads = sum(
        LENGTHS[lay.mode] * left_of(cloth)  # type: ignore[index]
        for lay in left
        for cloth in lay.cloths.all()
    )
    cloth = to_spread_in_words(sum(map(_left_mm, left)) / 1000, display)
    guessed = "" if all(lay.marker.is_final for lay in left) else ", as estimated until all are nested"
    word = "spread" if spreads == 1 else "spreads"
    return f"still to cut {spreads} {word} of {_lays(len(left))}, {cloth} of cloth{guessed}"


def _left_mm(lay: Lay) -> float:
    """Cloth that the plies still to cut take, end allowances included (mm)."""
    each = LENGTHS[lay.mode] * (length_mm(lay) + 2 * lay.end_allowance_mm)  # type: ignore[index]
    return each * sum(left_of(cloth) for cloth in lay.cloths.all())


def _lays(count: int) -> str:
    return f"{count} {'lay' if count == 1 else 'lays'}"


def _length(mm: float, display: str) -> str:
    return format_length(mm, display=display, kind="cloth")  # type: ignore[arg-type]
