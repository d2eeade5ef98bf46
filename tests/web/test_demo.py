"""The demo workroom is whole: it loads, it can be planned, and its pieces fit each other."""

import csv
from collections import Counter
from datetime import date, timedelta
from io import StringIO
from itertools import product

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command
from django.db.models import F

from fixtures import draft_demo
from fixtures.drafting.bodies import BODIES, SIZES
from fixtures.drafting.styles import CARDIGAN, SKIRT, STYLES, TEE, YOKE_TOP
from planner.core.needs import find_missing, work_out_needs
from planner.core.outline import Outline
from planner.core.spec import ClothKey, Demand, Garment, StyleSpec, make_options
from planner.cutting.models import Batch, BatchItem, Bundle, Lay
from planner.materials.models import FabricColour, NotionColour, Roll, StockMove, Workroom
from planner.materials.specs import cloths
from planner.orders.models import LineQuantity, Order
from planner.sewing.models import ProgressEvent
from planner.styles.checks import slips
from planner.styles.models import PieceOutline, Style
from planner.styles.specs import workshop
from planner.web import demo_loader
from planner.web.demo import (
    DEMAND_FILE,
    DEMO_FILE,
    NotEmptyError,
    NotTheDemoError,
    empty_workroom,
    is_empty,
    load_demo,
    read_demo,
)
from planner.web.demo_batches import answer_markers, read_answers
from planner.web.demo_patterns import PATTERNS, read_pieces
from planner.web.management.commands import load_demo as command
from tests import factories as make
from tests.core.demo_drafts import drafts_of
from tests.demo import loaded_demo

TODAY = date(2031, 5, 12)

#: How much longer a sleeve head may be than the armhole it is set into, on seam line and cut line.
#: The cut line of a sleeve head lies outside a bulging curve, that of an armhole inside a hollow one.
SLEEVE_EASE_MM = (0.0, 15.0)
#: Bands are sewn stretched; the jersey and the ribs stretch further than this (see their facts).
HEAD_GIRTH_MM = 560.0  # an adult's head, from memory


@pytest.fixture
def demo(db):
    return loaded_demo(TODAY)


@pytest.fixture(scope="module")
def drafts():
    """Style number -> size -> piece -> draft."""
    return {style.number: {size: drafts_of(style, size) for size in SIZES} for style in STYLES}


@pytest.fixture(scope="module")
def pieces():
    """Style number -> piece -> its data in the fixture, outlines read."""
    return {
        style["number"]: {
            piece["name"]: {
                **piece,
                "outlines": {size: read.outline for size, read in drawn[piece["name"]].items()},
            }
            for piece in style["pieces"]
        }
        for style in read_demo()["styles"]
        for drawn in [read_pieces(style["pattern"])]
    }


def choices(spec: StyleSpec):
    """Every combination of the style's options."""
    for names in product(*spec.details.values()):
        yield make_options(zip(spec.details, names, strict=True))


# Loading


def test_the_fixture_is_what_the_drafting_rules_make():
    assert DEMO_FILE.read_text(encoding="utf-8") == draft_demo.workroom_text()
    assert DEMAND_FILE.read_text(encoding="utf-8") == draft_demo.demand_text()
    for name, content in draft_demo.pattern_files().items():
        assert (PATTERNS / name).read_bytes() == content, name


@pytest.mark.parametrize("style", STYLES, ids=lambda style: style.number)
def test_pattern_files_are_read_as_they_were_drafted(style, drafts):
    """The reader knows nothing of the drafting rules; only what stands in the file."""
    drawn = read_pieces(style.pattern)
    assert list(drawn) == [piece.name for piece in style.pieces]
    for name, by_size in drawn.items():
        assert set(by_size) == set(SIZES)
        for size, read in by_size.items():
            drafted = drafts[style.number][size][name].cut()
            assert read.outline.area_mm2 == pytest.approx(drafted.area_mm2, rel=1e-5)
            lengths = read.outline.edge_lengths_mm()
            assert lengths == pytest.approx(drafted.edge_lengths_mm(), abs=0.05), name


