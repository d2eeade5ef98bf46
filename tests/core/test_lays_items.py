"""Which outlines are laid for which garments, open and in two layers."""

import importlib.util
from argparse import Namespace
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.core.lays.check import check_marker
from planner.core.lays.items import (
    NeedsOneLayer,
    NoModeAllowed,
    NotItsOwnMirrorImage,
    OddNumber,
    TooWideAsLaid,
    counts_step,
    is_own_mirror_image,
    items_for,
    job_for,
    lay_width_in,
    misfits,
    modes_for,
    why_not,
    width_taken_mm,
)
from planner.core.lays.model import LAYERS, LENGTHS
from planner.core.lays.rows import first_marker
from planner.core.lays.stored import marker_key
from planner.core.outline import make_outline
from tests.core.makers import JERSEY, make_cloth, make_shop, make_tee, same_in_all, wanted

MODES = ("open", "face_to_face", "folded")
TWO_LAYERS = ("face_to_face", "folded")
TEE = wanted(1).garment
SELF_NECK = wanted(1, neck="self band").garment
WIDE = make_cloth(usable_width_mm=1400, modes=MODES)
SLANTED = make_outline([(0, 0), (700, 0), (600, 400), (0, 400)])


def shop_with(style=None, cloth=WIDE):
    return make_shop(*([style] if style else []), jersey=cloth)


def tee_with(name, **changes):
    tee = make_tee()
    return replace(tee, pieces=tuple(replace(p, **changes) if p.name == name else p for p in tee.pieces))


def test_open_every_piece_is_drawn_as_ever():
    shop = shop_with()
    items = items_for([TEE, SELF_NECK], "open", WIDE, shop)
    body = ["front", "back", "sleeve", "sleeve"]
    assert [(i.garment_no, i.piece) for i in items] == [
        *((1, piece) for piece in body), *((2, piece) for piece in [*body, "self band"]),
    ]  # fmt: skip
    assert [i.mirrored for i in items[:4]] == [False, False, False, True]
    assert items[3].outline == items[2].outline.mirrored()
    assert all(i.twin_no == 0 for i in items)
    assert counts_step(TEE, WIDE, "open", shop) == 1


@pytest.mark.parametrize("mode", TWO_LAYERS)
def test_in_two_layers_a_pair_is_drawn_once_and_single_pieces_are_shared_by_two_garments(mode):
    shop = shop_with()
    assert counts_step(TEE, WIDE, mode, shop) == 2
    items = items_for([TEE, TEE], mode, WIDE, shop)
    drawn = [(i.piece, i.garment_no, i.twin_no, i.mirrored) for i in items]
    assert drawn == [
        ("front", 1, 2, False), ("back", 1, 2, False), ("sleeve", 1, 0, False), ("sleeve", 2, 0, False),
    ]  # fmt: skip


def test_only_pairs_can_be_cut_one_by_one_in_two_layers():
    tee = make_tee()
    halves = tuple(replace(p, count=2, pair=True) for p in tee.pieces if p.role == "body" and not p.option)
    shop = shop_with(replace(tee, pieces=halves))
    assert counts_step(TEE, WIDE, "folded", shop) == 1
    assert len(items_for([TEE] * 3, "folded", WIDE, shop)) == 9


def test_garments_cut_alike_from_the_cloth_are_twins_equal_ones_first():
    shop = shop_with(tee_with("self band", role="rib"))  # from the jersey all garments are cut alike then
    slots = [TEE, SELF_NECK, TEE, TEE, SELF_NECK, SELF_NECK]
    items = items_for(slots, "folded", WIDE, shop)
    assert {(i.garment_no, i.twin_no) for i in items if i.piece == "front"} == {(1, 3), (2, 4), (5, 6)}


def test_garments_with_different_pieces_are_no_twins():
    shop = shop_with()
    with pytest.raises(ValueError, match="in twos"):
        items_for([TEE, SELF_NECK], "folded", WIDE, shop)


def test_a_piece_that_is_not_its_own_mirror_image_is_cut_open_only():
    shop = shop_with(tee_with("front", outlines=same_in_all(SLANTED)))
    assert counts_step(TEE, WIDE, "folded", shop) is None
    (problem,) = misfits(TEE, WIDE, "folded", shop)
    assert isinstance(problem, NotItsOwnMirrorImage)
    assert "front of style 1 in size M is not the same to left and right" in problem.text
    assert modes_for(TEE, WIDE, shop) == {"open": 1}
    # As a pair it has its mirror image beside it.
    assert counts_step(
        TEE, WIDE, "folded", shop_with(tee_with("front", outlines=same_in_all(SLANTED), count=2, pair=True))
    )


