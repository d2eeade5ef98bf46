"""Several pattern files, and several people who look at them."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from planner.styles import actions
from planner.styles.models import PatternFile, PieceOutline, Style
from tests.styles import pattern_files as files
from tests.styles.bringing import bring, page_of, review, take, text_of

pytestmark = pytest.mark.django_db

NOON = datetime(2031, 5, 12, 12, 0, tzinfo=UTC)
TODAY = date(2031, 5, 12)


def test_several_files_are_looked_through_one_after_the_other(maker_client, style) -> None:
    answer = bring(
        maker_client,
        style,
        files.upload(files.svg(files.rectangle("pocket")), "pocket-M.svg"),
        files.upload(files.svg(files.rectangle("tab", 30, 60)), "tab-M.svg"),
    )
    first, second = PatternFile.objects.order_by("pk")
    assert answer["Location"] == reverse("file-review", args=[first.pk])
    next_page = take(maker_client, answer["Location"], included="yes")
    assert next_page.redirect_chain[-1][0] == reverse("file-review", args=[second.pk])
    assert "Next: tab-M.svg." in text_of(next_page)


def test_the_same_file_is_held_once_for_one_person(maker_client, style) -> None:
    assert review(maker_client, style, files.top()) == review(maker_client, style, files.top())
    assert review(maker_client, style, files.top(longer_mm=1)) != review(maker_client, style, files.top())
    waiting = text_of(maker_client.get(reverse("files-hold", args=[style.number])))
    assert waiting.count("top.dxf</a>") == 2


def test_the_second_of_two_people_who_take_the_same_file_is_told(maker_client, style) -> None:
    address = review(maker_client, style, files.top(pieces=("cuff",)))
    data = files.filled_in(page_of(maker_client, address), included="yes")
    assert "is taken over" in text_of(maker_client.post(address, data, follow=True))
    again = maker_client.post(address, data, follow=True)
    assert "was taken over by Mira" in text_of(again)
    assert "Nothing was changed now." in text_of(again)
    assert style.pieces.filter(name="cuff").count() == 1
    assert "was taken over already" in text_of(maker_client.get(address, follow=True))


def test_taking_twice_at_the_same_moment_is_refused_by_the_action(style, maker) -> None:
    file = actions.hold_file(style, name="a.dxf", content=files.top(), person=maker, today=TODAY)
    taking = actions.Taking(pieces=[], answers={}, state=_state(style))
    assert isinstance(actions.take_over(file, taking, person=maker, today=TODAY, now=NOON), actions.Taken)
    refused = actions.take_over(file, taking, person=maker, today=TODAY, now=NOON)
    assert isinstance(refused, actions.Refused)
    with timezone.override("Asia/Kolkata"):
        refused = actions.take_over(file, taking, person=maker, today=TODAY, now=NOON)
    assert "a.dxf was taken over by Mira at 17:30 on 12 May." in refused.text


def _state(style: Style) -> str:
    from planner.styles.reviewing_known import known_of

    return known_of(style).state


def test_a_style_that_changed_meanwhile_is_looked_at_again(maker_client, style) -> None:
    address = review(maker_client, style, files.top(longer_mm=8, pieces=("front",)))
    data = files.filled_in(page_of(maker_client, address), included="yes")
    data["state"] = ["of another moment"]
    answer = maker_client.post(address, data)
    assert answer.status_code == 409
    assert "The style changed while you looked" in text_of(answer)
    assert not PieceOutline.objects.exclude(source="").exists()


def test_a_file_that_is_thrown_away_is_gone_and_said_so(maker_client, style) -> None:
    address = review(maker_client, style, files.top())
    file = PatternFile.objects.get()
    data = files.filled_in(page_of(maker_client, address), included="yes")
    away = maker_client.post(reverse("file-throw-away", args=[file.pk]), follow=True)
    assert "top.dxf is thrown away. Nothing was taken from it." in text_of(away)
    late = maker_client.post(address, data, follow=True)
    assert "somebody threw it away" in text_of(late)
    assert not style.pieces.filter(name="cuff").exists()


def test_a_file_that_was_taken_stays_on_record(maker_client, style) -> None:
    address = review(maker_client, style, files.top(pieces=("cuff",)))
    take(maker_client, address, included="yes")
    file = PatternFile.objects.get()
    answer = maker_client.post(reverse("file-throw-away", args=[file.pk]), follow=True)
    assert "was taken over by Mira" in text_of(answer)
    assert PatternFile.objects.count() == 1


def test_helpers_do_not_bring_files_in(helper_client, style) -> None:
    file = PatternFile.objects.create(style=style, name="a.dxf", content=files.top(), read_on=TODAY)
    for address in (
        reverse("style-from-file"),
        reverse("files-hold", args=[style.number]),
        reverse("file-review", args=[file.pk]),
    ):
        assert helper_client.get(address).status_code == 403
    assert helper_client.post(reverse("file-throw-away", args=[file.pk])).status_code == 403
