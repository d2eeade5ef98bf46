"""Bands cut to measure: their page, what they change in a style, and how a change of cloth reaches lays and needs."""

import math
import re
from decimal import Decimal

import pytest
from django.urls import reverse

from planner.core.lays.problems import CannotPlan
from planner.core.missing import find_missing
from planner.core.notions.along import sewn_edge_mm
from planner.core.notions.bands import FULL_TURN
from planner.core.planning import plan_batch
from planner.core.spec import Demand, Garment, make_options
from planner.core.stored_spec import style_from_json, style_to_json
from planner.core.too_wide import told_once
from planner.cutting.actions import gathering, planning
from planner.cutting.models import Batch
from planner.cutting.stored import planned_batch, stored_lay
from planner.materials.models import Workroom
from planner.orders.models import LineQuantity
from planner.styles import checks
from planner.styles.actions import copy_style, drop_part
from planner.styles.actions.bands import cut_to_measure, draw_again
from planner.styles.exports import pieces_of, style_to_write
from planner.styles.models import Band, PieceOutline, Seam, SeamEdge, Style
from planner.styles.specs import style_specs, workshop
from tests import factories as make
from tests.kept_rows import made_once

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}
RIB_BAND = "rib neck band"


@pytest.fixture
def style() -> Style:
    """A box top in S, M and L, its neck bands sewn to the whole neckline; jersey gives 25 %, rib 70 %.

    The bands have no drawn outline any more.
    """
    made_once("a box top with bands sewn all round", _make_style)
    return Style.objects.get(number="110")


def _make_style() -> None:
    make.make_fabric("jersey", stretch_percent=Decimal(25))
    make.make_fabric("rib", stretch_percent=Decimal(70))
    style = make.make_style("110", sizes="S M L", colourways=("ink", "moss"))
    for option in ("self", "rib"):
        seam = style.seams.get(name=f"neck, {option} band")
        seam.edges.all().delete()
        for i, name in enumerate(("front", "back")):
            SeamEdge.objects.create(seam=seam, piece=style.pieces.get(name=name), edge="neckline", position=i)
    PieceOutline.objects.filter(piece__is_band=True).delete()


def neck(style: Style, band: str = "rib") -> Seam:
    return style.seams.get(name=f"neck, {band} band")


def measured(style: Style, width: int = 20, band: str = "rib", **changes) -> None:
    changes = {"finished_width_mm": Decimal(width), "turn_rad": FULL_TURN, "over_head": False, **changes}
    cut_to_measure(style.pieces.get(name=f"{band} neck band"), neck(style, band), **changes)


def opening_mm(style: Style, size: str = "M") -> float:
    spec = style_specs([style])[style.number]
    pieces = {piece.name: piece for piece in spec.pieces}
    whole = sum(
        sewn_edge_mm(pieces[name].outlines[size], "neckline", pieces[name])[0] for name in ("front", "back")
    )
    return round(whole, 1)  # openings count to a tenth of a millimetre


def page_url(style: Style, name: str = "piece-band", piece: str = RIB_BAND) -> str:
    return reverse(name, args=[style.number, style.pieces.get(name=piece).pk])


def typed(style: Style, **changes: object) -> dict[str, object]:
    seam = neck(style).pk
    return {"seam": seam, "finished_width_mm": "20", "folded": "on", "turn": "full", "ratio": "", **changes}


# --- what it changes --------------------------------------------------------------------------------------


def test_a_band_follows_its_opening_in_every_size(style):
    assert checks.stopping(style_specs([style])["110"])
    measured(style)
    measured(style, 12, "self")
    spec = style_specs([style])["110"]
    assert not checks.stopping(spec)
    band = next(piece for piece in spec.pieces if piece.name == RIB_BAND)
    for size in ("S", "M", "L"):
        # Lies flat: 2π × 20 mm shorter than the opening, and 7 mm of allowance at either end; 2 × 20 + 2 × 7 across.
        assert band.outlines[size].width_mm == pytest.approx(opening_mm(style, size) - 40 * math.pi + 14)
        assert band.outlines[size].length_mm == pytest.approx(54)


def test_the_seam_joins_the_band_from_then_on(style):
    measured(style)
    edges = neck(style).edges.values_list("piece__name", "edge", "side")
    assert list(edges) == [("front", "neckline", 1), ("back", "neckline", 1), (RIB_BAND, "neckline", 2)]
    measured(style, 18)
    assert neck(style).edges.count() == 3
    assert Band.objects.get().finished_width_mm == 18