def test_it_holds_what_it_says_and_every_seam_fits_in_every_size(demo):
    assert (demo.styles, demo.orders, demo.fabrics) == (4, 10, 5)
    assert demo.outlines == PieceOutline.objects.count() == 186
    assert {order.state for order in Order.objects.all()} == {"open", "dispatched", "cancelled"}
    assert Order.objects.filter(customer=None).count() == 1
    assert Workroom.the().name == "Bobbin Row (demo)"
    styles = workshop().styles
    assert set(styles) == {style.number for style in STYLES}
    assert {number: slips(spec) for number, spec in styles.items()} == {number: [] for number in styles}
    # Dates are counted from the day of loading.
    late = Order.objects.get(number="O-1042")
    assert (late.due_on, late.state) == (date(2031, 5, 9), "open")
    assert Order.objects.get(state="dispatched").dispatched_on == date(2031, 4, 28)
    assert not StockMove.objects.filter(moved_at__date__gt=TODAY).exists()
    assert Order.objects.filter(entered_on__gt=TODAY).count() == 0


def test_nothing_is_used_that_was_not_there(demo):
    # Two rolls of 18.40 and 6.20 m, of which nothing was cut.
    assert cloths()[ClothKey("plain jersey 180", "ink")].in_stock_m == pytest.approx(24.60)
    assert StockMove.objects.filter(reason="cut").exists()
    for cloth in FabricColour.objects.with_stock():
        assert cloth.on_hand_m >= 0, cloth
        # What was cut came from a roll, so that no roll is thought to hold what is gone.
        assert (
            sum(roll.left_m for roll in Roll.objects.with_left().filter(fabric_colour=cloth))
            == cloth.on_hand_m
        )
    for notion in NotionColour.objects.with_stock():
        assert notion.on_hand >= 0, notion


def test_one_batch_is_done_one_is_being_sewn_one_waits_for_its_lays(demo):
    done, sewing, planned = Batch.objects.order_by("number")
    assert [batch.state for batch in (done, sewing, planned)] == ["done", "sewing", "planned"]
    assert {item.line.order.state for item in done.items.all()} == {"dispatched"}
    # All that was cut is nested, and so well that it was not laid in plain rows.
    cut = Lay.objects.filter(batch__in=[done, sewing]).select_related("marker")
    assert all(lay.cut_at and lay.marker.state == "ready" and lay.marker.efficiency > 0.6 for lay in cut)
    assert {lay.marker.state for lay in planned.lays.all()} == {"waiting"}
    # One step for every operation of the bundle, and its check at the end.
    bundle = done.bundles.first()
    steps = bundle.events.count()
    chosen = set(bundle.options.values_list("pk", flat=True))
    own = [o for o in done.operations.filter(style=bundle.style) if o.option_id in {None, *chosen}]
    assert steps == len(own) + 1
    assert bundle.events.filter(step="checked").count() == 1
    assert sewing.bundles.filter(events__isnull=True).count() == 0
    assert not ProgressEvent.objects.filter(bundle__batch=sewing, step="checked").exists()
    assert not ProgressEvent.objects.filter(happened_at__date__gt=TODAY).exists()


def test_a_stored_marker_that_does_not_fit_is_refused(db):
    moved = {key: [[*place[:-1], place[-1] + 40] for place in row] for key, row in read_answers().items()}
    with pytest.raises(ValueError, match="not valid"):
        load_demo(read_demo(), TODAY, nest=lambda: answer_markers(moved))
    assert is_empty()


def test_a_workroom_with_anything_in_it_is_left_alone(db):
    make.make_supplier()
    with pytest.raises(NotEmptyError):
        load_demo(read_demo(), TODAY)
    with pytest.raises(NotTheDemoError):
        load_demo(read_demo(), TODAY, replace=True)
    assert Style.objects.count() == 0
    with pytest.raises(CommandError, match="nothing was loaded"):
        call_command("load_demo")
    with pytest.raises(CommandError, match="not the demo"):
        call_command("load_demo", "--replace")


def test_a_half_loaded_demo_leaves_nothing_behind(db):
    data = dict(read_demo())
    data["orders"] = [{**data["orders"][0], "customer": "Nobody Known"}]
    with pytest.raises(KeyError):
        load_demo(data, TODAY)
    assert is_empty()


@pytest.mark.slow
def test_the_command_tells_what_it_made_and_makes_it_new(db, monkeypatch):
    out = StringIO()
    # Read anew the second time; its batches, which take longest, are planned anew where the demo is loaded first.
    with monkeypatch.context() as at_first:
        at_first.setattr(command, "load_demo", lambda data, today, **asked: loaded_demo(today))
        call_command("load_demo", today=TODAY, stdout=out)
    assert "4 styles with 186 outlines" in out.getvalue()
    out.truncate(out.seek(0))
    person = make.make_person()
    Order.objects.all().update(note="scribbled on", entered_by=person)
    assert Batch.objects.count() == 3
    monkeypatch.setattr(demo_loader, "make_batches", lambda *_: [])
    call_command("load_demo", today=date(2031, 6, 1), replace=True, stdout=out)
    assert "4 styles with 186 outlines" in out.getvalue()
    assert Batch.objects.count() == 0
    assert Order.objects.count() == 10
    assert not Order.objects.filter(note="scribbled on").exists()
    assert Order.objects.get(number="O-1042").due_on == date(2031, 5, 29)
    assert User.objects.get() == person


