"""Pieces that are laid side by side, pairs cut together, stripes that run on over seams: typed, kept and shown."""

import pytest
from django.urls import reverse

from planner.styles.specs import style_specs
from tests import factories as make

pytestmark = pytest.mark.django_db


def piece_data(style, **changes):
    return {
        "name": "sleeve", "role": style.roles.get(name="body").pk, "count": "2", "pair": "on",
        "seam_allowance_mm": "7 mm", "may_turn": "on", **changes,
    }  # fmt: skip


def change(style, kind, part):
    return reverse("part-change", args=[style.number, kind, part.pk])


def test_pieces_with_the_same_word_lie_side_by_side(maker_client):
    style = make.make_style("110")
    front = style.pieces.get(name="front")
    form = maker_client.get(change(style, "piece", front)).context["form"]
    data = {name: form[name].value() or "" for name in form.fields if form[name].value() is not False}
    assert maker_client.post(change(style, "piece", front), {**data, "beside": "Body"}).status_code == 302
    new = reverse("part-new", args=["110", "piece"])
    assert "In use: Body." in maker_client.get(new).content.decode()
    style.pieces.filter(name="back").update(beside="<b>bold</b>")
    assert "In use: &lt;b&gt;bold&lt;/b&gt;, Body." in maker_client.get(new).content.decode()
    style.pieces.filter(name="back").update(beside="")
    # The word is the same whatever its capitals and spaces.
    maker_client.post(new, piece_data(style, name="yoke", count="1", pair="", beside="  body "))
    spec = style_specs([style])["110"]
    assert {p.name: p.beside for p in spec.pieces if p.beside} == {"front": "Body", "yoke": "Body"}
    assert "side by side: Body" in maker_client.get(reverse("style-detail", args=["110"])).content.decode()


def test_a_pair_is_cut_together_by_a_tick_and_stays_so(maker_client):
    style = make.make_style("110")
    name = "sleeve with a very long name"
    maker_client.post(reverse("part-new", args=["110", "piece"]), piece_data(style, name=name, together="on"))
    sleeve = style.pieces.get(name=name)
    assert sleeve.beside == name[:20]
    page = maker_client.get(change(style, "piece", sleeve))
    form = page.context["form"]
    assert (form["together"].value(), form["beside"].value()) == (True, "")
    assert "pair cut together" in maker_client.get(reverse("style-detail", args=["110"])).content.decode()
    maker_client.post(change(style, "piece", sleeve), piece_data(style, name="sleeve", together="on"))
    sleeve.refresh_from_db()
    assert sleeve.beside == "sleeve"
    maker_client.post(change(style, "piece", sleeve), piece_data(style, name="sleeve"))
    sleeve.refresh_from_db()
    assert sleeve.beside == ""


def test_a_word_goes_before_the_tick(maker_client):
    """Both halves of a pair with a word lie beside each other and whatever else has it."""
    style = make.make_style("110")
    data = piece_data(style, together="on", beside="body")
    maker_client.post(reverse("part-new", args=["110", "piece"]), data)
    assert style.pieces.get(name="sleeve").beside == "body"


def test_stripes_run_on_over_a_seam(maker_client):
    style = make.make_style("110")
    seam = style.seams.get(name="side")
    form = maker_client.get(change(style, "seam", seam)).context["form"]
    data = {name: form[name].value() or "" for name in form.fields if form[name].value() is not False}
    answer = maker_client.post(change(style, "seam", seam), {**data, "match": "on"})
    assert answer.status_code == 302, answer.context["form"].errors
    assert {s.name for s in style_specs([style])["110"].seams if s.match} == {"side"}
    assert "stripes run on" in maker_client.get(reverse("style-detail", args=["110"])).content.decode()


def test_both_halves_of_a_pair_are_two_pieces(maker_client):
    style = make.make_style("110")
    front = style.pieces.get(name="front")
    data = {
        "name": "middle", "times": "1", "operation": style.operations.first().pk, "fullness": "", "ratio": "1",
        "edge_1_0": f"{front.pk}|left side", "takes_1_0": "1", "match": "on",
    }  # fmt: skip
    new = reverse("part-new", args=["110", "seam"])
    answer = maker_client.post(new, data)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["match"]
    style.pieces.filter(pk=front.pk).update(count=2, pair=True)
    assert maker_client.post(new, data).status_code == 302