@pytest.mark.parametrize(
    ("points", "own"),
    [
        ([(0, 0), (500, 100), (500, 300), (0, 400)], True),
        # The same line with more points on one side, and one of them 0.3 mm off.
        ([(0, 0), (250, 50.3), (500, 100), (500, 300), (0, 400)], True),
        ([(0, 0), (250, 52), (500, 100), (500, 300), (0, 400)], False),
        ([(0, 0), (500, 0), (400, 300), (0, 300)], False),
    ],
)  # fmt: skip
def test_mirror_images_are_told_by_the_line_not_by_its_points(points, own):
    assert is_own_mirror_image(make_outline(points)) is own


def test_a_piece_alike_at_both_ends_comes_out_turned_which_some_cloth_allows():
    leaning = make_outline([(100, 0), (600, 0), (700, 300), (0, 300)])
    assert not is_own_mirror_image(make_outline([(0, 0), (600, 0), (700, 300), (0, 300)]), may_turn=True)
    upright = make_outline([(y, x) for x, y in leaning.points])  # the same to left and right
    assert is_own_mirror_image(upright)
    assert not is_own_mirror_image(leaning)
    assert is_own_mirror_image(leaning, may_turn=True)
    shop = shop_with(tee_with("front", outlines=same_in_all(leaning)))
    assert counts_step(TEE, WIDE, "folded", shop) == 2
    assert counts_step(TEE, replace(WIDE, one_way=True), "folded", shop) is None
    upright_only = shop_with(tee_with("front", outlines=same_in_all(leaning), may_turn=False))
    assert counts_step(TEE, WIDE, "folded", upright_only) is None


def test_folded_cloth_lies_half_as_wide_after_washing():
    cloth = make_cloth(
        usable_width_mm=1400, shrinkage_handling="wash_first", shrinkage_width=0.1, is_tube=True
    )
    assert lay_width_in(cloth, "folded") == pytest.approx(630)
    assert lay_width_in(cloth, "face_to_face") == lay_width_in(cloth, "open") == pytest.approx(1260)


@pytest.mark.parametrize("mode", ["open", "face_to_face", "folded"])
def test_a_lay_takes_the_whole_width_of_its_cloth_however_it_lies(mode):
    cloth = make_cloth(usable_width_mm=1400, shrinkage_handling="wash_first", shrinkage_width=0.1)
    assert width_taken_mm(lay_width_in(cloth, mode), mode) == pytest.approx(1260)


def test_a_piece_wider_than_half_the_cloth_is_told_that_it_lies_folded():
    cloth = make_cloth(usable_width_mm=980, modes=("folded",))
    problem, other = why_not(TEE, 2, cloth, shop_with(cloth=cloth))
    assert isinstance(problem, TooWideAsLaid)
    assert isinstance(other, TooWideAsLaid)
    assert (problem.piece, other.piece) == ("front", "back")
    assert problem.text == (
        "front of style 1 in size M is 50\u2009cm wide, but jersey ink lies folded, so only 49\u2009cm wide"
    )


def test_an_odd_number_from_a_tube_is_told_so():
    tube = make_cloth(modes=("folded",), is_tube=True)
    shop = shop_with(cloth=tube)
    (problem,) = why_not(TEE, 3, tube, shop)
    assert isinstance(problem, OddNumber)
    assert (
        "3 of style 1 in size M are wanted, but jersey ink laid as a tube is cut in two layers"
        in problem.text
    )
    assert why_not(TEE, 4, tube, shop) == ()
    assert why_not(TEE, 3, replace(tube, modes=("folded", "open")), shop) == ()


def test_a_cloth_that_may_be_laid_in_no_way_says_so():
    cloth = make_cloth(modes=())
    assert isinstance(why_not(TEE, 1, cloth, shop_with(cloth=cloth))[0], NoModeAllowed)


def test_pieces_that_lie_beside_each_other_come_from_one_layer():
    tee = make_tee()
    body = {"front", "back"}
    beside = replace(
        tee, pieces=tuple(replace(p, beside="body" if p.name in body else "") for p in tee.pieces)
    )
    # Single pieces shared by two garments do: one garment's from the upper layer, the other's from the lower.
    shading = replace(WIDE, shades=True)
    assert counts_step(TEE, shading, "folded", shop_with(beside)) is None  # 2 × 500 + 2 mm on 700
    assert counts_step(TEE, replace(shading, usable_width_mm=2100), "folded", shop_with(beside)) == 2
    body.add("sleeve")
    beside = replace(
        tee, pieces=tuple(replace(p, beside="body" if p.name in body else "") for p in tee.pieces)
    )
    (problem,) = misfits(TEE, shading, "folded", shop_with(beside))
    assert isinstance(problem, NeedsOneLayer)
    # A pair cut together with nothing else is just that in two layers.
    assert counts_step(TEE, shading, "folded", shop_with(tee_with("sleeve", beside="sleeves"))) == 2


