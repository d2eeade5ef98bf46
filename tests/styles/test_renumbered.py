"""A style renumbered while its page stood open elsewhere: whoever sends a form is told, and loses nothing."""

from __future__ import annotations

from urllib.parse import unquote

import pytest
from django.test import Client
from django.urls import reverse

from planner.styles.models import Style
from planner.styles.renumbered import HEADER, SAY
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


@pytest.fixture
def style() -> Style:
    """Renumbered from 110 to 115 by somebody else."""
    style = the_style()
    Style.objects.filter(pk=style.pk).update(number="115")
    style.refresh_from_db()
    return style


def test_a_form_of_the_old_number_says_the_new_one_and_can_be_sent_there(
    maker_client: Client, style: Style
) -> None:
    typed = {"style_pk": str(style.pk), "number": "110", "name": "Plover <tee>", "note": ""}
    answer = maker_client.post(reverse("style-change", args=["110"]), typed)
    html = answer.content.decode()
    assert answer.status_code == 409
    assert "Style 110 is 115 now" in html
    there = reverse("style-change", args=["115"])
    assert f'action="{there}"' in html
    assert '<input type="hidden" name="name" value="Plover &lt;tee&gt;">' in html
    style.refresh_from_db()
    assert style.name != "Plover <tee>"
    sent = maker_client.post(there, {**typed, "number": "115"})
    assert sent.status_code == 302
    style.refresh_from_db()
    assert style.name == "Plover <tee>"


def test_every_form_of_the_page_carries_the_key(maker_client: Client, style: Style) -> None:
    for name, args in (("style-change", []), ("style-copy", []), ("part-new", ["piece"])):
        html = maker_client.get(reverse(name, args=[style.number, *args])).content.decode()
        assert f'name="style_pk" value="{style.pk}"' in html, name
    assert f'"{HEADER}": "{style.pk}"' in html


def test_a_page_asked_for_by_the_old_number_is_found_where_the_key_is_known(
    maker_client: Client, style: Style
) -> None:
    asked = maker_client.get(reverse("style-copy", args=["110"]), {"style_pk": style.pk}, follow=True)
    assert asked.redirect_chain == [(reverse("style-copy", args=["115"]), 302)]
    assert "Style 110 has the number 115 now." in asked.content.decode()


def test_with_htmx_the_page_stays_and_is_told(maker_client: Client, style: Style) -> None:
    address = reverse("part-new", args=["110", "piece"])
    told = maker_client.post(address, {}, headers={**HTMX, HEADER: str(style.pk)})
    assert (told.status_code, told.content) == (404, b"")
    assert "gave style 110 the number 115" in unquote(told[SAY])
    unknown = maker_client.post(address, {}, headers=HTMX)
    assert "no style 110 any more" in unquote(unknown[SAY])


@pytest.mark.parametrize("key", ["", "x", "99999", "1" * 30, "²"])
def test_without_a_known_key_it_is_said_plainly(maker_client: Client, style: Style, key: str) -> None:
    answer = maker_client.post(reverse("style-retire", args=["110"]), {"style_pk": key})
    html = answer.content.decode()
    assert answer.status_code == 404
    assert "There is no style 110" in html
    assert "may have been given another number" in html
    assert reverse("style-list") in html


def test_helpers_are_told_nothing_by_forms_that_are_not_theirs(helper_client: Client, style: Style) -> None:
    answer = helper_client.post(reverse("style-change", args=["110"]), {"style_pk": str(style.pk)})
    assert answer.status_code == 403
