"""How much cloth to buy for plies that stock does not give, so that none is spliced."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from planner.core.cloth import ClothBuy, buy_cloth, need_for_lay_m, roll_on_table_mm
from planner.core.rolls.assign import assign_plies
from planner.core.rolls.model import PliesShort, PliesWanted, RollQuestion, RollThere
from planner.core.rolls.simple import assign_simply
from planner.core.rolls.stretches import FINE, fine, make_puzzle
from planner.core.rolls.tally import tally
from planner.core.spec import Cloth
from planner.core.units import round_up_to_pack

#: In metres.
CENTIMETRE = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class RollsToBuy:
    """Cloth to buy for plies: `buy` in the supplier's units and what that costs.

    `lay_m` is the length of the plies on the table, `need_m` the metres as bought that give it: one piece, or
    whole rolls where it is sold by the roll.
    """

    buy: ClothBuy
    lay_m: float
    need_m: float


def what_to_buy(short: Sequence[PliesShort], cloth: Cloth, *, seconds: float = 3.0) -> RollsToBuy:
    """What to buy so that every ply that is short is cut whole.

    By the metre or by weight: the plies one after the other in one piece, through `cloth.need_for_lay_m`
    (washing, flaws) and `cloth.buy_cloth` (steps and minimum). By the roll: rolls of N metres as bought give
    N × (1 − s) / (1 + d) on the table, s lost in washing and d kept for flaws; plies of one length floor(that /
    ply) each, plies of several lengths as :func:`assign_plies` places them. Both plies of a spread face to face come
    from one roll. Rolls bought together are taken for one shade lot. Raises ValueError where a ply, or a pair, is
    longer than a roll, or cloth sold by weight has none.
    """
    # In the lengths that plies are dealt out in, so that what is bought gives just these.
    lay_m = sum(item.plies * fine(item.ply_mm) for item in short) / (1000.0 * FINE)
    if cloth.sold_by != "roll" or not lay_m:
        need_m = need_for_lay_m(lay_m, cloth)
        # Stock is booked to the centimetre, which must not make less of it.
        return RollsToBuy(buy_cloth(float(round_up_to_pack(need_m, CENTIMETRE)), cloth), lay_m, need_m)
    roll_mm = roll_on_table_mm(cloth)
    longest = max((item for item in short if item.plies), key=_spread)
    if _spread(longest) > fine(roll_mm):
        what = "a ply" if longest.plies_per_spread == 1 else "a pair of plies"
        raise ValueError(
            f"{what} of {longest.ply_mm / 1000:.2f} m is longer than a roll, which gives {roll_mm / 1000:.2f} m"
        )
    lengths = {(fine(item.ply_mm), item.plies_per_spread) for item in short if item.plies}
    if len(lengths) == 1:
        _, each = lengths.pop()
        plies_a_roll = fine(roll_mm) // _spread(longest) * each
        rolls = math.ceil(sum(item.plies for item in short) / plies_a_roll)
    else:
        rolls = _fewest_rolls(short, roll_mm, seconds)
    need_m = float(rolls * cloth.pack_quantity)
    return RollsToBuy(buy_cloth(need_m, cloth), lay_m, need_m)


def _spread(item: PliesShort) -> int:
    """Cloth that one spread of these plies takes, in hundredths of a mm."""
    return fine(item.ply_mm) * item.plies_per_spread


def _fewest_rolls(short: Sequence[PliesShort], roll_mm: float, seconds: float) -> int:
    """Rolls that hold all plies, as few as are found in time: from the length of the plies upwards."""
    # New rolls have no flaws, so a pair is as good as one length.
    wanted = tuple(
        PliesWanted(f"{n}", _spread(item) / FINE, -(-item.plies // item.plies_per_spread))
        for n, item in enumerate(short)
        if item.plies
    )
    fewest = math.ceil(sum(w.plies * fine(w.ply_mm) for w in wanted) / fine(roll_mm))
    # A roll holds at least one ply, so as many rolls as plies always do.
    most = _rolls_by_rule(wanted, roll_mm)
    for count in range(fewest, most):
        answer = assign_plies(_question(wanted, roll_mm, count), seconds=seconds / (most - fewest))
        if not answer.short:
            return count
    return most


def _rolls_by_rule(wanted: tuple[PliesWanted, ...], roll_mm: float) -> int:
    """Rolls that the plain rule opens where there are enough."""
    plies = sum(w.plies for w in wanted)
    puzzle = make_puzzle(_question(wanted, roll_mm, plies))
    return tally(puzzle, assign_simply(puzzle)).opened


def _question(wanted: tuple[PliesWanted, ...], roll_mm: float, count: int) -> RollQuestion:
    # Only whether they fit is asked, so nothing counts as waste.
    return RollQuestion(wanted, tuple(RollThere(f"{n}", roll_mm) for n in range(count)), keep_from_mm=0.0)
