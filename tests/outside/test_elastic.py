"""Clear elastic in shoulder seams."""

from dataclasses import replace
from decimal import Decimal

import pytest

from planner.core.needs import work_out_needs
from planner.core.notions.elastic import DEFAULT_TAIL_MM, elastic_length_mm
from planner.core.notions.lines import collect_uses
from planner.core.spec import NotionUse
from tests.core.makers import ELASTIC, make_notion, make_shop, make_tee, wanted


def test_one_length_of_a_shoulder() -> None:
    # Common practice: cut 1 : 1 to the pattern's shoulder seam, 20 mm of tail to hold at either end.
    assert DEFAULT_TAIL_MM == 20.0
    assert elastic_length_mm(120.0) == 160.0


def test_shoulders_of_one_garment() -> None:
    # Common practice: a garment takes 2 × (shoulder seam × ratio + 2 × tail); its shoulders are 150 mm.
    taken = collect_uses([wanted(1)], make_shop()).amounts[ELASTIC]
    assert taken * 1000 == pytest.approx(2 * (150 + 2 * 20))
    tight = make_tee(notions=(NotionUse(ELASTIC, None, "seam", seam="shoulder", ratio=0.9, tail_mm=0.0),))
    taken = collect_uses([wanted(1)], make_shop(tight)).amounts[ELASTIC]
    assert taken * 1000 == pytest.approx(2 * 150 * 0.9)


def test_elastic_is_bought_by_the_roll() -> None:
    # Common practice: buy = need × (1 + waste), rounded up to the pack. 100 garments: 38 m × 1.05 = 39.9 m.
    waste = make_notion(ELASTIC, pack_quantity=Decimal(25), waste_share=0.05)
    needs = work_out_needs([replace(wanted(1), quantity=100)], make_shop(notions={ELASTIC: waste}))
    need = next(one for one in needs.notions if one.key == ELASTIC)
    assert float(need.need) == pytest.approx(39.9)
    assert need.to_buy_packs == 2
