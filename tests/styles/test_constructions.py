"""Every construction of knit garments: drawn, ordered, batched and cut, with figures worked out by hand.

Three garments are ordered: two S and one L. What they take stands in `construction_cases.py`.
"""

from __future__ import annotations

from collections import Counter
from itertools import product

import pytest

from planner.core.lays.model import Placement
from planner.core.missing import find_missing
from planner.core.outline import outline_from_json
from planner.core.pattern_files.model import marks_from_json
from planner.core.seam_lines import seam_line_lengths_mm
from planner.core.spec import ClothKey, Demand, Garment, NotionKey, make_options
from planner.cutting.actions.gathering import create_batch, fill_batch
from planner.cutting.actions.planning import plan_batch
from planner.cutting.models import Batch, LayGarment
from planner.cutting.stored import PlannedBatch, planned_batch, stored_lay
from planner.orders.models import LineQuantity, Order
from planner.styles.models import PieceOutline, Style
from planner.styles.specs import workshop
from tests.factories import NOON, TODAY
from tests.sewing.makers import make_planned_batch
from tests.styles.construction_cases import BY_NAME, CASES, PLAIN, Case, enter, order_fields
from tests.styles.constructions import CLOTHS, DETAILS, EXCLUSIONS, make_swap_top

pytestmark = pytest.mark.django_db


def placements(batch: Batch) -> list[Placement]:
    """Every piece on the lays of a batch, as many times as its lay is spread."""
    found = []
    for row in batch.lays.with_everything():
        lay = stored_lay(row)
        assert lay.planned.mode == "open"
        assert lay.marker is not None
        found += list(lay.marker.placements) * lay.planned.spreads
    return found


# --- the style ---


@pytest.fixture
def style(db: None) -> Style:
    return make_swap_top()


def test_every_combination_that_may_be_ordered_can_be_planned_in_every_size(style):
    excluded = [{tuple(words.split(": ")) for words in pair} for pair in EXCLUSIONS]
    demand = [
        Demand(Garment("160", make_options(zip(DETAILS, names, strict=True)), "ink", size), 1)
        for names in product(*DETAILS.values())
        for size in "SML"
        if not any(pair <= set(zip(DETAILS, names, strict=True)) for pair in excluded)
    ]
    # 6 necks × 3 sleeves × 2 backs × (2 fronts with either pocket + 2 fronts without) × 3 sizes
    assert len(demand) == 6 * 3 * 2 * (2 * 2 + 2) * 3
    assert find_missing(demand, workshop(["160"])) == ()


@pytest.mark.parametrize("pair", EXCLUSIONS, ids=" + ".join)
def test_options_that_exclude_each_other_cannot_be_planned_either(style, pair):
    chosen = PLAIN | dict(words.split(": ") for words in pair)
    found = find_missing([Demand(Garment("160", make_options(chosen), "ink", "M"), 1)], workshop(["160"]))
    assert len(found) == 1
    assert "cannot be had together" in found[0].text


def test_pleat_lines_take_up_what_the_head_is_longer(style):
    for size, armhole in (("S", 360), ("M", 380), ("L", 400)):
        row = PieceOutline.objects.get(piece__name="pleated sleeve", piece__style=style, size__name=size)
        lines = marks_from_json(row.marks).lines
        across = sorted(path[0][1] for path in lines)
        # Two pleats, each between two lines that begin on the cut line of the head and run along the grain.
        taken_up = (across[1] - across[0]) + (across[3] - across[2])
        outline = outline_from_json(row.shape)
        head = next(i for i, edge in enumerate(outline.edges) if edge.name == "head")
        assert taken_up == pytest.approx(0.25 * armhole)
        assert seam_line_lengths_mm(outline, 7.0)[head] - taken_up == pytest.approx(armhole)
        assert all(path[0][1] == path[1][1] and path[0][0] == outline.bounds_mm[2] for path in lines)


# --- the order ---


@pytest.mark.parametrize("pair", EXCLUSIONS, ids=" + ".join)
def test_options_that_exclude_each_other_are_refused_at_the_order(maker_client, style, pair):
    chosen = PLAIN | dict(words.split(": ") for words in pair)
    answer = maker_client.post("/orders/new/", order_fields(chosen))
    assert answer.status_code == 422
    assert not Order.objects.exists()
    page = answer.content.decode()
    assert 'value="2"' in page, "what was typed is kept"
    # "The front twist and the pocket patch cannot be had together."
    assert f"{pair[0].replace(':', '')} and the {pair[1].replace(':', '')} cannot be had together" in page
    # Either alone is welcome.
    enter(maker_client, chosen | {"pocket": "none"})