def test_the_cloth_of_the_colourway_changes_the_band(style):
    measured(style, 25)
    ink = style.colourways.get(name="ink")
    rib, jersey = (make.make_fabric_colour(fabric, "ink") for fabric in ("rib", "jersey"))
    opening = opening_mm(style)

    def width() -> float:
        shop = workshop(["110"])
        band = next(piece for piece in shop.styles["110"].pieces if piece.name == RIB_BAND)
        key = shop.styles["110"].colourways["ink"].cloths["rib"]
        return band.outline("M", key).width_mm

    assert width() == pytest.approx(opening - 50 * math.pi + 14)
    cloth = ink.cloths.get(role__name="rib")
    assert cloth.fabric_colour == rib
    cloth.fabric_colour = jersey
    cloth.save()
    # Self-fabric gives 25 % only: no shorter than 1 / 1.25 of the opening.
    assert width() == pytest.approx(max(opening - 50 * math.pi, opening / 1.25) + 14)
    assert opening / 1.25 > opening - 50 * math.pi


def planned(style: Style, neck_option: str = "rib band") -> Batch:
    order = make.make_order([(style, {"neck": neck_option}, "ink", {"M": 2})])
    batch = gathering.create_batch(None, make.TODAY)
    rows = {row.pk: row.quantity for row in LineQuantity.objects.filter(line__order=order)}
    assert not gathering.fill_batch(batch, rows).problems
    assert planning.plan_batch(batch, make.NOON).problems == ()
    batch.refresh_from_db()
    return batch


def laid(batch: Batch, piece: str) -> list[tuple[str, float]]:
    """(fabric, length across the cloth) of each such piece laid."""
    return [
        (lay.planned.cloths[0].fabric, round(item.outline.width_mm, 1))
        for lay in map(stored_lay, batch.lays.all())
        for item in lay.planned.job.items
        if item.piece == piece
    ]


def test_from_order_to_lay_and_needs(style):
    measured(style, 25)
    before = planned(style)
    cut = round(opening_mm(style) - 50 * math.pi + 14, 1)
    assert laid(before, RIB_BAND) == [("rib", cut), ("rib", cut)]
    areas = {need.cloth.fabric: need.area_mm2 for need in planned_batch(before).needs.cloths}
    assert areas["rib"] == pytest.approx(2 * (opening_mm(style) - 50 * math.pi + 14) * 64, rel=1e-5)

    cloth = style.colourways.get(name="ink").cloths.get(role__name="rib")
    cloth.fabric_colour = make.make_fabric_colour("jersey", "ink")
    cloth.save()
    after = planned(style)
    longer = round(opening_mm(style) / 1.25 + 14, 1)
    assert laid(after, RIB_BAND) == [("jersey", longer), ("jersey", longer)]
    assert [need.cloth.fabric for need in planned_batch(after).needs.cloths] == ["jersey"]
    # The batch that was planned before keeps what it was planned with.
    assert laid(before, RIB_BAND) == [("rib", cut), ("rib", cut)]
    kept = {need.cloth.fabric: need.area_mm2 for need in planned_batch(before).needs.cloths}
    assert kept == pytest.approx(areas)


def test_the_option_changes_the_band_and_only_its_cloth(style):
    measured(style, 25)
    measured(style, 12, "self")
    rib, self_fabric = planned(style), planned(style, "self band")
    assert {fabric for fabric, _ in laid(rib, RIB_BAND)} == {"rib"}
    assert laid(self_fabric, RIB_BAND) == []
    assert (
        laid(self_fabric, "self neck band")
        == [("jersey", round(opening_mm(style) - 24 * math.pi + 14, 1))] * 2
    )


def test_a_batch_keeps_the_band_that_was_cut(style):
    measured(style, 25)
    batch = planned(style)
    snapshot = batch.snapshots.get()
    kept = style_from_json(snapshot.data)
    assert style_from_json(style_to_json(kept)) == kept
    band = next(piece for piece in kept.pieces if piece.name == RIB_BAND)
    assert band.band is not None
    assert {key.fabric for key in band.outlines_by_cloth} == {"rib"}
    before = planned_batch(batch).needs
    measured(style, 10)
    make.make_fabric("rib").__class__.objects.filter(name="rib").update(stretch_percent=5)
    assert planned_batch(batch).needs.cloths == before.cloths


def test_what_cannot_be_measured_is_said(style):
    measured(style)
    measured(style, 12, "self")
    PieceOutline.objects.filter(piece__name="front", size__name="M").delete()
    said = [str(problem) for problem in checks.stopping(style_specs([style])["110"])]
    assert said == ["no outline for front in M"]
    neck(style).edges.filter(side=1).delete()
    said = [str(problem) for problem in checks.stopping(style_specs([style])["110"])]
    assert any(text.startswith("rib neck band cannot be cut to measure: the seam") for text in said)


