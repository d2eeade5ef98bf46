"""Marks of projected pieces: they lie where the pieces lie, notches inwards from the cut line, in few queries."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries
from shapely.geometry import LineString, Point, Polygon

from planner.core.pattern_files.model import Marks, Notch
from planner.cutting.marker_store import read_marker
from planner.cutting.models import Batch, StyleSnapshot
from planner.cutting.projecting import METRIC, NOTCH_SEEN_MM, RING_MM, marks_in, measures_for, projected
from planner.styles.models import PieceOutline
from planner.styles.shapes import outline_from_json
from tests.cutting.once import make_planned_batch
from tests.factories import make_order, make_style

#: Paths are written in tenths of a millimetre.
TENTH_MM = 0.15
NUMBERS = re.compile(r"-?\d+\.\d+")


def points_of(path: str) -> list[tuple[float, float]]:
    numbers = [float(one) for one in NUMBERS.findall(path)]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def test_a_workroom_in_inches_projects_by_round_inches() -> None:
    """By definition an inch is 25.4 mm."""
    inches = measures_for("imperial")
    assert inches.known == (("254", "10 in"), ("304.8", "12 in"), ("508", "20 in"), ("914.4", "36 in"))
    assert inches.steps == (("50.8", "2 in"), ("254", "10 in"), ("508", "20 in"), ("0", "one picture"))
    assert inches.first_known == inches.first_step == "508"
    assert [inches.place(number) for number in range(3)] == ["0 in", "20 in", "40 in"]
    assert [METRIC.place(number) for number in range(3)] == ["0.0 m", "0.5 m", "1.0 m"]


def test_marks_are_drawn_with_y_down() -> None:
    drawn = marks_in(
        [
            Marks(
                notches=(Notch(100, 0, angle_deg=90), Notch(0, 50, depth_mm=30, angle_deg=0)),
                holes=((40, 60),),
                lines=(((0, 10), (20, 10)), ((5, 5),)),
                cutouts=(((1, 1), (9, 1), (9, 9)),),
                stripe_lines=(((0, 20), (0, 30)),),
            )
        ],
        1000,
    )
    assert [points_of(path) for path in drawn.notches] == [
        [(100, 1000), (100, 1000 - NOTCH_SEEN_MM)],  # a shallow one is drawn long enough to be seen
        [(0, 950), (30, 950)],
    ]
    assert [points_of(path) for path in drawn.lines] == [[(0, 990), (20, 990)], [(0, 980), (0, 970)]]
    assert points_of(drawn.cutouts[0]) == [(1, 999), (9, 999), (9, 991)]
    assert drawn.cutouts[0].endswith("Z")
    assert f"M{40 - RING_MM:.1f} 940.0a" in drawn.points[0]


@pytest.fixture
def batch(db: None) -> Batch:
    """Fronts with a notch in the middle of their first edge, and a point to mark 40 mm further in."""
    style = make_style()
    for row in PieceOutline.objects.filter(piece__name="front"):
        (ax, ay), (bx, by) = outline_from_json(row.shape).points[:2]
        middle = ((ax + bx) / 2, (ay + by) / 2)
        marks = Marks(notches=(Notch(*middle),), holes=((middle[0], middle[1] + 40),))
        PieceOutline.objects.filter(pk=row.pk).update(marks=marks.as_json())
    return make_planned_batch(make_order([(style, {"neck": "rib band"}, "ink", {"S": 2, "M": 3})]))


def test_every_front_has_its_notch_inside_it(batch: Batch) -> None:
    lay = batch.lays.with_options().get(number=1)
    shown = projected(lay, METRIC)
    marker = read_marker(lay.marker)
    assert marker is not None
    fronts = [
        Polygon([(x, lay.lay_width_mm - y) for x, y in one.outline])
        for one in marker.placements
        if one.piece == "front"
    ]
    assert fronts
    assert len(shown.marks.notches) == len(shown.marks.points) == len(fronts)
    for path, front in zip(shown.marks.notches, fronts, strict=True):
        start, end = points_of(path)
        assert LineString(front.exterior).distance(Point(start)) <= TENTH_MM
        assert front.contains(Point(end))
        assert Point(start).distance(Point(end)) == pytest.approx(NOTCH_SEEN_MM, abs=TENTH_MM)


def test_the_page_shows_them_in_few_queries(
    helper_client: Client, batch: Batch, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_max_num_queries(15):
        page = helper_client.get(reverse("lay-projector", args=[batch.number, 1])).content.decode()
    assert page.count('class="notch"') == page.count('class="point"') > 0
    assert "snip no deeper than the pattern says" in page
    assert 'data-do="marks"' in page


def test_without_marks_or_a_kept_style_nothing_is_said_of_them(helper_client: Client, batch: Batch) -> None:
    batch.snapshots.clear()
    StyleSnapshot.objects.all().delete()
    page = helper_client.get(reverse("lay-projector", args=[batch.number, 1])).content.decode()
    assert 'class="notch"' not in page
    assert 'data-do="marks"' not in page
    assert 'class="piece"' in page
