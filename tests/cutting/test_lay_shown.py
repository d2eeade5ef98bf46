"""What the page of a lay shows: every colour, numbers that can be read, bundles of several lots wherever these lie."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from shapely.geometry import Point, Polygon, box

from planner.common.drawing import LETTERS, draw_lay
from planner.core.lays.model import ItemToLay
from planner.core.outline import rectangle as outline_of
from planner.cutting.actions import table
from planner.cutting.actions.booking import Told
from planner.cutting.lay_papers import lay_papers, side_by_side
from planner.cutting.models import Lay, LayCloth, LayGarment
from planner.cutting.setting import batch_setting
from planner.cutting.stored import plan_of, planned_batch
from planner.materials.models import Fabric, FabricColour, Workroom
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON, TODAY


def rectangle(x: float, y: float, long: float, wide: float) -> list[tuple[float, float]]:
    return [(x, y), (x + long, y), (x + long, y + wide), (x, y + wide)]


def test_the_number_of_a_narrow_piece_stands_beside_it_as_large_as_the_others() -> None:
    body, tape = rectangle(0, 0, 900, 600), rectangle(1000, 0, 30, 400)
    large, narrow = draw_lay(1_500, 3_000, [("back M", body), ("tape M", tape)]).pieces
    assert large.beside is None
    beside = narrow.beside
    assert beside is not None
    assert beside.size == 3_000 / LETTERS
    room = box(beside.x, beside.y, beside.x + beside.width, beside.y + beside.height)
    lies = Polygon([(x, 1_500 - y) for x, y in tape])
    assert box(0, 0, 3_000, 1_500).contains(room)
    assert room.intersection(Polygon([(x, 1_500 - y) for x, y in body])).area < room.area / 4
    assert not room.intersects(lies)
    assert lies.contains(Point(beside.tip_x, beside.tip_y))
    assert room.distance(lies) < 2 * beside.size


@pytest.mark.django_db
def test_the_page_has_a_swatch_for_each_colour_and_the_roll_select_is_short(maker_client: Client) -> None:
    lay = jersey_lay(plies_batch(3))
    cloth = only_cloth(lay)
    held = cloth.garments.get()
    other = FabricColour.objects.create(fabric=cloth.fabric_colour.fabric, name="heather", swatch="#a1b2c3")
    more = LayCloth.objects.create(lay=lay, fabric_colour=other, spreads=2)
    LayGarment.objects.create(
        lay_cloth=more, style=held.style, colourway=held.colourway, size=held.size, per_marker=1
    ).options.set(held.options.all())
    page = maker_client.get(reverse("lay-detail", args=[lay.batch.number, lay.number])).content.decode()
    heading = page[page.index('id="h-lay"') : page.index("</h2>", page.index('id="h-lay"'))]
    assert f'fill="{cloth.fabric_colour.swatch}"' in heading
    assert 'fill="#a1b2c3"' in heading
    assert "2 × heather" in heading
    select = page[page.index("<select") : page.index("</select>")]
    assert "as planned" not in select


def split_off(lay: Lay, spreads: int) -> Lay:
    """A lay like this one with so many of its spreads, which it then has no more."""
    cloth = only_cloth(lay)
    held = cloth.garments.get()
    other = Lay.objects.get(pk=lay.pk)
    other.pk, other._state.adding, other.number = None, True, 9
    other.save()
    more = LayCloth.objects.create(lay=other, fabric_colour=cloth.fabric_colour, spreads=spreads)
    LayGarment.objects.create(
        lay_cloth=more, style=held.style, colourway=held.colourway, size=held.size, per_marker=1
    ).options.set(held.options.all())
    LayCloth.objects.filter(pk=cloth.pk).update(spreads=cloth.spreads - spreads)
    for bundle in lay.bundles.all():
        bundle.lays.add(other)
    return other


@pytest.mark.django_db
def test_a_small_cloth_of_two_lots_in_two_lays_is_told_on_both_pages_and_papers(maker_client: Client) -> None:
    """Each lay has but one lot; the bundle has its bands from both."""
    Workroom.the()
    Workroom.objects.update(bundle_size=2)
    batch = plies_batch(5)
    ribs = batch.lays.exclude(pk=jersey_lay(batch).pk).get()
    other = split_off(ribs, 4)
    for lay, spreads, shade_lot in ((ribs, 1, "K"), (other, 4, "L")):
        cloth = only_cloth(lay)
        roll = roll_of(cloth, f"R-{shade_lot}", shade_lot=shade_lot)
        assert not table.tell_lay(lay, [Told(cloth.pk, spreads, Decimal(1), roll.pk)], None, NOON).problem
    first = batch.bundles.order_by("pk").first().number
    words = f"lot K is lay {ribs.number}, ply 1; lot L is lay 9, ply 1"
    for lay, is_told in ((ribs, True), (other, True), (jersey_lay(batch), False)):
        page = maker_client.get(reverse("lay-detail", args=[batch.number, lay.number])).content.decode()
        assert (f"<b>{first}</b>" in page and words in page) is is_told
    read = planned_batch(type(batch).objects.get())
    setting = batch_setting(Workroom.the(), read.batch, TODAY)
    papers = {
        paper.number: paper.apart
        for paper in lay_papers(plan_of(read), read.shop, setting.rolls, setting.cut, setting.told)
    }
    for lay in (ribs, other):
        ((bundle, told),) = papers[lay.number]
        assert bundle == first
        assert words in told
    assert papers[jersey_lay(batch).number] == ()


def test_papers_name_what_lies_side_by_side_once_for_all_garments() -> None:
    def item(piece: str, no: int, beside: str) -> ItemToLay:
        return ItemToLay("110", piece, "M", no, mirrored=False, may_turn=True, outline=shape, beside=beside)

    shape = outline_of(300, 200)
    words = [("front", "body"), ("back", "body"), ("sleeve", "sleeve"), ("sleeve", "sleeve"), ("yoke", "")]
    items = [item(piece, no, beside) for no in (1, 2) for piece, beside in words]
    assert side_by_side(items) == ("front and back", "both halves of sleeve")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("mode", "is_tube", "heading", "layers", "field"),
    [
        (
            "face_to_face",
            False,
            "3 pairs of plies of",
            "in 3 pairs: the cloth is spread 6 times.",
            "Pairs of plies",
        ),
        (
            "folded",
            False,
            "3 folded lengths of",
            "two in each length: the cloth is spread 3 times.",
            "Folded lengths",
        ),
        (
            "folded",
            True,
            "3 tube lengths of",
            "two in each length: the cloth is spread 3 times.",
            "Tube lengths",
        ),
    ],
)
def test_page_and_form_tell_layers_and_spreads_alike(
    maker_client: Client, mode: str, *, is_tube: bool, heading: str, layers: str, field: str
) -> None:
    lay = jersey_lay(plies_batch(3))
    Lay.objects.filter(pk=lay.pk).update(mode=mode)
    Fabric.objects.filter(name="jersey").update(is_tube=is_tube)
    page = maker_client.get(reverse("lay-detail", args=[lay.batch.number, lay.number])).content.decode()
    assert f"{heading} {only_cloth(lay).fabric_colour.name}" in page
    assert page.count(f"In all 6 plies, {layers}") == 2, "over the drawing and in the form"
    assert f"{field} spread and cut" in page
    assert ("olded length" in page) is (mode == "folded" and not is_tube)
