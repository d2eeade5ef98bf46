"""Which markers of other sizes the nesting of a waiting one begins from."""

from __future__ import annotations

from dataclasses import replace
from importlib import import_module

import pytest
from django.apps import apps

from planner.core.lays.model import ItemToLay, MarkerJob
from planner.core.lays.rows import first_marker
from planner.core.outline import rectangle
from planner.cutting.actions import nesting
from planner.cutting.marker_store import examples_for, make_marker, marker_fields
from planner.cutting.models import Marker
from planner.cutting.tasks import STEP, longer_seed

pytestmark = pytest.mark.django_db

WIDTHS = {"S": 300.0, "M": 320.0, "L": 340.0, "XL": 360.0}


def job_of(*sizes: str, width_mm: float = 1000.0, beside: str = "", piece: str = "body") -> MarkerJob:
    items = [
        ItemToLay("T1", piece, size, number, False, True, rectangle(500.0, WIDTHS[size]), beside=beside)
        for number, size in enumerate(sizes, 1)
    ]
    return MarkerJob(width_mm, False, 2.0, tuple(items))


def nested(job: MarkerJob, efficiency: float, how: str = "nested", state: str = "ready") -> Marker:
    """A marker row with an answer; how well it uses the cloth is made up."""
    row = make_marker(job, 5.0)
    found = replace(first_marker(job), how=how, efficiency=efficiency)  # type: ignore[arg-type]
    Marker.objects.filter(pk=row.pk).update(state=state, **marker_fields(found))
    return row


def sizes_of(row: Marker) -> list[list[str]]:
    return [sorted(p.size for p in marker.placements) for marker in examples_for(row)]


def test_the_two_that_use_the_cloth_best_are_examples_each_question_once() -> None:
    nested(job_of("S", "M"), 0.81)
    nested(job_of("M", "L"), 0.86)
    nested(job_of("M", "XL"), 0.84)
    nested(job_of("M", "XL"), 0.85)
    waiting = make_marker(job_of("S", "L"), 5.0)
    assert sizes_of(waiting) == [["L", "M"], ["M", "XL"]]


def test_what_lies_otherwise_or_is_not_nested_yet_is_no_example() -> None:
    nested(job_of("M", "L"), 0.9, how="rows")
    nested(job_of("S", "M"), 0.9, state="nesting")
    nested(job_of("S", "S"), 0.9, state="waiting")
    nested(job_of("L", "L"), 0.9, state="failed")
    nested(job_of("M", "L", "L"), 0.9)
    nested(job_of("M", "M", piece="yoke"), 0.9)
    nested(job_of("M", "M", width_mm=1100.0), 0.9)
    nested(job_of("S", "L"), 0.9)
    waiting = make_marker(job_of("S", "L"), 5.0)
    assert sizes_of(waiting) == []
    nested(job_of("XL", "XL"), 0.7, state="stopped")
    assert sizes_of(waiting) == [["XL", "XL"]]


def test_pieces_that_are_bound_together_have_no_examples() -> None:
    nested(job_of("S", "M", beside="all"), 0.8)
    assert sizes_of(make_marker(job_of("M", "L", beside="all"), 5.0)) == []


def test_the_worker_begins_from_them(monkeypatch: pytest.MonkeyPatch, django_assert_num_queries) -> None:  # type: ignore[no-untyped-def]
    nested(job_of("M", "L"), 0.86)
    waiting = make_marker(job_of("S", "L"), 5.0)
    asked: list[object] = []

    def nest(job: MarkerJob, **options: object) -> object:
        asked.append(options["examples"])
        return replace(first_marker(job), how="nested")

    monkeypatch.setattr(nesting, "nest", nest)
    assert nesting.nest_one(waiting.pk) == "ready"
    assert [[sorted(p.size for p in m.placements) for m in examples] for examples in asked] == [[["L", "M"]]]  # type: ignore[attr-defined]
    with django_assert_num_queries(1):
        examples_for(waiting)


def test_markers_from_before_are_told_their_family() -> None:
    rows = [make_marker(job_of("S", "M"), 5.0), make_marker(job_of("S", "M", beside="all"), 5.0)]
    rows.append(Marker.objects.create(key="k", job={}))
    families = [row.family for row in rows]
    assert len(families[0]) == 64
    assert families[1:] == ["", ""]
    Marker.objects.update(family="")
    import_module("planner.cutting.migrations.0009_markers_of_a_family").fill_in(apps, None)
    assert list(Marker.objects.order_by("pk").values_list("family", flat=True)) == families


def test_one_nested_for_hours_tries_them_no_more() -> None:
    nested(job_of("M", "L"), 0.86)
    row = make_marker(job_of("S", "L"), 3600.0)
    for seed, count in ((Marker.FIRST_SEED, 1), (longer_seed(Marker.POLISH_SEED), 1)):
        row.seed = seed
        assert len(examples_for(row)) == count
    # What goes on has a seed further on by a step, see `nest_one`.
    row.seed = longer_seed(Marker.POLISH_SEED) + STEP
    assert examples_for(row) == []