@pytest.mark.django_db(transaction=True)
def test_emptying_breaks_no_relation():
    loaded_demo(TODAY)
    empty_workroom()
    assert is_empty()
    assert PieceOutline.objects.count() == 0


# Ten years


@pytest.mark.slow
def test_years_are_added_in_proportion_and_only_to_the_demo(demo):
    out = StringIO()
    call_command("seed_years", scale=0.011, today=TODAY, stdout=out)
    assert Order.objects.count() == 55 + 10
    assert Batch.objects.count() == pytest.approx(22 + 3, abs=2)
    assert Bundle.objects.count() == pytest.approx(550, rel=0.25)
    assert ProgressEvent.objects.count() > 2_200
    new = Order.objects.filter(number__startswith="O-10")
    assert not new.filter(state="open", entered_on__lt=TODAY - timedelta(days=60)).exists()
    assert (TODAY - new.earliest("entered_on").entered_on).days > 3_500
    # No order line is batched beyond what was ordered, and nothing is sewn before it is cut.
    lines = LineQuantity.objects.filter(line__order__in=new)
    batched = Counter(BatchItem.objects.values_list("line", "size"))
    assert set(batched.values()) == {1}
    for quantity in lines:
        for item in BatchItem.objects.filter(line=quantity.line_id, size=quantity.size_id):
            assert item.quantity == quantity.quantity
    assert not ProgressEvent.objects.filter(bundle__lays__cut_at__isnull=True).exists()
    assert (
        not ProgressEvent.objects.exclude(operation=None)
        .exclude(operation__batch=F("bundle__batch"), operation__style=F("bundle__style"))
        .exists()
    )
    Workroom.objects.update(name="A real one")
    with pytest.raises(CommandError, match="not the demo"):
        call_command("seed_years", scale=0.02)


def test_years_need_the_demo(db):
    with pytest.raises(CommandError, match="not the demo"):
        call_command("seed_years")
    Workroom.objects.update(name=read_demo()["workroom"]["name"])
    with pytest.raises(CommandError, match="load_demo"):
        call_command("seed_years")
    with pytest.raises(CommandError, match="scale"):
        call_command("seed_years", scale=0)


# Machines


def test_three_machines_of_its_own_of_which_one_was_measured(demo):
    shop = workshop()
    assert {machine.name: machine.kind for machine in shop.machines} == {
        "Goose": "sewing machine", "Heron": "overlock", "Wren": "coverstitch",
    }  # fmt: skip
    measured = {
        (machine.name, number): dict(setting.measured)
        for machine in shop.machines
        for number, setting in machine.stitches.items()
        if setting.measured
    }
    # 15 cm of seam, 26.0 cm of needle thread, 84.5 + 77.5 cm from the two loopers.
    assert list(measured) == [("Heron", "504")]
    assert measured["Heron", "504"] == pytest.approx({"needle": 26 / 15, "looper": 162 / 15})
    assert all(0.1 <= cloth.thickness_mm <= 2 for cloth in shop.cloths.values())
    named = [step for spec in shop.styles.values() for step in spec.operations if step.own_machine]
    makes = {machine.name: machine.stitches for machine in shop.machines}
    assert named
    assert all(step.stitch_type in makes[step.own_machine] for step in named)
    assert any(step.quality_note == "join of the band just behind the left shoulder seam" for step in named)


# Planning


def test_every_combination_of_options_can_be_planned_in_every_size_and_colourway(demo):
    shop = workshop()
    demand = [
        Demand(Garment(spec.number, options, colourway, size), 1)
        for spec in shop.styles.values()
        for options in choices(spec)
        for colourway in spec.colourways
        for size in spec.sizes
    ]
    # Tee 4 × 4, top 2 × 3, cardigan 4 × 3, skirt 4 × 2: options × colourways, each in six sizes.
    assert len(demand) == (16 + 6 + 12 + 8) * 6
    assert find_missing(demand, shop) == ()
    needs = work_out_needs(demand, shop)
    assert {need.cloth.fabric for need in needs.cloths} == {cloth.fabric for cloth in shop.cloths}
    assert all(need.need_m > 0 for need in needs.cloths)


