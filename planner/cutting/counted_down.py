"""A roll without a stretch for plies that are to come from it, after a count, a cut or a flaw that no lay told of.

Batches nothing of which is cut get their rolls again by themselves. Lays of others wait for cloth where nothing else in
stock takes their plies; else they keep what their tickets say until their batch is given other rolls with its button.
"""

from __future__ import annotations

from typing import Any

from planner.core.listed import listed
from planner.core.spec import ClothKey
from planner.cutting.actions.letting_go import let_go_of
from planner.cutting.counted_on import counted_on_in_words, waiting_in_words
from planner.cutting.models import Batch
from planner.materials.models import Roll, Workroom
from planner.materials.promised import StillPromised, over_promised
from planner.materials.signals import roll_changed


def listen() -> None:
    """Hears of every count of a roll, and of what is taken or cut off it."""
    roll_changed.connect(_changed, dispatch_uid="lays that count on a roll")


def _changed(roll: Roll, **_: Any) -> list[str]:
    """What whoever counted is told, with what to do for each batch concerned. One query where there is none."""
    found = over_promised({roll.pk})
    if not found:
        return []
    short = found[0].lays_short
    numbers = list(dict.fromkeys(number for number, _ in short))
    states = dict(Batch.objects.filter(number__in=numbers).values_list("number", "state"))
    words = [counted_on_in_words(found[0], "", Workroom.the().display)]
    asked = [number for number in numbers if states.get(number) == Batch.State.PLANNED]
    waiting = let_go_of(found)
    waits = [(number, lay) for number, lay in short if lay in waiting.get(number, ())]
    others = dict.fromkeys(number for number, lay in short if (number, lay) not in waits)
    begun = [number for number in others if states.get(number) == Batch.State.CUTTING]
    if asked:
        words.append(f"The rolls of {listed(asked)} are assigned again now; look there at what is short.")
    if waits:
        words.append(waiting_in_words(waits, ""))
    if begun:
        words.append(f"Open {listed(begun)} and give the uncut lays other rolls: there is a button for it.")
    return [" ".join(words)]


def lacking(promised: StillPromised | None = None) -> dict[ClothKey, str]:
    """By cloth what rolls lack that lays count on, beside what is to be bought. One query, none where what is
    `promised` was read already, one more where some do.
    """
    found: dict[ClothKey, list[str]] = {}
    for one in over_promised(None, promised):
        words = counted_on_in_words(one, "", Workroom.the().display).removesuffix(".")
        found.setdefault(ClothKey(one.fabric, one.colour), []).append(words)
    return {
        key: f"{'; '.join(words)}: give these lays other rolls first, then it is known whether more must be bought"
        for key, words in found.items()
    }
