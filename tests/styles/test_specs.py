"""Rows of the database become the specs of the core, in a fixed number of queries."""

from decimal import Decimal

import pytest

from planner.core.spec import BandSpec, ClothKey, EdgeRef, NotionKey, NotionUse, StitchSetting
from planner.materials.models import Machine, Workroom
from planner.materials.specs import cloths, machines, notions
from planner.styles.loaded_spec import spec_of
from planner.styles.loading import details_of
from planner.styles.models import Band, ColourwayThread, Detail, PieceOutline, Seam, Style, StyleNotion
from planner.styles.specs import style_specs, workshop
from tests import factories as make

pytestmark = pytest.mark.django_db


def test_percent_becomes_a_share_and_stock_is_summed(django_assert_num_queries):
    fabric = make.make_fabric(
        "jersey",
        shrinkage_length_percent=Decimal("5"),
        shrinkage_width_percent=Decimal("3.5"),
        shrinkage_handling="wash_first",
        damage_percent=Decimal("2"),
        sold_by="kg",
    )
    ink = make.make_fabric_colour(fabric, "ink")
    make.make_fabric_colour(fabric, "chalk")
    make.stock(ink, "12.50", roll="R-1")
    make.stock(ink, "-2.25")
    with django_assert_num_queries(1):
        read = cloths()
    cloth = read[ClothKey("jersey", "ink")]
    assert (cloth.full_width_mm, cloth.usable_width_mm) == (1500.0, 1470.0)
    assert (cloth.shrinkage_length, cloth.shrinkage_width, cloth.damage_share) == (0.05, 0.035, 0.02)
    assert (cloth.shrinkage_handling, cloth.sold_by, cloth.stretch_share) == ("wash_first", "kg", 0.4)
    assert cloth.in_stock_m == 10.25
    assert read[ClothKey("jersey", "chalk")].in_stock_m == 0.0
    with django_assert_num_queries(1):
        assert list(cloths([ink])) == [ClothKey("jersey", "ink")]


def test_less_than_nothing_on_hand_counts_as_nothing():
    ink = make.make_fabric_colour("jersey", "ink")
    elastic = make.make_notion_colour("clear elastic 6 mm")
    make.stock(ink, "-1")
    make.stock(elastic, "-1")
    assert cloths()[ClothKey("jersey", "ink")].in_stock_m == 0.0
    assert notions()[NotionKey("clear elastic 6 mm")].in_stock == 0


def test_notions_carry_pack_and_stock(django_assert_num_queries):
    ink = make.make_notion_colour("overlock thread", "ink")
    make.stock(ink, 7500)
    with django_assert_num_queries(1):
        thread = notions()[NotionKey("overlock thread", "ink")]
    assert (thread.kind, thread.unit, thread.pack, thread.pack_quantity) == (
        "thread",
        "m",
        "5000 m cone",
        5000,
    )
    assert (thread.pack_price, thread.in_stock) == (Decimal("4.50"), Decimal("7500"))


def test_a_style_keeps_its_order_options_and_shapes():
    make.make_style("110", colourways=("ink", "chalk"))
    spec = style_specs(Style.objects.all())["110"]
    assert spec.sizes == ("XS", "S", "M", "L", "XL", "XXL")
    assert spec.base_size == "L"
    assert spec.details == {"neck": ("self band", "rib band")}
    assert [(p.name, p.role, p.option, p.is_band) for p in spec.pieces] == [
        ("front", "body", None, False),
        ("back", "body", None, False),
        ("self neck band", "body", ("neck", "self band"), True),
        ("rib neck band", "rib", ("neck", "rib band"), True),
    ]
    # The first size is 600 mm long and 2 × 250 mm wide, the sixth 5 × 15 mm longer and 5 × 25 mm wider.
    front = spec.pieces[0].outlines
    assert list(front) == list(spec.sizes)
    assert (front["XS"].length_mm, front["XS"].width_mm) == (600.0, 500.0)
    assert (front["XXL"].length_mm, front["XXL"].width_mm) == (675.0, 625.0)
    assert front["XS"].edge_length_mm("left shoulder") == pytest.approx(170.0)