def test_the_demand_file_fits(demo):
    shop = workshop()
    with DEMAND_FILE.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        assert reader.fieldnames == ["style", "options", "colourway", "size", "quantity"]
        rows = list(reader)
    demand = [
        Demand(
            Garment(
                row["style"],
                make_options(tuple(choice.split("=")) for choice in row["options"].split(";")),
                row["colourway"],
                row["size"],
            ),
            int(row["quantity"]),
        )
        for row in rows
    ]
    assert find_missing(demand, shop) == ()
    assert sum(line.quantity for line in demand) == 24
    assert {line.garment.size for line in demand} == set(SIZES)
    assert {line.garment.colourway for line in demand} == {"ink", "moss"}


def test_every_piece_fits_its_cloth(demo):
    shop = workshop()
    for spec in shop.styles.values():
        for colourway in spec.colourways.values():
            for piece in spec.pieces:
                usable = shop.cloths[colourway.cloths[piece.role]].usable_width_mm
                assert all(outline.width_mm < 0.95 * usable for outline in piece.outlines.values())


# Shapes


def every_piece(pieces):
    for number, of_style in pieces.items():
        for name, piece in of_style.items():
            yield f"{number} {name}", piece


def test_single_pieces_are_symmetrical_so_that_only_pairs_need_a_mirror(pieces):
    for name, piece in every_piece(pieces):
        for outline in piece["outlines"].values():
            _, low, _, high = outline.bounds_mm
            image = outline.mirrored().moved(0, low + high).polygon
            unlike = outline.polygon.symmetric_difference(image).area / outline.area_mm2
            assert (unlike > 1e-3) if piece["pair"] else (unlike < 1e-4), name
            assert piece["count"] in ((2,) if piece["pair"] else (1, 2))


def test_outlines_grow_from_size_to_size(pieces):
    for name, piece in every_piece(pieces):
        areas = [piece["outlines"][size].area_mm2 for size in SIZES]
        assert areas == sorted(areas), name
        assert len(set(areas)) == len(SIZES)


def test_outlines_are_drawn_with_few_points_and_begin_at_nothing(pieces):
    for name, piece in every_piece(pieces):
        for outline in piece["outlines"].values():
            assert 4 <= len(outline.points) <= 90
            assert outline.polygon.is_valid
            # Both halves of a piece drafted on the fold have edges of one name.
            most = max(Counter(edge.name for edge in outline.edges).values())
            assert most <= (1 if piece["pair"] else 2), name


def test_curves_lie_within_a_third_of_a_millimetre():
    from shapely.geometry import LineString, Point

    from fixtures.drafting.lines import _bezier, curve

    quarter = ((0.0, 100.0), (55.228, 100.0), (100.0, 55.228), (100.0, 0.0))
    wavy = ((0.0, 0.0), (180.0, 10.0), (-40.0, 160.0), (150.0, 150.0))
    for controls in (quarter, wavy):
        path = curve(*controls)
        assert (path[0], path[-1]) == (controls[0], controls[3])
        drawn = LineString(path)
        away = max(drawn.distance(Point(_bezier(controls, i / 1000))) for i in range(1001))
        assert 0.05 < away < 0.33


def test_the_cut_line_lies_outside_the_seam_line_by_its_allowance():
    from fixtures.drafting.lines import Draft, Side, line

    square = ((0, 0), (0, 50), (100, 50), (100, 0))
    names = ("hem", "side", "top")
    half = Draft(
        tuple(Side(n, line(square[i], square[i + 1]), 20 if n == "hem" else 7) for i, n in enumerate(names)),
        "front",
    )
    cut = half.cut()
    # 100 + 20 + 7 along, 2 × (50 + 7) across.
    assert (cut.length_mm, cut.width_mm) == pytest.approx((127.0, 114.0))
    assert cut.edge_lengths_mm() == pytest.approx({"hem": 114, "side": 2 * 127, "top": 114})
    assert len(cut.edge_paths("side")) == 2


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    ("number", "sleeve"), [("110", "short sleeve"), ("110", "long sleeve"), ("130", "sleeve")]
)
def test_sleeve_heads_fit_their_armholes(pieces, drafts, number, sleeve, size):
    low, high = SLEEVE_EASE_MM
    drafted = drafts[number][size]
    ease = drafted[sleeve].seam_length_mm("sleeve head") - sum(
        drafted[name].seam_length_mm("armhole") for name in ("front", "back")
    )
    assert low <= ease <= 2.0
    stored = {name: piece["outlines"][size] for name, piece in pieces[number].items()}
    cut_ease = (
        stored[sleeve].edge_length_mm("sleeve head")
        - stored_edge(stored, "front", "armhole")
        - stored_edge(stored, "back", "armhole")
    )
    assert low <= cut_ease <= high


