"""Two people at the form of one part of a style: who saves second is told what the other saved."""

from __future__ import annotations

import html
from decimal import Decimal

import pytest
from django.db.models import Model
from django.test import Client
from django.urls import reverse

from planner.core.outline import rectangle
from planner.materials.models import FabricColour
from planner.styles.actions import keep_outlines
from planner.styles.actions.bands import cut_to_measure, draw_again
from planner.styles.models import Band, Detail, Option, Piece, Seam, Style
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


def test_a_band_that_somebody_else_cut_to_measure_meanwhile_is_told(
    maker_client: Client, style: Style, subtests: pytest.Subtests
) -> None:
    piece, seam = style.pieces.get(name="rib neck band"), style.seams.get(name="neck, rib band")
    seam.edges.all().delete()
    seam.edges.create(piece=style.pieces.get(name="front"), edge="neckline")
    address = reverse("piece-band", args=["110", piece.pk])

    def look(data: dict[str, object]) -> int:
        return maker_client.post(reverse("piece-band-look", args=["110", piece.pk]), data).status_code

    mine = {"seam": str(seam.pk), "finished_width_mm": "20 mm", "turn": "full", "folded": "on"}
    with subtests.test("nobody had made it a band when the page was opened"):
        late = shown(maker_client, address) | mine
        cut_to_measure(piece, seam, finished_width_mm=Decimal(35), turn_rad=0.0, over_head=True)
        status, page = sent(maker_client, address, late)
        assert (status, "This band was changed meanwhile" in page) == (409, True)
        assert page.count("Somebody else saved") == 1
        for words in ("width</dt><dd>35 mm", "turns</dt><dd>not at all: a cuff", "head</dt><dd>yes"):
            assert words in page
        assert Band.objects.get(piece=piece).finished_width_mm == 35
        assert look(late) == 200, "what is only looked at is no save"
        # What was typed is kept, and who sends it again means it.
        form = maker_client.post(address, late).context["form"]
        assert form["finished_width_mm"].value() == "20 mm"
        assert sent(maker_client, address, late | {"version": form.version})[0] == 302
        assert Band.objects.get(piece=piece).finished_width_mm == 20
    with subtests.test("nobody changed it"):
        assert sent(maker_client, address, shown(maker_client, address))[0] == 302
    with subtests.test("its seam has no opening any more"):
        seam.edges.update(piece=piece)
        page = maker_client.get(address)
        assert (page.status_code, "choose its opening" in page.content.decode()) == (200, True)
        seam.edges.filter(side=1).update(piece=style.pieces.get(name="front"))
    with subtests.test("it was drawn again"):
        late = shown(maker_client, address) | mine
        draw_again(piece)
        status, page = sent(maker_client, address, late)
        assert (status, "it is cut by drawn outlines" in page) == (409, True)
        assert not Band.objects.exists()


def test_an_outline_somebody_else_saved_meanwhile_is_told_size_by_size(
    maker_client: Client, style: Style, subtests: pytest.Subtests
) -> None:
    front = style.pieces.get(name="front")
    address = reverse("outline-edit", args=["110", front.pk])
    sizes = {size.name: size for size in style.size_range.sizes.all()}

    def opened(how: str, **typed: object) -> dict[str, object]:
        version = maker_client.get(f"{address}?how={how}").context["form"].version
        return {"how": how, "version": version, **typed}

    def area(size: str) -> float:
        return front.outlines.get(size=sizes[size]).area_mm2

    typed = {"size": ["S"], "unit": "cm", "points": "0,0,hem\n60,0,side\n60,40,top"}
    with subtests.test("another size than somebody else's"):
        late = opened("points", **typed)
        keep_outlines(front, {sizes["M"]: rectangle(500, 300)})
        assert sent(maker_client, address, late)[0] == 302
    with subtests.test("the same size"):
        late = opened("points", **typed)
        keep_outlines(front, {sizes["S"]: rectangle(500, 300)})
        wrong = maker_client.post(address, late | {"points": "0,0\n60,0"})
        assert (wrong.status_code, wrong.context["form"].version) == (422, late["version"])
        status, page = sent(maker_client, address, late)
        assert (status, "This outline was changed meanwhile" in page) == (409, True)
        told = "<dt>Outline in S</dt><dd>50 cm along, 30 cm across, 4 points; edges: bottom, right"
        assert told in page.replace("\u2009", " ")
        assert 'href="?how=points&amp;size=' in maker_client.post(address, late).content.decode()
        assert area("S") == 500 * 300
        again = maker_client.post(address, late).context["form"]
        assert again["points"].value() == typed["points"]
        look = maker_client.post(reverse("outline-preview", args=["110", front.pk]), late)
        assert "Somebody else" not in look.content.decode()
        assert sent(maker_client, address, late | {"version": again.version})[0] == 302
        assert area("S") == 600 * 400 / 2
    with subtests.test("somebody else typed just the same"):
        late = opened("points", **typed | {"points": "0,0,hem\n60,0,side\n60,41,top"})
        assert sent(maker_client, address, late)[0] == 302
        assert sent(maker_client, address, late)[0] == 302
    with subtests.test("a row for every size"):
        late = opened("rectangle", length="10", width="20")
        keep_outlines(front, {sizes["M"]: rectangle(510, 300)})
        status, page = sent(maker_client, address, late)
        assert (status, "Outline in M" in page, "Outline in S" in page) == (409, True, False)
    with subtests.test("the first outline of a piece, by two"):
        front.outlines.all().delete()
        late = opened("points", **typed)
        keep_outlines(front, {sizes["S"]: rectangle(500, 300)})
        assert sent(maker_client, address, late)[0] == 409
