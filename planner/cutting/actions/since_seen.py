"""Whether a lay is still as the person saw it who tells something of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from zlib import crc32

from django.db.models import Count

from planner.cutting.models import Lay, LayFact, LayRoll

SEE_NOW = "Nothing was changed; see what stands there now."
#: A lay that became shorter by less is as long as it was: nobody spreads more exactly (mm).
SAME_LENGTH_MM = 10.0


@dataclass(frozen=True)
class Changed:
    """What became of a lay since, in words. `length`: its marker is of another length; `rolls`: plies come from others.

    With neither of them somebody told something of it, or it is another lay.
    """

    problem: str
    length: bool = False
    rolls: bool = False


def told_so_far(lay: Lay) -> str:
    """A lay as it is now, as a mark: another one stands for something told or taken back since, or planned anew."""
    facts = LayFact.objects.filter(lay_cloth__lay=lay).aggregate(
        told=Count("pk"), taken_back=Count("taken_back_at")
    )
    return mark_of(lay, facts["told"], facts["taken_back"], LayRoll.objects.filter(lay_cloth__lay=lay))


def mark_of(lay: Lay, facts: int, taken_back: int, rolls: Iterable[LayRoll]) -> str:
    """The mark of :func:`told_so_far` from what was read of a lay already."""
    plies = [(cloth.pk, cloth.spreads) for cloth in lay.cloths.all()]
    dealt = sorted((one.lay_cloth_id, one.position, one.roll_id or 0, one.spreads) for one in rolls)
    return f"{lay.pk}-{facts}-{taken_back}-{crc32(repr((plies, dealt)).encode()):08x}"


def changed_since(
    lay: Lay, so_far: str | None, marker_mm: float | None, *, now: str | None = None
) -> Changed | None:
    """What became of a lay since the person saw it, None where it is as it was.

    She saw the mark of :func:`told_so_far` and the length of the marker; None for either is not looked at. `now` is
    the mark as it is, where it was read already.
    """
    if so_far is not None and so_far.partition("-")[0] != f"{lay.pk}":
        return Changed(
            f"The batch was planned anew meanwhile: lay {lay.number} is another one now. {SEE_NOW}"
        )
    if lay.cut_at is not None and lay.rests.exists():
        return Changed(
            "Somebody ended this lay: its rest is planned as lays of their own. Nothing was changed."
        )
    if lay.cut_at is not None:
        return Changed("Somebody had recorded this lay as cut before; nothing was changed.")
    if so_far is not None and so_far != (now := now or told_so_far(lay)):
        if so_far.rpartition("-")[0] == now.rpartition("-")[0]:
            return Changed("Plies of this lay got other rolls meanwhile. Nothing was changed.", rolls=True)
        return Changed("Somebody told something of this lay meanwhile. Nothing was changed.")
    gone_mm = (marker_mm or 0.0) - (lay.marker.length_mm or 0.0)
    if marker_mm is not None and abs(gone_mm) >= SAME_LENGTH_MM:
        other = "shorter" if gone_mm > 0 else "longer"
        return Changed(f"This lay became {other} meanwhile. Nothing was changed.", length=True)
    return None
