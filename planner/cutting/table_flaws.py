"""What was cut at the table against the flaws of its roll: enough for plies that begin behind them, or is it asked."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from planner.core.lays.model import LENGTHS
from planner.core.listed import listed
from planner.core.units import Display, format_length
from planner.cutting.flaws_ahead import range_in_words
from planner.cutting.portions import Portion
from planner.cutting.roll_now import RollNow
from planner.papers.layers import spreads_in_words


def lost_before_m(portion: Portion, spreads: int, roll: RollNow) -> Decimal | None:
    """What plies no longer than their marker lose at the flaws of a roll, cut from it now; None where not all find a
    place beside them."""
    each = LENGTHS[portion.mode]  # type: ignore[index]
    ply_mm = float(portion.marker_m) * 1000 / each
    return roll.lost_before(ply_mm, spreads, portion.mode)


def across_in_words(
    portion: Portion,
    spreads: int,
    flaws: Sequence[tuple[Decimal, Decimal]],
    lost_m: Decimal | None,
    display: Display,
) -> str:
    """ "By the books this roll has a flaw 0.5–0.8 m from its end, in what was cut. Begun behind it, 1 ply takes …"."""
    where = listed([range_in_words(float(low) * 1000, float(high) * 1000, display) for low, high in flaws])
    noun, it = ("a flaw", "it") if len(flaws) == 1 else ("flaws", "them")
    words = f"By the books this roll has {noun} {where} from its end, within what was cut."
    plies = spreads_in_words(spreads, portion.way)
    if lost_m is None:
        return f"{words} Beside {it} there is no room for {plies}. Is it right?"
    takes = format_length((spreads * portion.each_m + lost_m) * 1000, display, "cloth", at_least=True)
    begun = f"Begun behind {it}, " if spreads == 1 else "With what is cut off there, "
    return f"{words} {begun}{plies} take{'s' if spreads == 1 else ''} {takes}. Is it right?"