def test_a_style_keeps_its_seams_operations_notions_and_colourways():
    make.make_style("110", colourways=("ink", "chalk"))
    spec = style_specs(Style.objects.all())["110"]
    shoulder, _, neck, _ = spec.seams
    assert shoulder.edges == (EdgeRef("front", "left shoulder"), EdgeRef("back", "left shoulder", 2))
    assert (shoulder.times, shoulder.operation, shoulder.option) == (2, "join shoulders", None)
    assert (neck.times, neck.option) == (1, ("neck", "self band"))
    assert [o.name for o in spec.operations] == [
        "join shoulders",
        "close sides",
        "set self band",
        "set rib band",
        "hem",
    ]
    assert [(o.stitch_type, o.standard_minutes) for o in spec.operations][-1] == ("406", 4.0)
    assert spec.notions == (
        NotionUse(NotionKey("clear elastic 6 mm"), None, "seam", 1.0, "shoulder", 1.0, 20.0),
        NotionUse(NotionKey("size label"), None, "garment", 1.0, "", 1.0, 20.0),
    )
    assert list(spec.colourways) == ["ink", "chalk"]
    chalk = spec.colourways["chalk"]
    assert chalk.cloths == {"body": ClothKey("jersey", "chalk"), "rib": ClothKey("rib", "chalk")}
    assert chalk.thread == NotionKey("overlock thread", "chalk")


def test_what_a_style_lacks_is_simply_not_there():
    style = make.make_style("110", with_outlines=False)
    Detail.objects.create(style=style, name="hem", position=9)
    style.colourways.update(thread=None)
    style.colourways.get().cloths.all().delete()
    Seam.objects.create(style=style, name="loose", operation=style.operations.first(), position=9)
    spec = style_specs([style])["110"]
    assert spec.details["hem"] == ()
    assert all(piece.outlines == {} for piece in spec.pieces)
    assert spec.colourways["ink"].thread is None
    assert spec.colourways["ink"].cloths == {}
    assert spec.seams[-1].edges == ()


def test_many_styles_take_no_more_queries_than_one(django_assert_num_queries):
    first = make.make_style("110")
    with django_assert_num_queries(7):
        assert list(style_specs([first])) == ["110"]
    for number in ("120", "130", "140"):
        make.make_style(number, colourways=("ink", "chalk", "moss"))
    with django_assert_num_queries(8):
        specs = style_specs(Style.objects.all())
    assert list(specs) == ["110", "120", "130", "140"]
    # No style carries rows of another.
    assert {len(s.pieces) for s in specs.values()} == {4}
    assert {len(s.operations) for s in specs.values()} == {5}
    assert [len(s.colourways) for s in specs.values()] == [1, 3, 3, 3]


def test_the_workshop_knows_styles_cloths_notions_and_the_table(django_assert_num_queries):
    for number in ("110", "120"):
        make.make_style(number)
    room = Workroom.the()
    room.table_length_mm, room.most_plies, room.piece_gap_mm, room.bundle_size = (
        Decimal("3200"),
        4,
        Decimal("3"),
        6,
    )
    room.save()
    with django_assert_num_queries(11):
        shop = workshop(["120", "999"])
    assert list(shop.styles) == ["120"]
    assert set(shop.cloths) == {ClothKey("jersey", "ink"), ClothKey("rib", "ink")}
    assert NotionKey("overlock thread", "ink") in shop.notions
    assert (shop.table_length_mm, shop.most_plies, shop.piece_gap_mm, shop.bundle_size) == (3200.0, 4, 3.0, 6)
    with django_assert_num_queries(11):
        assert list(workshop().styles) == ["110", "120"]
    assert workshop([]).styles == {}


def test_what_was_stored_comes_back_to_a_thousandth():
    make.make_style("110", sizes="M")
    stored = PieceOutline.objects.get(piece__name="front")
    front = style_specs(Style.objects.all())["110"].pieces[0].outlines["M"]
    assert front.area_mm2 == pytest.approx(stored.area_mm2, rel=1e-6)


def test_outlines_are_read_in_the_sizes_asked_for_and_pieces_stay_without_any(django_assert_num_queries):
    make.make_style("110", sizes="S M L")
    whole = workshop(["110"]).styles["110"]
    with django_assert_num_queries(11):
        spec = workshop(["110"], sizes=["M", "7XL"]).styles["110"]
    assert spec.sizes == ("S", "M", "L")
    assert [piece.name for piece in spec.pieces] == [piece.name for piece in whole.pieces]
    assert [dict(piece.outlines) for piece in spec.pieces] == [
        {"M": piece.outlines["M"]} for piece in whole.pieces
    ]
    none = workshop(["110"], sizes=[]).styles["110"]
    assert [dict(piece.outlines) for piece in none.pieces] == [{}] * len(whole.pieces)


def test_an_outline_met_before_is_the_same_one_until_its_shape_changes():
    make.make_style("110", sizes="M")

    def front():
        return workshop(["110"]).styles["110"].pieces[0].outlines["M"]

    first = front()
    assert front() is first
    row = PieceOutline.objects.get(piece__name="front")
    row.shape = first.scaled(2.0, 1.0).as_json()
    row.save()
    assert front().area_mm2 == pytest.approx(2 * first.area_mm2)


