"""Figures of the workroom that have changed since a cut plan was made."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from planner.core.lays.made_with import AsLaid, MadeWith, made_with
from planner.core.lays.model import LENGTHS
from planner.core.lays.wishes import PlanFacts
from planner.core.listed import lays_listed, listed
from planner.core.spec import ClothKey, Workshop
from planner.core.units import format_length
from planner.cutting.models import Lay
from planner.cutting.too_long import cloths_of, is_too_long, most_mm
from planner.cutting.wording import count_of_plies
from planner.papers.stripes import lengths_in_words


def are_others_now(facts: PlanFacts | None, fabric: str, shop: Workshop) -> bool:
    """Whether a plan was made with other figures than today's; False where its figures were not noted."""
    return (
        facts is not None
        and facts.made_with is not None
        and facts.made_with != _now(facts.made_with, fabric, shop)
    )


def figures_in_words(facts: PlanFacts | None, fabric: str, shop: Workshop, display: str) -> str:
    """ "Planned when the tool cut 2 plies of it (6 plies now) and the table was 5 m long (0.6 m now)".

    "" where all figures are as they were, or where they were not noted.
    """
    if facts is None or (then := facts.made_with) is None:
        return ""
    now = _now(then, fabric, shop)
    parts = []
    if then.plies != now.plies:
        parts.append(f"the tool cut {count_of_plies(then.plies)} of it ({now.plies} now)")
    if then.table_mm != now.table_mm:
        parts.append(
            f"the table was {_metres(then.table_mm, display)} long ({_metres(now.table_mm, display)} now)"
        )
    if then.work != now.work:
        parts.append("laying and cutting took other minutes or cost otherwise")
    if then.prices != now.prices:
        parts.append("the cloth cost otherwise")
    if then.repeats is not None and now.repeats is not None and then.repeats != now.repeats:
        before, after = (_repeat(one, display) for one in (then.repeats, now.repeats))
        parts.append(f"the cloth had {before} ({after} now)")
    if then.laid is not None and now.laid is not None:
        parts += _laid_otherwise(then.laid, now.laid, display)
    return f"Planned when {listed(parts)}" if parts else ""


def _now(then: MadeWith, fabric: str, shop: Workshop) -> MadeWith:
    keys = (ClothKey(fabric, colour) for colour, _ in then.prices)
    return made_with([shop.cloths[key] for key in keys if key in shop.cloths], shop).as_far_as(then)


def lies_otherwise(facts: PlanFacts | None, fabric: str, shop: Workshop) -> bool:
    """Whether a cloth lies otherwise than when the plan was made, so that each of its lays would come out differently
    now. False where it was not noted how the cloth lay."""
    if facts is None or (then := facts.made_with) is None:
        return False
    now = _now(then, fabric, shop)
    return (then.repeats, then.laid) != (now.repeats, now.laid)


def _laid_otherwise(then: AsLaid, now: AsLaid, display: str) -> list[str]:
    parts = []
    if then.width_mm != now.width_mm:
        before, after = (format_length(one, display, "small") for one in (then.width_mm, now.width_mm))  # type: ignore[arg-type]
        parts.append(f"the cloth lay {before} wide ({after} now)")
    if (then.modes, then.is_tube) != (now.modes, now.is_tube):
        parts.append(f"it could be laid {_ways(then)} ({_ways(now)} now)")
    if then.one_way != now.one_way:
        one, both = "one way only", "either way up"
        before, after = (one, both) if then.one_way else (both, one)
        parts.append(f"its pieces lay {before} ({after} now)")
    if then.shades != now.shades:
        parts.append("it shaded (it does not now)" if then.shades else "it did not shade (it does now)")
    if then.larger != now.larger:
        parts.append("its pieces were cut to another size for what it shrinks")
    return parts


def _ways(laid: AsLaid) -> str:
    words = {"face_to_face": "face to face", "folded": "as a tube" if laid.is_tube else "folded"}
    return " or ".join(words.get(mode, mode) for mode in laid.modes)


def _repeat(repeat: tuple[float, float], display: str) -> str:
    words = lengths_in_words(*repeat, imperial=display == "imperial")
    return f"a repeat of {words}" if words else "no repeat"


def too_long_in_words(lays: Iterable[Lay], shop: Workshop, display: str) -> str:
    """ "Lays 1 and 2 are longer than the table (0.6 m)"; "" where all lays still to be cut fit. No query."""
    numbers = longer_than_table(lays, shop)
    if not numbers:
        return ""
    are = "is" if len(numbers) == 1 else "are"
    table = _metres(shop.table_length_mm, display)
    return f"{lays_listed(numbers).capitalize()} {are} longer than the table ({table})"


def longer_than_roll_in_words(lays: Iterable[Lay], shop: Workshop, display: str) -> str:
    """ "Lay 2 is longer than a roll of its cloth gives on the table (4.0 m)"; "" where every ply still to be cut comes
    off some roll. Told of lays that wait for cloth: others have their rolls. No query.
    """
    found: dict[tuple[float, int], list[int]] = defaultdict(list)
    for lay in lays:
        ply_mm = most_mm(cloths_of(lay), lay.mode, shop)
        if lay.cut_at is None and lay.waits and ply_mm < shop.table_length_mm and is_too_long(lay, shop):
            found[ply_mm, LENGTHS[lay.mode]].append(lay.number)  # type: ignore[index]
    told = [
        f"{lays_listed(sorted(numbers))} {'is' if len(numbers) == 1 else 'are'} longer than"
        f"{' half of what' if each == 2 else ''} a roll of {'its' if len(numbers) == 1 else 'their'} cloth gives on"
        f" the table ({_metres(each * ply_mm, display)}){', which both plies of a pair come from' if each == 2 else ''}"
        for (ply_mm, each), numbers in found.items()
    ]
    words = "; ".join(told)
    return f"{words[:1].upper()}{words[1:]}"


def longer_than_table(lays: Iterable[Lay], shop: Workshop) -> list[int]:
    """The numbers of nested lays not cut yet that do not fit the table as it is now, with their ends."""
    most_mm = shop.table_length_mm + 1e-6
    return sorted(
        lay.number
        for lay in lays
        if lay.cut_at is None
        and lay.marker.is_laid
        and (lay.marker.length_mm or 0.0) + 2 * lay.end_allowance_mm > most_mm
    )


def _metres(mm: float, display: str) -> str:
    return format_length(mm, display=display, kind="cloth")  # type: ignore[arg-type]