def test_a_block_wider_than_the_cloth_names_its_pieces():
    tee = make_tee()
    beside = replace(
        tee, pieces=tuple(replace(p, beside="b" if p.role == "body" else "") for p in tee.pieces)
    )
    (problem,) = misfits(TEE, replace(WIDE, shades=True), "open", shop_with(beside))
    assert isinstance(problem, TooWideAsLaid)
    assert "front, back, sleeve in size M must lie side by side, which takes 180" in problem.text


def test_pieces_lie_side_by_side_only_on_cloth_that_shades():
    tee = make_tee()
    marked = replace(
        tee, pieces=tuple(replace(p, beside="b" if p.role == "body" else "") for p in tee.pieces)
    )
    shop, plain = shop_with(marked), shop_with(tee)
    assert misfits(TEE, WIDE, "open", shop) == misfits(TEE, WIDE, "folded", shop) == ()
    wide = replace(WIDE, usable_width_mm=2500, shades=True)

    def key(cloth, of):
        return marker_key(job_for([TEE], "open", cloth, of))

    # What does not bind asks the same question as ever, so it is not nested anew.
    assert key(replace(wide, shades=False), shop) == key(wide, plain) != key(wide, shop)


def test_a_pair_cut_together_is_so_on_any_cloth():
    shop = shop_with(tee_with("sleeve", beside="sleeve"))
    items = job_for([TEE], "open", WIDE, shop).items
    assert {item.piece for item in items if item.beside} == {"sleeve"}


CHECKER = Path(__file__).parents[3] / "shared" / "tools" / "check_plan.py"


@pytest.fixture(scope="module")
def checker():
    if not CHECKER.is_file():
        pytest.skip("the independent plan checker does not lie beside the repository")
    spec = importlib.util.spec_from_file_location("check_plan", CHECKER)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@settings(max_examples=25, deadline=None)
@given(
    mode=st.sampled_from(MODES),
    spreads=st.integers(1, 3),
    one_way=st.booleans(),
    counts=st.lists(st.integers(1, 2), min_size=1, max_size=3),
    necks=st.lists(st.sampled_from(["rib band", "self band"]), min_size=3, max_size=3),
)
def test_every_mode_cuts_what_the_demand_asks_for(checker, mode, spreads, one_way, counts, necks):
    """Counted by a program that shares no code with this one."""
    cloth = replace(WIDE, one_way=one_way)
    shop = shop_with(cloth=cloth)
    garments = {
        wanted(1, size, neck).garment: 2 * n
        for n, size, neck in zip(counts, ("S", "M", "L"), necks, strict=False)
    }
    slots = [g for g, n in garments.items() for _ in range(n)]
    job = job_for(slots, mode, cloth, shop)
    marker = first_marker(job)
    assert check_marker(job, marker.placements) == []
    row = {
        g: {"style": g.style, "options": dict(g.options), "colourway": g.colourway, "size": g.size}
        for g in garments
    }
    counted = Counter()
    for g, n in garments.items():
        for piece in shop.styles[g.style].pieces_for(g.options):
            if piece.role == "body":
                counted[piece.name, g.size] += piece.count * n * spreads
    lay_m = spreads * LENGTHS[mode] * marker.length_mm / 1000
    plan = {
        "schema": "notchbook-plan/1",
        "demand": [{**row[g], "quantity": n * spreads} for g, n in garments.items()],
        "cloths": [
            {
                "fabric": JERSEY.fabric, "colour": JERSEY.colour, "one_way": one_way,
                "usable_width_mm": cloth.usable_width_mm,
                "lays": [{
                    "section": 1, "mode": mode, "spreads": spreads, "lay_width_mm": job.lay_width_mm,
                    "marker_length_mm": marker.length_mm, "end_allowance_mm": 0.0, "efficiency": marker.efficiency,
                    "garments": [{**row[g], "per_marker": n} for g, n in garments.items()],
                    "placements": [
                        {"style": p.style, "piece": p.piece, "size": p.size, "garment": p.garment_no,
                         "mirrored": p.mirrored, "rotation_deg": p.rotation_deg, "outline": p.outline}
                        for p in marker.placements
                    ],
                }],
                "lay_m": lay_m, "need_m": lay_m, "in_stock_m": 0.0, "to_buy_m": lay_m,
            }
        ],
        "cutting_counts": [
            {"style": "1", "piece": piece, "fabric": JERSEY.fabric, "colour": JERSEY.colour, "size": size, "count": n}
            for (piece, size), n in counted.items()
        ],
    }  # fmt: skip
    faults, _ = checker.check(plan, Namespace(piece_gap=1.9, tolerance=0.1))
    assert faults == []
    assert sum(LAYERS[mode] for _ in marker.placements) * spreads == sum(counted.values())