def test_openings_that_differ_by_option_are_refused_in_the_units_of_the_workroom(maker_client, style):
    measured(style)
    deep = style.details.create(name="depth")
    options = [deep.options.create(name=name) for name in ("high", "low")]
    front = style.pieces.get(name="front")
    front.option = options[0]
    front.save()
    low = style.pieces.create(name="low front", role=front.role, option=options[1])
    shape = make.body_outline(615, 262, neck_drop_mm=140)
    PieceOutline.objects.create(
        piece=low, size=style.base_size, shape=shape.as_json(), area_mm2=shape.area_mm2
    )
    SeamEdge.objects.create(seam=neck(style), piece=low, edge="neckline", position=9)
    said = [str(problem) for problem in checks.stopping(style_specs([style])["110"])]
    assert any("make a band for each" in text for text in said)
    Workroom.the()
    Workroom.objects.update(display="imperial")
    for address in (reverse("style-detail", args=["110"]), page_url(style)):
        page = maker_client.get(address).content.decode()
        told = re.search(r"its opening is ([^:]*): make a band", page, re.IGNORECASE)
        assert told is not None, address
        assert re.fullmatch(
            r"[\d/ \xa0]+\u2009in with some options and [\d/ \xa0]+\u2009in with others", told[1]
        )
    demand = [Demand(Garment("110", make_options([("neck", "rib band"), ("depth", "high")]), "ink", "M"), 1)]
    shop = workshop(["110"])
    missing = find_missing(demand, shop)
    assert " mm with others" in missing[0].text
    (told,) = told_once(missing, "imperial")
    assert "in with others: make a band for each" in told
    assert "mm" not in told
    with pytest.raises(CannotPlan) as refusal:
        plan_batch(demand, shop, batch="B-0001")
    assert told_once(refusal.value.problems, "imperial") == (told,)


def test_a_copy_has_its_own_band(style):
    measured(style)
    copy = copy_style(style, number="112", name="copy")
    band = Band.objects.get(piece__style=copy)
    assert band.seam.style == copy
    assert Band.objects.filter(piece__style=style).count() == 1


def test_a_seam_that_a_band_goes_by_stays(style):
    measured(style)
    assert "still needed by the band rib neck band" in drop_part(neck(style)).text
    draw_again(style.pieces.get(name=RIB_BAND))
    assert not Band.objects.exists()


def test_the_walk_takes_a_measured_band_as_fitting(style):
    measured(style)
    spec = style_specs([style])["110"]
    assert not [slip for slip in checks.slips(spec) if "neck, rib band" in str(slip)]


# --- the page ---------------------------------------------------------------------------------------------


def test_the_page_without_javascript(maker_client, style):
    assert "Not cut to measure yet" in maker_client.get(page_url(style)).content.decode()
    answer = maker_client.post(page_url(style), typed(style))
    assert answer.status_code == 302
    page = maker_client.get(page_url(style)).content.decode()
    assert "It lies well in every size and cloth." in page
    opening = opening_mm(style)
    flat = 1 - 40 * math.pi / opening
    assert f"20 mm wide on a {opening:.0f} mm neckline lies flat at {flat:.2f}; rib takes it." in page
    assert "0.75" in page
    assert f"{flat:.2f}" in page
    assert "a head of 600 mm round" in page
    # 20 mm are 0.79 in, 600 mm 23.62 in; only the sums in grey stay in mm.
    Workroom.objects.update_or_create(pk=1, defaults={"display": "imperial"})
    page = " ".join(maker_client.get(page_url(style)).content.decode().split())
    assert "13/16 in wide on a" in page
    assert "a head of 23 5/8 in round" in page


def test_looking_keeps_nothing(maker_client, style):
    for url, data in (
        (page_url(style), typed(style, look="1")),
        (page_url(style, "piece-band-look"), typed(style)),
    ):
        page = maker_client.post(url, data).content.decode()
        assert "lies flat at" in page
    assert not Band.objects.exists()
    live = maker_client.post(page_url(style, "piece-band-look"), typed(style), headers=HTMX).content.decode()
    assert live.lstrip().startswith('<section id="band-table"')


