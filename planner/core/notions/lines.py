"""Where the needs of notions come from, line by line."""

from __future__ import annotations

from dataclasses import dataclass

from planner.core.spec import NotionKey, Options


@dataclass(frozen=True, slots=True)
class NeedLine:
    """Where a part of a need comes from; the need of a notion before waste is the sum of its lines.

    `what` is "seam shoulder", "piece front", "garment" or "order", `count` so many of them. `each` is what one takes
    in the notion's unit (m or pcs), waste left out, `amount` = count × each. `how` tells the reckoning in plain words
    with the figures to follow it: "150 mm × 1.00 + 2 × 20 mm tails". `source` is thread's only: "measured",
    "geometry" or "table".
    """

    key: NotionKey
    style: str
    options: Options
    size: str
    what: str
    count: int
    each: float
    amount: float
    how: str
    source: str = ""
