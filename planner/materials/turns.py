"""In which turn the lays still to be cut take from rolls with flaws, so that least is lost there.

It is worked out each time from what is known of rolls and lays, and stored nowhere. So every page and paper that tells
an order tells the same one, whatever was told, counted, noted or planned anew meanwhile.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from planner.core.lays.order import LayState, cutting_order
from planner.core.rolls import FlawedRoll, LayOnRolls, PliesPromised, orders_losing_least
from planner.materials.dues import BATCH_AT, BATCH_PK_AT, CUT_AT, LAY_AT, ROLL_AT, STATE_AT

#: A lay by the number of its batch and its own.
LayName = tuple[str, int]
#: A batch so that it sorts by its turn: (not being cut yet, pk, number).
BatchTurn = tuple[bool, int, str]


def lays_in(rows: Iterable[tuple[Any, ...]], due_at: int) -> dict[BatchTurn, list[LayState]]:
    """How far the lays are that take from rolls, by their batches in turn, from rows as `dues.shares` asks for them.

    `due_at` is the column that says when something of the lay is due. Turns at flaws are not known at this point.
    """
    begun: set[LayName] = set()
    waiting: set[LayName] = set()
    due: dict[LayName, date] = {}
    found: dict[BatchTurn, dict[LayName, None]] = defaultdict(dict)
    for row in rows:
        name = (row[BATCH_AT], row[LAY_AT])
        found[row[STATE_AT] != "cutting", row[BATCH_PK_AT], row[BATCH_AT]][name] = None
        if row[CUT_AT]:
            begun.add(name)
        if row[ROLL_AT] is None:
            waiting.add(name)
        if row[due_at] is not None:
            due[name] = row[due_at]
    return {
        batch: [
            LayState(name[1], is_begun=name in begun, waits=name in waiting, due_on=due.get(name))
            for name in names
        ]
        for batch, names in sorted(found.items())
    }


def turns_at_flaws(
    batches: Mapping[BatchTurn, Sequence[LayState]],
    plies: Mapping[LayName, Mapping[int, Sequence[PliesPromised]]],
    rolls: Mapping[int, FlawedRoll],
) -> dict[LayName, int]:
    """The turn of each lay that takes `plies` from these rolls (pk), among the lays of its batch that do."""
    at = {roll: n for n, roll in enumerate(rolls)}
    names: list[list[LayName]] = []
    asked: list[tuple[LayOnRolls, ...]] = []
    for (_, _, batch), states in batches.items():
        rank = {state.number: state.rank for state in states}
        own = [(batch, number) for number in cutting_order(states) if (batch, number) in plies]
        names.append(own)
        asked.append(
            tuple(
                LayOnRolls(
                    tuple(sorted((at[roll], tuple(some)) for roll, some in plies[name].items())),
                    rank[name[1]],
                )
                for name in own
            )
        )
    orders = orders_losing_least(tuple(rolls.values()), tuple(asked))
    return {own[n]: turn for own, order in zip(names, orders, strict=True) for turn, n in enumerate(order)}