@pytest.mark.parametrize(
    ("changes", "field", "text"),
    [
        ({"finished_width_mm": "0"}, "finished_width_mm", "must be more than 0"),
        ({"finished_width_mm": "-4"}, "finished_width_mm", "-4"),
        ({"finished_width_mm": "wide"}, "finished_width_mm", "wide"),
        ({"finished_width_mm": "400"}, "finished_width_mm", "closes the opening"),
        ({"finished_width_mm": ""}, "finished_width_mm", "fill this in"),
        ({"ratio": "0"}, "ratio", "must be at least 0.1"),
        ({"ratio": "3"}, "ratio", "must be at most 1.5"),
        ({"turn": "twice"}, "turn", "choose one"),
        ({"seam": "999999"}, "seam", "choose one"),
    ],
)
def test_bad_input_is_said_at_its_field(maker_client, style, changes, field, text):
    answer = maker_client.post(page_url(style), typed(style, **changes))
    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert list(errors) == [field]
    assert text in errors[field][0]
    if changes[field] and field in ("finished_width_mm", "ratio"):
        assert f'value="{changes[field]}"' in answer.content.decode()
    assert not Band.objects.exists()


def test_the_own_ratio_is_kept_and_the_proposal_shown(maker_client, style):
    maker_client.post(page_url(style), typed(style, ratio="0,65", over_head="on"))
    band = Band.objects.get()
    assert (band.ratio, band.over_head) == (Decimal("0.65"), True)
    page = maker_client.get(page_url(style)).content.decode()
    assert "Your own ratio, 0.65, is kept" in page
    assert "proposed 0." in page
    assert "the head needs 600 mm" in page


def test_warnings_name_the_widest_band(maker_client, style):
    cloth = style.colourways.get(name="ink").cloths.get(role__name="rib")
    cloth.fabric_colour = make.make_fabric_colour("jersey", "ink")
    cloth.save()
    page = maker_client.post(page_url(style, "piece-band-look"), typed(style, finished_width_mm="30"))
    text = page.content.decode()
    widest = opening_mm(style) * 0.2 / FULL_TURN
    assert f"The widest band that would lie flat is {widest:.1f} mm." in text
    assert "jersey returns from 25\N{NO-BREAK SPACE}%" in text
    assert "rib takes it" in text


def test_the_style_page_draws_it_and_leads_there(maker_client, helper_client, style):
    measured(style)
    measured(style, 12, "self")
    page = maker_client.get(reverse("style-detail", args=["110"])).content.decode()
    assert "Ready to plan." in page
    assert page_url(style) in page
    assert "cut to measure" in page
    listed = maker_client.get(reverse("style-list")).content.decode()
    assert "1 style, nothing missing." in listed
    assert helper_client.get(page_url(style)).status_code in (302, 403)


def test_back_to_drawn_outlines(maker_client, style):
    measured(style)
    answer = maker_client.post(page_url(style, "piece-band-drop"))
    assert answer.status_code == 302
    assert not Band.objects.exists()


def test_a_band_without_an_opening_teaches_the_next_step(maker_client, style):
    Seam.objects.all().delete()
    page = maker_client.get(page_url(style)).content.decode()
    assert "First enter a seam whose first side is that opening" in page


def test_the_likely_opening_is_chosen_and_where_none_is_likely_the_maker_chooses(maker_client, style):
    page = maker_client.get(page_url(style))
    assert page.context["form"]["seam"].value() == neck(style, "rib").pk
    assert reverse("seam-propose", args=["110"]) in page.content.decode()
    piece = style.pieces.get(name=RIB_BAND)
    piece.option = None
    piece.save()
    page = maker_client.get(page_url(style))
    assert page.context["form"]["seam"].value() is None
    assert page.context["form"].fields["seam"].choices[0] == ("", "choose its opening")
    refused = maker_client.post(page_url(style), typed(style, seam=""))
    assert list(refused.context["form"].errors) == ["seam"]
    Seam.objects.filter(pk=neck(style, "self").pk).update(name="rib neck band, whole")
    assert (
        maker_client.get(page_url(style)).context["form"]["seam"].value()
        == style.seams.get(name__endswith="whole").pk
    )


def test_the_seam_form_offers_the_edges_of_a_measured_band(maker_client, style):
    measured(style)
    page = maker_client.get(reverse("part-change", args=["110", "seam", neck(style).pk])).content.decode()
    assert f"{RIB_BAND}: join" in page


def test_a_file_to_take_along_has_the_band_as_it_is_cut(style):
    measured(style)
    piece = next(piece for piece in pieces_of(style) if piece.name == RIB_BAND)
    written = style_to_write(style, [piece]).pieces
    assert [one.size for one in written] == ["S", "M", "L"]
    assert written[1].outline.width_mm == pytest.approx(opening_mm(style) - 40 * math.pi + 14)
    assert "cut to measure from rib" in written[1].note
