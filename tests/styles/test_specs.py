"""Rows of the database become the specs of the core, in a fixed number of queries."""

from decimal import Decimal

import pytest

from planner.core.spec import ClothKey, EdgeRef, NotionKey, NotionUse
from planner.materials.models import Workroom
from planner.materials.specs import cloths, notions
from planner.styles.models import Detail, PieceOutline, Seam, Style
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
