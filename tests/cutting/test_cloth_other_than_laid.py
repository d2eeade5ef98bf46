"""While a batch is being cut no lay stays, nor does the rest of one, that its cloth is no longer made for."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import transaction

from planner.cutting.actions import anew, rest, table
from planner.cutting.actions.booking import Told
from planner.materials.models import Fabric
from planner.styles.models import Piece
from tests.cutting import once
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON, make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db


IN_TWOS = "not to be laid so"
#: What is told of a lay once its cloth was changed so.
CHANGES: dict[str, dict[str, object]] = {
    "wider": {"full_width_mm": 1420},
    "comes again": {"repeat_length_mm": 60},
    "shades": {"shades": True},
    IN_TWOS: {"lay_open": False, "lay_folded": True, "full_width_mm": 2000},
    "another size": {"shrinkage_handling": "cut_larger", "shrinkage_length_percent": 5},
}


def test_no_lay_that_nobody_has_begun_stays_as_it_was(subtests: pytest.Subtests) -> None:
    style = the_style()
    Piece.objects.filter(name__in=("front", "back")).update(beside="body")
    order = make_order([(style, {"neck": "rib band"}, "ink", {"S": 1, "M": 1, "L": 1})])
    batch = once.settled(once.waiting_batch(order))
    lay = jersey_lay(batch)
    rib = batch.lays.exclude(pk=lay.pk).get()
    for one in (lay, rib):
        roll_of(only_cloth(one), f"E-{one.number}", "40")
    assert not table.tell_lay(rib, [Told(only_cloth(rib).pk, 1, Decimal(1))], None, NOON).problem
    batch.refresh_from_db()
    plan = batch.cut_plans.get(fabric__name="jersey")
    assert anew.plan_uncut_anew(batch, plan.pk).stays
    for why, change in CHANGES.items():
        if why == IN_TWOS:
            continue  # one of each is no two
        with subtests.test(why), transaction.atomic():
            Fabric.objects.filter(name="jersey").update(**change)
            done = anew.plan_uncut_anew(batch, plan.pk)
            transaction.set_rollback(True)
            assert (done.problem, done.stays, done.gone) == ("", "", (lay.number,))


def test_nor_does_the_rest_of_one_go_on_with_its_marker(subtests: pytest.Subtests) -> None:
    the_style()
    Piece.objects.filter(name__in=("front", "back")).update(beside="body")
    lay = jersey_lay(once.plies_batch(5))
    assert not table.tell_lay(lay, [Told(only_cloth(lay).pk, 1, Decimal(2))], None, NOON).problem
    jersey = Fabric.objects.filter(name="jersey")
    jersey.update(one_way=False)
    assert rest.replan_rest(lay, None, NOON, if_better=True).stays, "what lies one way may lie so still"
    for why, change in CHANGES.items():
        with subtests.test(why), transaction.atomic():
            jersey.update(**change)
            left = rest.replan_rest(lay, None, NOON, if_better=True)
            transaction.set_rollback(True)
            assert (left.problem, left.stays, left.garments) == ("", "", 4)
            assert why in left.why
