"""Jobs and markers survive being stored, and equal questions have equal keys."""

import json
import math
from dataclasses import replace

from planner.core.lays.check import check_marker, marker_from_placements, placed
from planner.core.lays.grow import rounded_from
from planner.core.lays.model import ItemToLay, MarkerJob, MatchPoint
from planner.core.lays.rows import first_marker
from planner.core.lays.stored import (
    job_from_json,
    job_to_json,
    marker_for,
    marker_from_json,
    marker_key,
    marker_to_json,
)
from planner.core.outline import make_outline, rectangle

FRONT = make_outline([(0, 0), (650.1234, 0), (600, 420), (0, 500)])


def job(style="T1", width=1500.0, gap=2.0, *, one_way=False, outline=FRONT, numbers=(1, 2)):
    items = [ItemToLay(style, "front", "M", n, False, True, outline) for n in numbers]
    items.append(ItemToLay(style, "pocket", "M", numbers[0], True, False, rectangle(150, 140)))
    return MarkerJob(width, one_way, gap, tuple(items))


def through_text(data):
    return json.loads(json.dumps(data))


def test_a_job_comes_back_as_it_was():
    stored = through_text(job_to_json(job()))
    again = job_from_json(stored)
    assert job_to_json(again) == stored
    assert again.items[2].mirrored
    assert not again.items[2].may_turn
    assert marker_key(again) == marker_key(job())


def test_a_marker_comes_back_and_still_passes():
    marker = first_marker(job())
    again = marker_from_json(through_text(marker_to_json(marker)))
    assert check_marker(job(), again.placements) == []
    assert abs(again.length_mm - marker.length_mm) < 0.001
    assert [p.garment_no for p in again.placements] == [p.garment_no for p in marker.placements]
    assert marker_from_json(marker_to_json(replace(marker, how="rows"))).how == "rows"


def test_a_marker_stored_before_it_said_how_reads_as_nested():
    data = marker_to_json(first_marker(job()))
    del data["how"]
    assert marker_from_json(data).how == "nested"


def test_the_key_is_that_of_the_question_not_of_its_names_or_order():
    key = marker_key(job())
    assert len(key) == 64
    assert key == marker_key(job(style="T2", numbers=(7, 3)))
    assert key == marker_key(job(outline=FRONT.moved(123, -45)))
    turned_ring = make_outline(FRONT.points[2:] + FRONT.points[:2])
    assert key == marker_key(job(outline=turned_ring))
    backwards = replace(job(), items=job().items[::-1])
    assert key == marker_key(backwards)


def test_keys_under_which_markers_are_stored_already_stay_the_same_however_often_they_are_asked_for():
    plain = job()
    bound = [replace(i, beside="body", matches=(MatchPoint("side", 430.5, 0.0),)) for i in plain.items]
    striped = replace(plain, items=tuple(bound), repeat_length_mm=64.0)
    for _ in range(2):
        assert marker_key(plain) == "e1165b0c3effddd98e99c305cbfae845c0aa6dee067e5f80754d7133883ff01d"
        assert marker_key(striped) == "ad15d8fe4c7ce5d2fbf6ba0d45a519aa73693d492200cc6dfc911a8b4ee30b53"


def test_whatever_changes_the_answer_changes_the_key():
    others = [
        job(width=1490),
        job(gap=3),
        job(one_way=True),
        job(outline=FRONT.scaled(1.01, 1)),
        job(outline=FRONT.mirrored()),
        replace(job(), items=job().items[:2]),
        replace(job(), items=(replace(job().items[0], may_turn=False), *job().items[1:])),
    ]
    assert len({marker_key(other) for other in [job(), *others]}) == len(others) + 1


def test_a_marker_found_before_serves_the_same_question_under_other_names():
    old = job()
    found = marker_from_placements(
        old,
        [
            placed(old.items[0], 0, 0, 0),
            placed(old.items[1], 180, 0, 510),
            placed(old.items[2], 0, 0, 1030),
        ],
    )
    new = job(style="T9", numbers=(4, 5))
    served = marker_for(new, found, old)
    assert served is not None
    assert check_marker(new, served.placements) == []
    assert {p.style for p in served.placements} == {"T9"}
    assert served.length_mm == found.length_mm
    assert marker_for(job(width=1400), found, old) is None


def test_what_is_stored_asks_the_same_as_what_was_asked_wherever_it_lay():
    """Cut larger for cloth that shrinks, points lie anywhere; stored, to 0.001 mm: every other key was another one."""
    wavy = [(10 * n, 300 + 40 * math.sin(n)) for n in range(40)]
    for shrinks in (0.03, 0.031, 0.017, 0.05, 0.042):
        outline = make_outline([(0, 0), *wavy, (390, 0)]).scaled(1 / (1 - shrinks), 1 / (1 - shrinks / 2))
        asked = job(outline=outline)
        assert marker_key(job_from_json(through_text(job_to_json(asked)))) == marker_key(asked), shrinks
    assert rounded_from(0.0, 15.0948) == rounded_from(0.0, 15.095) == rounded_from(-7.1, 7.995) == 15.1