def stored_edge(shapes: dict[str, Outline], piece: str, edge: str) -> float:
    """Mean length of the edges of a name."""
    return shapes[piece].edge_length_mm(edge) / shapes[piece].edge_count(edge)


@pytest.mark.parametrize("size", SIZES)
def test_edges_that_are_joined_are_equally_long(pieces, size):
    # Both cut lines run at the same distance from one seam line; only their corners differ, so a few
    # millimetres are between them at most. (The yoke seams end aslant; they are compared on the seam line.)
    equal = {
        "110": [
            ("front: shoulder", "back: shoulder"),
            ("front: side", "back: side"),
            ("short sleeve: front underarm", "short sleeve: back underarm"),
            ("long sleeve: front underarm", "long sleeve: back underarm"),
        ],
        "120": [
            ("front yoke: shoulder", "back yoke: shoulder"),
            ("front yoke: shoulder", "split back yoke: shoulder"),
            ("front body: side", "back body: side"),
            ("front neck facing: neckline", "front yoke: neckline"),
            ("back neck facing: neckline", "back yoke: neckline"),
            ("split back neck facing: neckline", "split back yoke: neckline"),
            ("front armhole facing: shoulder", "back armhole facing: shoulder"),
        ],
        "130": [("front: shoulder", "back: shoulder"), ("front: side", "back: side")],
        "140": [
            ("knee front: side", "knee back: side"),
            ("midi front: side", "midi back: side"),
        ],
    }
    for number, pairs in equal.items():
        shapes = {name: piece["outlines"][size] for name, piece in pieces[number].items()}
        for one, other in pairs:
            a, b = (stored_edge(shapes, *edge.split(": ")) for edge in (one, other))
            assert a == pytest.approx(b, abs=5.0), f"{number}: {one} and {other}"


@pytest.mark.parametrize("size", SIZES)
def test_bands_are_shorter_than_what_they_finish_and_pass_over_the_head(drafts, size):
    tee = drafts[TEE.number][size]
    neck = tee["front"].seam_length_mm("neckline") + tee["back"].seam_length_mm("neckline")
    self_band = tee["self neck band"].seam_length_mm("neckline")
    rib_band = tee["rib neck band"].seam_length_mm("neckline")
    assert 0.82 < self_band / neck < 0.88
    assert 0.72 < rib_band / neck < 0.80
    # Stretch of plain jersey 45 %, of the rib 70 %.
    assert self_band * 1.45 >= HEAD_GIRTH_MM
    assert rib_band * 1.70 >= HEAD_GIRTH_MM
    assert tee["cuff"].seam_length_mm("cuff edge") * 1.70 > tee["long sleeve"].seam_length_mm("cuff edge")
    cardigan = drafts[CARDIGAN.number][size]
    hem = 2 * cardigan["front"].seam_length_mm("hem") + cardigan["back"].seam_length_mm("hem")
    assert 0.85 < 2 * cardigan["hem band"].seam_length_mm("hem") / hem < 0.92
    skirt = drafts[SKIRT.number][size]
    waist = skirt["knee front"].seam_length_mm("waist") + skirt["knee back"].seam_length_mm("waist")
    assert skirt["waist casing"].seam_length_mm("waist") == pytest.approx(waist)
    # The waist of the skirt is pulled over the hip.
    assert skirt["rib waistband"].seam_length_mm("waist") * 1.70 > BODIES[size].hip
    assert waist * 1.30 > BODIES[size].hip


@pytest.mark.parametrize("size", SIZES)
def test_the_woven_yoke_passes_over_the_head_and_the_front_is_gathered_to_it(drafts, size):
    top = drafts[YOKE_TOP.number][size]
    neck = top["front yoke"].seam_length_mm("neckline") + top["back yoke"].seam_length_mm("neckline")
    # Linen does not stretch: the closed back goes over the head as it is.
    assert neck >= HEAD_GIRTH_MM
    gather = top["front body"].seam_length_mm("yoke edge") / top["front yoke"].seam_length_mm("yoke edge")
    assert 1.15 < gather < 1.35
    assert top["back body"].seam_length_mm("yoke edge") == pytest.approx(
        top["back yoke"].seam_length_mm("yoke edge")
    )
    for side in ("front", "back"):
        whole = top[f"{side} yoke"].seam_length_mm("armhole") + top[f"{side} body"].seam_length_mm("armhole")
        assert top[f"{side} armhole facing"].seam_length_mm("armhole") == pytest.approx(whole)
