"""A style changed after a batch was planned with it: the batch keeps the pattern of its day, and its page says so."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from planner.core.pieces_changed import changed_parts, changed_pieces
from planner.cutting.actions import planning
from planner.cutting.models import Batch, StyleSnapshot
from planner.styles.models import Piece, Style
from planner.styles.signals import said_of_style
from planner.styles.specs import style_specs
from tests.cutting import once
from tests.cutting.table_makers import jersey_lay
from tests.factories import NOON, make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch() -> Batch:
    """A box top with a rib band; the style offers a self band too."""
    return once.settled(
        once.waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 1, "M": 1, "L": 1})]))
    )


def page(client: Client, batch: Batch) -> str:
    return client.get(reverse("batch-detail", args=[batch.number])).content.decode()


def longer(piece: str, by: float = 1.1) -> Style:
    """The style, this piece of it longer in every size."""
    style = the_style()
    for row in Piece.objects.get(style=style, name=piece).outlines.all():
        row.shape["points"] = [[x * by, y] for x, y in row.shape["points"]]
        row.save()
    return style


def edges_of(client: Client, style: Style, piece: str) -> str:
    """Where the edges of a piece are named, and saved as they stand there; what is said then."""
    address = reverse("piece-edges", args=[style.number, style.pieces.get(name=piece).pk])
    form = client.get(address).context["form"]
    data = {name: value for name in form.fields if (value := form[name].value()) not in (None, False)}
    answer = client.post(address, {**data, "name_0": "hem of the front"}, follow=True)
    return " ".join(str(one) for one in answer.context["messages"])


def test_the_page_of_a_planned_batch_says_which_style_is_another_and_how_the_new_one_is_taken(
    helper_client: Client, batch: Batch
) -> None:
    assert 'id="old-pattern"' not in page(helper_client, batch)
    said = said_of_style(longer("front"))
    assert said == [
        f"{batch.number} keeps the pattern of the day of planning."
        " To cut it by the new one, take the plan back there and plan again."
    ]
    html = page(helper_client, batch)
    assert "Style 110 (front) was changed after this batch was planned. Its lays and tickets keep" in html
    assert "take the plan back" in html
    assert said_of_style(longer("back")) == [], "it was told, and the page says it"
    assert "Style 110 (front and back) was changed" in page(helper_client, batch)
    # What is as it was again is told no more.
    said_of_style(longer("back", 1 / 1.1))
    said_of_style(longer("front", 1 / 1.1))
    assert 'id="old-pattern"' not in page(helper_client, batch)
    assert list(StyleSnapshot.objects.values_list("changed", flat=True)) == [[]]


def test_once_cutting_has_begun_the_lays_keep_their_pattern(
    helper_client: Client, batch: Batch, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    number = jersey_lay(batch).number
    Batch.objects.update(state=Batch.State.CUTTING)
    batch.lays.exclude(number=number).update(cut_at=NOON)
    assert said_of_style(longer("front")) == [f"{batch.number} keeps the pattern of the day of planning."]
    html = page(helper_client, batch)
    assert "Cutting has begun, so its lays and tickets keep the pattern of that day." in html
    batch.lays.update(cut_at=NOON)
    assert 'id="old-pattern"' not in page(helper_client, batch)
    assert said_of_style(longer("back")) == []
    # Where no batch waits nothing is compared.
    Batch.objects.update(state=Batch.State.DONE)
    style = longer("front")
    with django_assert_num_queries(1):
        assert said_of_style(style) == []


def test_pieces_and_steps_of_an_option_that_nobody_ordered_are_not_named(
    helper_client: Client, batch: Batch
) -> None:
    longer_steps("self band")
    said_of_style(longer("self neck band"))
    assert StyleSnapshot.objects.get().changed == [["self neck band", "neck", "self band"]]
    assert StyleSnapshot.objects.get().changed_parts == [["operations", "neck", "self band"]]
    html = page(helper_client, batch)
    assert 'id="old-pattern"' not in html
    assert 'id="old-parts"' not in html
    said_of_style(longer("rib neck band"))
    assert "Style 110 (rib neck band) was changed" in page(helper_client, batch)


def test_a_batch_planned_with_a_style_as_it_was_once_more_is_not_told_of_what_it_was_meanwhile(
    helper_client: Client, batch: Batch
) -> None:
    """While it was another nobody waited with it any more, so that nobody noted when it was as before."""
    said_of_style(longer("front"))
    step = the_style().operations.filter(option=None).first()
    assert step is not None
    type(step).objects.filter(pk=step.pk).update(standard_minutes=step.standard_minutes + 1)
    said_of_style(the_style())
    assert StyleSnapshot.objects.get().changed_parts
    assert planning.take_plan_back(batch, None, NOON)
    type(step).objects.filter(pk=step.pk).update(standard_minutes=step.standard_minutes)
    assert said_of_style(longer("front", 1 / 1.1)) == []
    assert not planning.plan_batch(batch, NOON).problems
    kept = StyleSnapshot.objects.get()
    assert (kept.changed, kept.changed_parts) == ([], [])
    html = page(helper_client, batch)
    assert 'id="old-pattern"' not in html
    assert "was changed after this batch was planned" not in html


def test_whoever_changes_the_style_is_told_once(maker_client: Client, batch: Batch) -> None:
    style = the_style()
    assert f"{batch.number} keeps the pattern" in edges_of(maker_client, style, "front")
    assert "keeps the pattern" not in edges_of(maker_client, style, "front")


def test_pieces_gone_and_new_are_changes_and_marks_are_none() -> None:
    style = the_style()
    then = style_specs([style])[style.number]
    assert changed_pieces(then, then) == ()
    front = Piece.objects.get(style=style, name="front")
    Piece.objects.filter(pk=front.pk).update(name="forepart")
    now = style_specs([style])[style.number]
    assert changed_pieces(then, now) == (("front", None), ("forepart", None))


def longer_steps(option: str | None) -> Style:
    """The style, the first step of sewing a minute longer, of those that all have or of this option."""
    style = the_style()
    step = style.operations.filter(option__name=option).first()
    assert step
    step.standard_minutes += 1
    step.save()
    return style


def test_changed_parts_are_told_by_their_kind_and_by_whose_garments_have_them() -> None:
    then = style_specs([the_style()])["110"]
    assert changed_parts(then, then) == ()
    style = longer_steps(None)
    assert changed_parts(then, style_specs([style])["110"]) == (("operations", None),)
    longer_steps("rib band")
    seam = style.seams.first()
    seam.times += 1
    seam.save()
    assert set(changed_parts(then, style_specs([style])["110"])) == {
        ("seams", seam.option and (seam.option.detail.name, seam.option.name)),
        ("operations", None),
        ("operations", ("neck", "rib band")),
    }
    assert changed_pieces(then, style_specs([style])["110"]) == ()


def test_changed_seams_and_steps_are_told_on_the_page_and_to_whoever_changed_them(
    helper_client: Client, batch: Batch
) -> None:
    assert 'id="old-parts"' not in page(helper_client, batch)
    assert said_of_style(longer_steps(None)) == [
        f"{batch.number} keeps the operations of the day of planning."
        " To make it by the new ones, take the plan back there and plan again."
    ]
    html = page(helper_client, batch)
    assert "Style 110 (operations) was changed after this batch was planned. What is needed" in html
    assert 'id="old-pattern"' not in html
    assert said_of_style(longer_steps(None)) == [], "it was told, and the page says it"
    # Planned anew it has the new ones, and the new pattern.
    said_of_style(longer("front"))
    assert 'id="old-pattern"' in page(helper_client, batch)
    assert planning.take_plan_back(batch, None, NOON)
    assert not planning.plan_batch(batch, NOON).problems
    html = page(helper_client, batch)
    assert 'id="old-parts"' not in html
    assert 'id="old-pattern"' not in html


def test_a_lay_names_the_changed_pieces_that_are_cut_from_it(helper_client: Client, batch: Batch) -> None:
    lay = jersey_lay(batch)
    address = reverse("lay-detail", args=[batch.number, lay.number])
    said_of_style(longer("rib neck band"))
    assert 'id="old-pattern"' not in helper_client.get(address).content.decode()
    said_of_style(longer("front"))
    html = helper_client.get(address).content.decode()
    assert "Style 110 (front) was changed after this batch was planned. This lay keeps the pattern" in html
    batch.lays.filter(pk=lay.pk).update(cut_at=NOON)
    assert 'id="old-pattern"' not in helper_client.get(address).content.decode()
