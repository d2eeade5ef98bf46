"""Questions put into SQL once: the same answers as afresh, whatever is filled in, and no words put a second time."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.db.models import CharField, DateField, Q, QuerySet
from django.test.utils import CaptureQueriesContext

from planner.common.kept_questions import Given, KeptQuestion
from planner.common.shared_rows import KeptShared
from planner.materials.models import FabricColour
from planner.orders.models import Order
from planner.styles.models import ColourwayCloth, Size
from tests import factories as make

pytestmark = pytest.mark.django_db


def test_what_is_asked_for_is_filled_in_each_time_and_the_words_are_put_once() -> None:
    make.make_style("110", sizes="S M L")
    make.make_style("120", sizes="XS XXL")
    put: list[str] = []

    def sizes() -> QuerySet[Size]:
        put.append("put")
        of_style = Q(size_range__styles__number=Given("style", CharField()))
        return Size.objects.filter(of_style).order_by("position").values_list("name", "position")

    question = KeptQuestion(sizes)
    assert [name for name, _ in question.ask(style="110")] == ["S", "M", "L"]
    with CaptureQueriesContext(connection) as asked:
        assert [name for name, _ in question.ask(style="120")] == ["XS", "XXL"]
    assert len(asked) == 1
    assert question.ask(style="999; drop table") == []
    assert put == ["put"]


def test_days_and_keys_are_filled_in_and_sums_come_back_as_they_do_otherwise() -> None:
    for day in (3, 5):
        make.make_order(due_on=date(2026, 12, day))
    late = KeptQuestion(
        lambda: Order.objects.filter(due_on__lt=Given("today", DateField())).values_list("due_on")
    )
    assert late.ask(today=date(2026, 12, 4)) == [(date(2026, 12, 3),)]
    assert late.ask(today=date(2026, 12, 1)) == []
    colour = make.make_fabric_colour()
    make.stock(colour, "7.50")
    on_hand = KeptQuestion(
        lambda: FabricColour.objects.with_stock().filter(pk=Given("colour")).values_list("on_hand_m", "pk")
    )
    [(metres, pk)] = on_hand.ask(colour=colour.pk)
    assert (metres, pk) == (Decimal("7.50"), colour.pk)
    assert isinstance(metres, Decimal)


def test_what_can_have_no_answer_is_not_asked_and_what_is_missing_is_an_error() -> None:
    nothing = KeptQuestion(lambda: Size.objects.filter(pk__in=[]).values_list("pk"))
    with CaptureQueriesContext(connection) as asked:
        assert nothing.ask() == []
    assert not asked.captured_queries
    with pytest.raises(KeyError, match="size"):
        KeptQuestion(lambda: Size.objects.filter(pk=Given("size")).values_list("pk")).ask()


def test_kept_rows_are_those_read_afresh_and_none_is_shared_between_two_readings() -> None:
    make.make_style("110", sizes="S M L", colourways=("ink", "moss"))
    related = {"colourway": ("name",), "fabric_colour": ("name",), "fabric_colour__fabric": ("name",)}
    kept = KeptShared(
        lambda: ColourwayCloth.objects.filter(colourway__name=Given("name", CharField())).order_by("pk"),
        related,
    )

    def told(name: str) -> list[tuple[str, str, str]]:
        return [
            (one.colourway.name, one.fabric_colour.name, one.fabric_colour.fabric.name)
            for one in kept.read(name=name)
        ]

    afresh = ColourwayCloth.objects.order_by("pk").select_related("colourway", "fabric_colour__fabric")
    for name in ("moss", "ink", "moss"):
        assert (
            told(name)
            == [
                (name, one.fabric_colour.name, one.fabric_colour.fabric.name)
                for one in afresh.filter(colourway__name=name)
            ]
            != []
        )
    first, second = (kept.read(name="ink")[0].colourway for _ in range(2))
    assert first == second
    assert first is not second