def test_the_new_columns_come_along_on_both_ways_of_reading():
    style = make.make_style("110", colourways=("ink", "chalk"))
    rolled, grey = make.make_notion_colour("rolled thread", "grey"), make.make_notion_colour("bag")
    machine = Machine.objects.create(name="grey overlock", kind="overlock")
    style.operations.filter(name="join shoulders").update(
        own_machine=machine, stitch_length_mm="2.5", stitch_width_mm="5.00", layers=3,
        differential_feed="1.3", tension_note="loose", needle_note="75/11 ball point", quality_note="even",
    )  # fmt: skip
    ink, _ = style.colourways.all()
    for place, colour in (("looper", rolled), ("needle", grey)):
        ColourwayThread.objects.create(colourway=ink, position=place, notion_colour=colour)
    band = style.pieces.get(name="rib neck band")
    Band.objects.create(piece=band, seam=style.seams.first(), finished_width_mm=15, ratio="0.8", turn_rad=6.0)
    bag = {"style": style, "notion_colour": grey, "quantity": 2}
    size = style.size_range.sizes.get(name="M")
    StyleNotion.objects.create(**bag, basis="piece", piece=style.pieces.first(), size=size)
    read = style_specs([style])["110"]
    joined = read.operations[0]
    assert (joined.own_machine, joined.stitch_length_mm, joined.stitch_width_mm) == (
        "grey overlock",
        2.5,
        5.0,
    )
    assert (joined.layers, joined.differential_feed, joined.tension_note) == (3, 1.3, "loose")
    assert (joined.needle_note, joined.quality_note) == ("75/11 ball point", "even")
    ways = read.colourways
    assert ways["ink"].thread_at("looper") == NotionKey("rolled thread", "grey")
    assert ways["ink"].thread_at("needle") == NotionKey("bag")
    assert ways["ink"].thread_at("cover") == ways["ink"].thread == NotionKey("overlock thread", "ink")
    assert ways["chalk"].threads == {}
    found = {piece.name: piece for piece in read.pieces}["rib neck band"].band
    assert found == BandSpec("shoulder", 15.0, folded=True, ratio=0.8, turn_rad=6.0)
    assert read.notions[-1] == NotionUse(
        NotionKey("bag"), None, "piece", 2.0, tail_mm=20.0, piece="front", size="M"
    )
    (whole,) = Style.objects.with_everything()
    other = spec_of(whole, details_of(whole))
    assert (other.operations, other.notions, other.colourways) == (
        read.operations,
        read.notions,
        read.colourways,
    )
    assert [piece.band for piece in other.pieces] == [piece.band for piece in read.pieces]
    assert [str(thread) for thread in whole.colourways.all()[0].threads.all()] == [
        "loopers and bobbin: rolled thread, grey",
        "needles: bag",
    ]


def test_machines_carry_what_was_set_and_what_was_measured(django_assert_num_queries):
    """Common practice in the figures; 401 is the published worked example: 15 cm gave 19.5 and 62.0 cm."""
    overlock = Machine.objects.create(name="old overlock", kind="overlock")
    chain = Machine.objects.create(name="chainstitch", kind="other")
    Machine.objects.create(name="bare", kind="other")
    overlock.stitches.create(stitch_type="504", stitch_length_mm="2.5", width_mm="5")
    chain.stitches.create(stitch_type="401", unpicked_mm=150, needle_mm=195, looper_mm=620)
    with django_assert_num_queries(1):
        read = {machine.name: machine for machine in machines()}
    assert read["old overlock"].stitches == {"504": StitchSetting("504", 2.5, 5.0)}
    measured = read["chainstitch"].stitches["401"].measured
    assert measured == pytest.approx({"needle": 1.3, "looper": 62.0 / 15})
    assert (read["bare"].kind, read["bare"].stitches) == ("other", {})


def test_cones_and_thickness_are_those_that_were_counted_and_measured():
    thread, elastic = make.make_notion_colour("overlock thread", "ink"), make.make_notion_colour("elastic")
    ink = make.make_fabric_colour("jersey", "ink")
    assert cloths()[ClothKey("jersey", "ink")].thickness_mm == 0.0
    assert notions()[NotionKey("overlock thread", "ink")].cones is None
    thread.cones, elastic.cones, ink.fabric.thickness_mm = 3, 4, Decimal("0.62")
    for row in (thread, elastic, ink.fabric):
        row.save()
    assert cloths()[ClothKey("jersey", "ink")].thickness_mm == 0.62
    assert {key.notion: notion.cones for key, notion in notions().items()} == {
        "overlock thread": 3,
        "elastic": None,
    }
