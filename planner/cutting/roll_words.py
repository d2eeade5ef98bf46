"""What came of assigning rolls, or of planning lays anew for those there are, as the page of a batch says it."""

from __future__ import annotations

from planner.core.listed import lays_listed
from planner.cutting.actions.anew import PlannedAnew
from planner.cutting.actions.other_rolls import OtherRolls
from planner.cutting.actions.rolling import RollsAssigned
from planner.papers.layers import spreads_in_words


def assigned_in_words(done: RollsAssigned) -> str:
    """ "Every ply has its roll.", "3 spreads fit on nothing in stock." """
    fit = "1 spread fits" if done.short == 1 else f"{done.short} spreads fit"
    text = f"{fit} on nothing in stock." if done.short else "Every ply has its roll."
    return f"{text} Bundles have changed: print their tickets again." if done.bundles_changed else text


def other_rolls_in_words(done: OtherRolls) -> str:
    """ "Lays 4 and 5 have other rolls now. 2 plies of lay 6 fit on nothing in stock and are to be bought." """
    parts = []
    if len(done.lays) == 1:
        parts.append(f"Lay {done.lays[0]} has another roll now.")
    elif done.lays:
        parts.append(f"Lays {', '.join(map(str, done.lays[:-1]))} and {done.lays[-1]} have other rolls now.")
    elif done.lost:
        parts.append("No other roll in stock helps.")
    elif done.short:
        parts.append("No other roll in stock helps; the lays keep what they have.")
    else:
        parts.append("Nothing was changed: what the uncut lays count on is all there.")
    for number, spreads, way in done.short:
        fit, are = ("fits", "is") if spreads == 1 else ("fit", "are")
        plies = spreads_in_words(spreads, way)
        parts.append(f"{plies} of lay {number} {fit} on nothing in stock and {are} to be bought.")
    if done.lays and not done.short:
        parts.append("Every ply of the uncut lays has its roll.")
    return " ".join(parts)


def anew_in_words(done: PlannedAnew) -> str:
    """ "Lays 1 and 2, of which nothing was cut, are planned anew as lays 7 to 9, which are nested now …" """
    are = "is" if len(done.gone) == 1 else "are"
    new = "is" if len(done.lays) == 1 else "are"
    parts = [
        f"{lays_listed(done.gone).capitalize()}, of which nothing was cut, {are} planned anew as"
        f" {lays_listed(done.lays)}, which {new} nested now and then given rolls. Throw old tickets of"
        f" {'it' if len(done.gone) == 1 else 'them'} away."
    ]
    if done.divided:
        bundles = "1 bundle was" if done.divided == 1 else f"{done.divided} bundles were"
        parts.append(f"{bundles} divided: print the tickets again.")
    parts.append(
        f"As far as estimates tell, {done.to_buy}."
        if done.to_buy
        else "As far as estimates tell, the cloth in stock is enough for them."
    )
    return " ".join(parts)
