"""What a lay that is cut in part is still to take of each roll."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeVar

Key = TypeVar("Key")


def still_from(
    planned: Sequence[tuple[Key, int]], cut: Mapping[Key, int], left: int
) -> list[tuple[Key | None, int]]:
    """Spreads that are still to come from each roll `planned` (roll, spreads), in that order, `left` in all.

    What was `cut` from a roll counts first against its own share. What was cut from other rolls than planned stands for
    what was planned first. Where more is left than the rolls planned still give, (None, spreads) at the end says so.
    """
    done = dict(cut)
    shares: list[tuple[Key | None, int]] = []
    for roll, spreads in planned:
        own = min(spreads, done.get(roll, 0))
        done[roll] = done.get(roll, 0) - own
        shares.append((roll, spreads - own))
    extra = sum(spreads for _, spreads in shares) - left
    for n, (planned_from, spreads) in enumerate(shares):
        take = min(max(extra, 0), spreads)
        shares[n] = planned_from, spreads - take
        extra -= take
    return [*shares, (None, -extra)] if extra < 0 else shares
