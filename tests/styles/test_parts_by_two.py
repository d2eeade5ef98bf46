"""Two people at the form of one part of a style: who saves second is told what the other saved."""

from __future__ import annotations

import html

import pytest
from django.db.models import Model
from django.test import Client
from django.urls import reverse

from planner.materials.models import FabricColour
from planner.styles.models import Detail, Option, Piece, Seam, Style
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def style() -> Style:
    """A box top in ink, with a neck in two options."""
    return make.make_style("110", colourways=("ink", "moss"))


def address_of(kind: str, part: Model) -> str:
    return reverse("part-change", args=["110", kind, part.pk])


def shown(client: Client, address: str) -> dict[str, object]:
    """The form as it is shown, as a browser would send it."""
    form = client.get(address).context["form"]
    data: dict[str, object] = {"version": form.version}
    for field in form:
        value = field.value()
        if value is not None and value is not False:
            data[field.html_name] = "on" if value is True else value
    return data


def sent(client: Client, address: str, data: dict[str, object]) -> tuple[int, str]:
    answer = client.post(address, data)
    return answer.status_code, html.unescape(answer.content.decode())


def test_what_somebody_else_saved_of_a_piece_is_told_and_not_written_over(
    maker_client: Client, style: Style
) -> None:
    front = style.pieces.get(name="front")
    late = shown(maker_client, address_of("piece", front)) | {"name": "front panel"}
    Piece.objects.filter(pk=front.pk).update(count=3)
    status, page = sent(maker_client, address_of("piece", front), late)
    assert (status, "This piece was changed meanwhile" in page) == (409, True)
    assert "<dt>Pieces in a garment</dt><dd>3</dd>" in page
    front.refresh_from_db()
    assert (front.name, front.count) == ("front", 3)
    # What was typed is kept, and who sends it again means it.
    again = maker_client.post(address_of("piece", front), late).context["form"]
    assert again["name"].value() == "front panel"
    assert sent(maker_client, address_of("piece", front), late | {"version": again.version})[0] == 302
    front.refresh_from_db()
    assert (front.name, front.count) == ("front panel", 1)


def test_an_option_that_somebody_else_added_is_not_taken_away(maker_client: Client, style: Style) -> None:
    """Its row was not on the page that is sent, and an empty row takes an option away."""
    neck = Detail.objects.get(style=style)
    late = shown(maker_client, address_of("detail", neck)) | {"name": "neckline"}
    Option.objects.create(detail=neck, name="facing", position=9)
    status, page = sent(maker_client, address_of("detail", neck), late)
    assert (status, "This detail was changed meanwhile" in page) == (409, True)
    assert "<dt>Option facing</dt><dd>facing</dd>" in page
    assert neck.options.filter(name="facing").exists()


def test_options_somebody_else_excluded_are_told_by_their_names(maker_client: Client, style: Style) -> None:
    neck = Detail.objects.get(style=style)
    hem = style.details.create(name="hem", position=1)
    cuffed = hem.options.create(name="cuffed")
    late = shown(maker_client, address_of("detail", neck))
    neck.options.get(name="rib band").not_with.add(cuffed)
    status, page = sent(maker_client, address_of("detail", neck), late)
    assert (status, "<dd>hem: cuffed</dd>" in page) == (409, True)


def test_edges_of_a_seam_are_told_by_their_names(maker_client: Client, style: Style) -> None:
    seam = Seam.objects.get(style=style, name="side")
    late = shown(maker_client, address_of("seam", seam))
    edge = seam.edges.first()
    edge.edge = "hem"
    edge.save()
    status, page = sent(maker_client, address_of("seam", seam), late)
    assert status == 409
    assert f"<dd>{edge.piece}: hem</dd>" in page
    assert seam.edges.filter(edge="hem").exists()


def test_the_cloth_somebody_else_chose_for_a_colourway_is_told(maker_client: Client, style: Style) -> None:
    ink = style.colourways.get(name="ink")
    late = shown(maker_client, address_of("colourway", ink))
    cloth = ink.cloths.get(role__name="body")
    cloth.fabric_colour = FabricColour.objects.get(fabric=cloth.fabric_colour.fabric, name="moss")
    cloth.save()
    status, page = sent(maker_client, address_of("colourway", ink), late)
    assert (status, f"<dd>{cloth.fabric_colour}</dd>" in page) == (409, True)


@pytest.mark.parametrize("kind", ["role", "detail", "piece", "operation", "seam", "notion", "colourway"])
def test_a_part_nobody_else_changed_is_kept_as_it_was_shown(
    maker_client: Client, style: Style, kind: str
) -> None:
    parts = {"role": "roles", "detail": "details", "piece": "pieces", "colourway": "colourways"}
    part = getattr(style, parts.get(kind, f"{kind}s")).first()
    address = address_of(kind, part)
    assert sent(maker_client, address, shown(maker_client, address))[0] == 302
