"""What no cut plan can help: pieces wider than the cloth, garments longer than the table, wishes that clash."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from planner.core.cloth import end_of_ply_mm
from planner.core.cut_plan import reasons as why
from planner.core.lays.items import LayProblem, TooWideAsLaid, lay_width_in, why_not
from planner.core.lays.kinds import FabricTable, KindRow
from planner.core.lays.model import Mode
from planner.core.lays.problems import (
    PlanProblem,
    TooLongForTable,
    TooWideForCloth,
    WishRefused,
    too_long_in_words,
)
from planner.core.spec import Cloth, Garment, Workshop
from planner.core.too_wide import TooWide


def certain_misfits(
    table: FabricTable, steps: Mapping[Mode, Sequence[int]], shop: Workshop
) -> list[PlanProblem]:
    """Why kinds cannot be laid in any way, one by one.

    `steps` are those of :func:`items.counts_step` for each way and kind, 0 where it cannot be laid so.
    """
    problems: list[PlanProblem] = []
    for n, kind in enumerate(table.kinds):
        if not any(of_mode[n] for of_mode in steps.values()):
            problems += _told(kind, why_not(kind.sample, 2, kind.cloth, shop))
    return problems


def _told(kind: KindRow, problems: Sequence[LayProblem]) -> list[PlanProblem]:
    """All pieces that are too wide where the cloth lies widest; else the first reason."""
    if not isinstance(problems[0], TooWideAsLaid):
        return [PlanProblem(problems[0].garment, problems[0].text)]
    wide = [one for one in problems if isinstance(one, TooWideAsLaid)]
    lies_mm = max(one.lay_width_mm for one in wide)
    return [_too_wide(kind, one) for one in wide if one.lay_width_mm == lies_mm]


def _too_wide(kind: KindRow, one: TooWideAsLaid) -> TooWideForCloth:
    if not math.isfinite(one.width_mm):
        # Pieces that find no place beside each other however wide the cloth is.
        return TooWideForCloth(one.garment, one.text, one.piece, one.width_mm, one.lay_width_mm)
    garment, key = kind.sample, kind.cloth.key
    # A tube has no width to lie open in.
    open_mm = lay_width_in(kind.cloth, "open") if one.mode == "folded" and not kind.cloth.is_tube else 0.0
    wide = TooWide(
        garment.style, one.piece, garment.size, key.fabric, "", one.width_mm, one.lay_width_mm, open_mm,
        is_folded=one.mode == "folded", is_block=one.is_block,
    )  # fmt: skip
    return TooWideForCloth(one.garment, one.text, one.piece, one.width_mm, one.lay_width_mm, wide)


def in_words(reason: why.Reason, table: FabricTable, shop: Workshop) -> PlanProblem:
    """A reason against every plan, as the maker reads it."""
    names = [_name(kind.sample) for kind in table.kinds]
    fabric = table.fabric
    if isinstance(reason, why.DoesNotFitAlone):
        return _too_long(table.kinds[reason.kind].sample, table.columns[reason.column], reason, shop)
    if isinstance(reason, why.OddNumber):
        return PlanProblem(table.kinds[reason.kind].sample, _odd_in_words(reason, names[reason.kind], table))
    if isinstance(reason, why.TooManyPliesInSpread):
        text = f"{fabric} is laid in two layers, but only one can be cut at a time; let it be laid open"
        return PlanProblem(None, text)
    kinds = [names[k] for k in getattr(reason, "kinds", ())]
    both = " and ".join(dict.fromkeys(kinds))
    wish, text = "", ""
    if isinstance(reason, why.TogetherAndApart):
        wish, text = "together", f"{both} cannot be together and apart"
    elif isinstance(reason, why.TogetherDoesNotFit):
        wish, text = "together", f"{both} do not fit on the table together"
    elif isinstance(reason, why.KeptCutsTooMany):
        wish = "keep"
        text = (
            f"the lays you keep cut {reason.kept} of {names[reason.kind]}, but only {reason.most} are wanted"
        )
    elif isinstance(reason, why.KeptBreaks):
        wish, text = "keep", f"a lay you keep breaks another wish or limit ({reason.what})"
    elif isinstance(reason, why.NoCombination):
        wish, text = "together", f"no set of lays cuts what is wanted of {fabric} with these wishes"
    elif isinstance(reason, why.NothingWanted):
        return PlanProblem(None, "nothing is wanted: there is no quantity above zero")
    else:
        return PlanProblem(None, f"no cut plan was found for {fabric} in the time given; give it longer")
    return WishRefused(None, text, fabric, wish)


def _too_long(garment: Garment, cloth: Cloth, reason: why.DoesNotFitAlone, shop: Workshop) -> PlanProblem:
    key = cloth.key
    if reason.length_mm is None:
        return PlanProblem(garment, f"{_name(garment)} cannot be cut from {key.fabric} as it is laid")
    ply_mm, most_mm = reason.length_mm, reason.most_mm
    of_roll = reason.lengths if most_mm < shop.table_length_mm - 1e-6 else 0
    text = too_long_in_words(garment, key, ply_mm, most_mm, "metric", of_roll=of_roll)
    return TooLongForTable(
        garment, text, key, ply_mm - 2 * end_of_ply_mm(cloth), most_mm, ply_mm, of_roll=of_roll
    )


def _name(garment: Garment) -> str:
    return f"{garment.style} {garment.size}"


def _odd_in_words(reason: why.OddNumber, name: str, table: FabricTable) -> str:
    """What comes in twos only, and the way out; a tube has none but one more, for it cannot lie open."""
    wanted = f"{reason.wanted} of {name} {'is' if reason.wanted == 1 else 'are'} wanted from {table.fabric}, "
    if table.kinds[reason.kind].cloth.is_tube:
        return (
            f"{wanted}a tube, which is cut through both of its layers and so gives {reason.step} at a time, one of "
            "them over; allow one more to be cut than ordered"
        )
    return f"{wanted}which is cut {reason.step} at a time as it is laid; allow one more, or let the cloth be laid open"
