"""Rows whose related rows are made once: the same answers as by `select_related`, in one query."""

from __future__ import annotations

import pytest
from django.db import connection
from django.db.models import Value
from django.test.utils import CaptureQueriesContext

from planner.common.shared_rows import KeptShared, read_shared
from planner.styles.models import ClothRole, Colourway, ColourwayCloth, Detail, Operation, Size
from tests import factories as make

pytestmark = pytest.mark.django_db


def test_the_same_rows_as_one_by_one_each_related_one_made_once() -> None:
    make.make_style("110", sizes="S M L", colourways=("ink", "moss"))
    rows = ColourwayCloth.objects.order_by("-pk")
    related = dict.fromkeys(
        ("colourway", "colourway__style", "fabric_colour", "fabric_colour__fabric", "role")
    )
    with CaptureQueriesContext(connection) as asked:
        found = read_shared(rows, related)
        told = [
            (one.pk, one.colourway.name, one.colourway.style.number, str(one.fabric_colour), one.role.name)
            for one in found
        ]
    assert len(asked) == 1
    assert told == [
        (one.pk, one.colourway.name, one.colourway.style.number, str(one.fabric_colour), one.role.name)
        for one in rows
    ]
    assert len({id(one.colourway.style) for one in found}) == 1
    assert len({id(one.colourway) for one in found}) == Colourway.objects.count() == 2
    assert len({id(one.role) for one in found}) == ClothRole.objects.count() == 2


def test_columns_not_named_are_fetched_when_asked_for_and_nothing_related_is_none() -> None:
    style = make.make_style("110", sizes="S M")
    operations = Operation.objects.filter(style=style).order_by("position")
    assert set(operations.values_list("option", flat=True)) > {None}
    found = read_shared(
        operations.annotate(mark=Value(7)), {"option": ("name",)}, own=("position",), noted=["mark"]
    )
    assert [one.option and one.option.name for one in found] == [
        one.option and one.option.name for one in operations
    ]
    assert found[0].get_deferred_fields() >= {"name", "machine"}
    assert {one.mark for one in found} == {7}
    with CaptureQueriesContext(connection) as asked:
        assert found[0].name == operations[0].name
    assert len(asked) == 1


def test_what_leads_to_several_has_them_all_in_one_query_and_none_where_there_are_none() -> None:
    style = make.make_style("110", sizes="S M")
    Detail.objects.create(style=style, name="sleeve")
    kept = KeptShared(
        lambda: Detail.objects.order_by("pk", "-options__pk"), {"style": ("number",)}, many=("options", {})
    )
    with CaptureQueriesContext(connection) as asked:
        found = kept.read()
        told = [(one.name, one.style.number, [option.name for option in one.many]) for one in found]
    assert len(asked) == 1
    assert told == [
        (one.name, "110", [option.name for option in one.options.order_by("-pk")])
        for one in Detail.objects.order_by("pk")
    ]
    assert [len(options) for *_, options in told] == [2, 0]
    assert found[0].style is found[1].style


def test_no_rows_are_none() -> None:
    assert read_shared(Size.objects.none(), {"size_range": None}) == []