def test_an_order_without_a_neck_is_refused(maker_client, style):
    without = {detail: option for detail, option in PLAIN.items() if detail != "neck"}
    assert maker_client.post("/orders/new/", order_fields(without)).status_code == 422
    assert not Order.objects.exists()


# --- the batch ---


#: What the last one is made of is not asked once more by itself.
APART = [case for case in CASES if not case.options or not case.options.items() < CASES[-1].options.items()]


@pytest.mark.parametrize("case", APART, ids=lambda case: case.name)
def test_it_is_ordered_batched_and_cut(maker_client, style, case):
    batch = make_planned_batch(enter(maker_client, case.chosen))
    read = planned_batch(batch)

    counts = {(row.piece, row.garment.size): (row.count, row.cloth) for row in read.needs.cutting_counts}
    expected = {}
    for piece, (count, role) in case.pieces.items():
        cloth = ClothKey(CLOTHS[role], "ink")
        expected |= {(piece, "S"): (2 * count, cloth), (piece, "L"): (count, cloth)}
    assert counts == expected

    # One S more than there are L: of a pair one half is mirrored, of everything else nothing.
    laid = Counter((one.piece, one.size, one.mirrored) for one in placements(batch))
    on_lays: Counter[tuple[str, str, bool]] = Counter()
    for piece, (count, _) in case.pieces.items():
        mirrored = count // 2 if piece in case.pairs else 0
        for size, garments in (("S", 2), ("L", 1)):
            on_lays += Counter({(piece, size, True): garments * mirrored})
            on_lays += Counter({(piece, size, False): garments * (count - mirrored)})
    assert laid == on_lays

    areas = {need.cloth.fabric: need.area_mm2 for need in read.needs.cloths}
    del areas["jersey"]
    assert areas == pytest.approx(
        {CLOTHS[role]: 2 * small + large for role, (small, large) in case.areas_mm2.items()}
    )
    check_notions(read, case)


def check_notions(read: PlannedBatch, case: Case) -> None:
    """Thread along the seams, elastic along both shoulders, a label each."""
    needs = {need.key: need for need in read.needs.notions}
    small, large = case.thread_mm()
    thread = needs[NotionKey("overlock thread", "ink")]
    assert thread.need == pytest.approx((2 * small + large) / 1000)
    assert thread.least_packs == 3  # 504 and 406 run from three cones
    # S: 120 + 2 × 20, four of them; L: 130 + 2 × 20, two of them
    cuts = [(cut.seam, cut.size, cut.length_mm, cut.count) for cut in read.needs.cut_lengths]
    assert cuts == [("shoulder", "S", 160.0, 4), ("shoulder", "L", 170.0, 2)]
    assert needs[NotionKey("clear elastic 6 mm")].need == pytest.approx(0.98)
    assert needs[NotionKey("size label")].need == 3


def test_each_garment_of_the_batch_keeps_its_options(maker_client, style):
    case = BY_NAME["pieces of many details at once"]
    batch = make_planned_batch(enter(maker_client, case.chosen))
    held = LayGarment.objects.filter(lay_cloth__lay__batch=batch)
    assert held.count() == 2  # S and L on one lay of jersey
    for garment in held:
        assert {option.detail.name: option.name for option in garment.options.all()} == case.chosen
    assert {lay.cloths.get().fabric_colour.fabric.name for lay in batch.lays.all()} == {"jersey"}


def test_a_twist_front_is_one_piece_and_its_mirror_image(maker_client, style):
    batch = make_planned_batch(enter(maker_client, BY_NAME["twist front"].chosen))
    fronts = [one for one in placements(batch) if one.piece == "twist front" and one.size == "L"]
    assert sorted(one.mirrored for one in fronts) == [False, True]
    drawn, mirrored = sorted(fronts, key=lambda one: one.mirrored)
    # The side is a straight edge along the grain: at the low y of the drawn piece (or, were it turned end for end,
    # at the high one, with the hem at the other end). The hem corner beside it is square, the other one is sharp.
    assert drawn.rotation_deg == mirrored.rotation_deg == 0
    assert hem_reaches(drawn) == "high y"
    assert hem_reaches(mirrored) == "low y"


