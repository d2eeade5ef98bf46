"""Lays cut in part on their papers: which plies are cut, which are still to be, and what each colour's figures are."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from pytest_django import DjangoAssertNumQueries

from planner.cutting.actions import rest, table
from planner.cutting.actions.booking import Told
from planner.cutting.cut_so_far import CutSoFar, cut_so_far, told_cut
from planner.cutting.lay_papers import lay_papers
from planner.cutting.models import Batch, Lay, LayRoll
from planner.cutting.spread_rows import rolls_of, told_of
from planner.cutting.stored import plan_of, planned_batch
from planner.papers.data import LayPaper, PlyRow, RollPart
from planner.papers.spreading import plies_in_words, rolls_in_words
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON
from tests.papers import samples
from tests.sewing.makers import nest_all

DAY = f"{NOON.day} {NOON:%b %Y}"


@pytest.fixture
def batch(db: None) -> Batch:
    return plies_batch(5)


def paper_of(batch: Batch, number: int) -> LayPaper:
    batch = Batch.objects.get(pk=batch.pk)
    read = planned_batch(batch)
    papers = lay_papers(plan_of(read), read.shop, rolls_of(batch), cut_so_far(batch), told_of(batch))
    return next(paper for paper in papers if paper.number == number)


def rows_of(paper: LayPaper) -> list[tuple[int, int, bool]]:
    return [(row.first, row.last, row.is_cut) for row in paper.ply_rows]


def tell(lay: Lay, spreads: int, roll: int | None = None, days: int = 0) -> None:
    told = Told(only_cloth(lay).pk, spreads, Decimal(5), roll)
    assert not table.tell_lay(lay, [told], None, NOON + timedelta(days=days)).problem


def test_plies_that_are_cut_lie_lowest(batch: Batch) -> None:
    lay = jersey_lay(batch)
    assert rows_of(paper_of(batch, lay.number)) == [(1, 5, False)]
    tell(lay, 2)
    paper = paper_of(batch, lay.number)
    assert rows_of(paper) == [(1, 2, True), (3, 5, False)]
    assert (paper.plies, paper.plies_cut, paper.still) == ((("ink", 5),), (("ink", 2),), 3)
    assert plies_in_words(paper) == "5 × ink (2 cut, 3 to cut)"
    assert paper.cut == f"BEGUN. Cut: 2 of 5 plies of ink on {DAY}. Still to cut: 3 plies of ink"


def test_the_plies_that_are_cut_are_those_told_first_whichever_roll_they_came_from(batch: Batch) -> None:
    """Formerly ply 4 was called cut, for it was planned from the roll told; spread was ply 1."""
    lay = jersey_lay(batch)
    cloth = only_cloth(lay)
    cloth.rolls.all().delete()
    first, second = roll_of(cloth, "R1"), roll_of(cloth, "R2")
    for position, (roll, spreads) in enumerate(((first, 3), (second, 2))):
        LayRoll.objects.create(lay_cloth=cloth, roll=roll, spreads=spreads, position=position)
    tell(lay, 1, second.pk)
    paper = paper_of(batch, lay.number)
    assert rows_of(paper) == [(1, 1, True), (2, 4, False), (5, 5, False)]
    assert [row.roll.number for row in paper.ply_rows if row.roll] == ["R2", "R1", "R2"]
    words = rolls_in_words(paper)
    assert "roll R1, 3 plies" in words
    assert "roll R2, 1 ply" in words


def test_days_are_told_once_each(batch: Batch) -> None:
    lay = jersey_lay(batch)
    tell(lay, 1)
    tell(lay, 1)
    tell(lay, 1, days=3)
    later = NOON + timedelta(days=3)
    assert paper_of(batch, lay.number).cut == (
        f"BEGUN. Cut: 3 of 5 plies of ink on {DAY} and {later.day} {later:%b %Y}. Still to cut: 2 plies of ink"
    )


def test_the_rest_of_a_lay_says_so_and_the_lay_what_became_of_it(batch: Batch) -> None:
    lay = jersey_lay(batch)
    tell(lay, 4)
    planned = rest.replan_rest(lay, None, NOON)
    assert not planned.problem
    nest_all(batch)
    (other,) = planned.lays
    paper = paper_of(batch, other.number)
    assert paper.before == f"The rest of lay {lay.number}, of which 4 of 5 plies of ink were cut on {DAY}."
    assert not paper.cut
    cut = paper_of(batch, lay.number)
    told = f"CUT in part: 4 of 5 plies of ink on {DAY}. The other one"
    assert cut.cut == f"{told} is to be cut as lay {other.number}"
    assert rows_of(cut) == [(1, 4, False)], "only what was cut is shown of it"
    Lay.objects.filter(pk=other.pk).update(cut_at=NOON)
    assert paper_of(batch, lay.number).cut == f"{told} was cut as lay {other.number}"


def test_queries_are_few_and_none_before_anything_is_cut(
    batch: Batch, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(0):
        assert cut_so_far(batch) == {}
    tell(jersey_lay(batch), 2)
    batch.refresh_from_db()
    with django_assert_num_queries(4):
        assert cut_so_far(batch)


def test_pairs_are_counted_as_spreads() -> None:
    part = RollPart("R1", "", 2, 4_000.0)
    rows = PlyRow(1, 2, "ink", part, (), is_cut=True), PlyRow(3, 6, "ink", replace(part, plies=4), ())
    lay = replace(samples.stacked_lay(), mode="face_to_face", plies=(("ink", 3),), ply_rows=rows)
    (paper,) = told_cut([lay], {lay.number: CutSoFar("BEGUN", is_ended=False)})
    assert plies_in_words(paper) == "3 pairs of plies of ink (1 cut, 2 to cut)"
    assert rolls_in_words(paper).startswith("ink: roll R1, 4 plies")
    (ended,) = told_cut([lay], {lay.number: CutSoFar("CUT", is_ended=True)})
    assert not any(row.is_cut for row in ended.ply_rows), "it is the lay that is cut"
