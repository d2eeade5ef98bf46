"""What is to buy, in one line: three things and how many more, or four by name."""

from __future__ import annotations

from decimal import Decimal

import pytest

from planner.core.notions.needs import NotionNeed
from planner.core.spec import NotionKey, Workshop
from planner.cutting.batch_answer import buy_in_words


def _packs(name: str, packs: int = 1) -> NotionNeed:
    return NotionNeed(
        key=NotionKey(name, ""), unit="pcs", need=1.0, in_stock=Decimal(0), to_buy_packs=packs, least_packs=0,
        pack="box", cost=Decimal(0), how="",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("names", "told"),
    [
        ("", ""),
        ("a", "Buy 1 × box a"),
        ("ab", "Buy 1 × box a and 1 × box b"),
        ("abcd", "Buy 1 × box a, 1 × box b, 1 × box c and 1 × box d"),
        ("abcde", "Buy 1 × box a, 1 × box b, 1 × box c and 2 more"),
    ],
)
def test_one_thing_more_is_named(names: str, told: str) -> None:
    shop = Workshop(styles={}, cloths={}, notions={})
    assert buy_in_words([], [_packs("there", 0), *map(_packs, names)], shop, "metric") == told