def hem_reaches(placed: Placement) -> str:
    """To which side of its neck end a front is wider at the hem, which lies at low x where it is not turned."""
    low_x = min(x for x, _ in placed.outline)
    high_x = max(x for x, _ in placed.outline)
    hem = [y for x, y in placed.outline if x < low_x + 1]
    neck = [y for x, y in placed.outline if x > high_x - 1]
    # Slant: 5 in 12 along the whole cut length of 630 + 20 + 7 mm.
    slant = 5 / 12 * 657
    if max(hem) - max(neck) == pytest.approx(slant, abs=0.01):
        assert min(hem) == pytest.approx(min(neck), abs=0.01)
        return "high y"
    assert min(neck) - min(hem) == pytest.approx(slant, abs=0.01)
    assert max(hem) == pytest.approx(max(neck), abs=0.01)
    return "low y"


def test_a_tie_collar_lies_along_the_cloth_which_is_narrower_than_it_is_long(maker_client, style):
    batch = make_planned_batch(enter(maker_client, BY_NAME["tie collar"].chosen))
    ties = [one for one in placements(batch) if one.piece == "tie collar"]
    sizes = {}
    for tie in ties:
        xs, ys = zip(*tie.outline, strict=True)
        sizes[tie.size] = (max(xs) - min(xs), max(ys) - min(ys))
    # 550 + 480 + 550 + 2 × 7 (in L 520), 2 × 30 + 2 × 7
    assert sizes["S"] == pytest.approx((1594, 74))
    assert sizes["L"] == pytest.approx((1634, 74))
    lay = batch.lays.get()
    assert lay.lay_width_mm == 1470
    assert lay.marker.length_mm >= 1634


def test_a_tie_collar_across_the_cloth_is_refused_by_name_and_figures(maker_client):
    make_swap_top(tie_lies_across=True)
    order = enter(maker_client, BY_NAME["tie collar"].chosen)
    batch = create_batch(None, TODAY)
    rows = LineQuantity.objects.filter(line__order=order)
    assert not fill_batch(batch, {row.pk: row.quantity for row in rows}).problems
    planned = plan_batch(batch, NOON)
    assert planned.problems == (
        "tie collar of style 160 is too wide for jersey, ink: 159.4\u2009cm in S and 163.4\u2009cm in L, but the "
        "cloth lies only "
        "147\u2009cm wide. Take a cloth that lies at least 163.4\u2009cm wide, leave out S and L, or change the piece "
        "(narrower, "
        "or in two with a seam).",
    )
    batch.refresh_from_db()
    assert batch.state == Batch.State.GATHERING
    assert not batch.lays.exists()


def test_a_centre_front_seam_is_sewn_with_zigzag_and_pressed_open_before_the_shoulders(maker_client, style):
    batch = make_planned_batch(enter(maker_client, BY_NAME["centre-front seam"].chosen))
    steps = [(one.name, one.machine, one.stitch_type) for one in batch.operations.all()]
    assert steps[:3] == [
        ("close the centre front", "sewing machine", "304"),
        ("press the centre front open", "iron", ""),
        ("join shoulders", "overlock", "504"),
    ]
    assert batch.operations.get(machine="iron").setup_note == "over a seam roll, no steam"
    assert not batch.operations.filter(name__in=["set the front yoke", "turn the twist edges"]).exists()


def test_gathering_is_sewn_along_the_longer_edge_with_its_setting(maker_client, style):
    batch = make_planned_batch(enter(maker_client, BY_NAME["gathers into a yoke"].chosen))
    steps = list(batch.operations.filter(name__contains="front").values_list("name", "setup_note"))
    assert steps == [
        ("gather the front", "differential feed 2 : 1, longest stitch"),
        ("set the front yoke", "gathers below, yoke up"),
    ]
    fronts = PieceOutline.objects.filter(piece__name="gathered front").order_by("size__position")
    for row, width in zip(fronts, (720, 750, 780), strict=True):
        notches = marks_from_json(row.marks).notches
        # Gathered between notches 60 from either side seam: what lies between them is left over for the yoke.
        assert notches[1].y - notches[0].y == width - 120
