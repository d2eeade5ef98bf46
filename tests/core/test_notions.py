import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.notions import bands, elastic, thread
from planner.core.notions.along import (
    SeamError,
    seam_length_mm,
    sewn_edge_mm,
    sewn_seams,
)
from planner.core.notions.lines import collect_uses
from planner.core.outline import rectangle
from planner.core.spec import EdgeRef, NotionKey, NotionUse, PieceSpec, SeamSpec, make_options
from tests.core.makers import ELASTIC, LABEL, THREAD, make_shop, make_tee, wanted

RIB_NECK = make_options({"neck": "rib band"})


def test_one_of_two_shoulders_is_the_length_of_the_seam() -> None:
    tee = make_tee()
    shoulder, side, *_ = tee.seams
    assert seam_length_mm(shoulder, tee, RIB_NECK, "M") == 150.0
    assert seam_length_mm(side, tee, RIB_NECK, "M") == 700.0


def test_a_seam_is_measured_where_it_is_sewn() -> None:
    # 10 mm all round, 25 mm at the hem. A side of 700 mm is sewn from the hem line to the shoulder line:
    # 700 − 25 − 10; a shoulder of 150 mm runs on into the neck and loses 10 mm at the side: 140.
    tee = make_tee()
    allowed = {"allowance_mm": 10.0, "edge_allowances": {"hem": 25.0}}
    tee = replace(tee, pieces=tuple(replace(piece, **allowed) for piece in tee.pieces))
    shoulder, side, *_ = tee.seams
    assert seam_length_mm(shoulder, tee, RIB_NECK, "M") == pytest.approx(140.0)
    assert seam_length_mm(side, tee, RIB_NECK, "M") == pytest.approx(665.0)
    assert collect_uses([wanted(1)], make_shop(tee)).amounts[ELASTIC] == pytest.approx(2 * (0.140 + 0.040))


def test_a_piece_narrower_than_its_allowances_is_measured_along_its_cut_line() -> None:
    tape = PieceSpec("tape", "body", 1, False, True, None, {"M": rectangle(300, 16)}, allowance_mm=10.0)
    assert sewn_edge_mm(tape.outlines["M"], "bottom", tape) == (300.0, False)
    wide = replace(tape, outlines={"M": rectangle(300, 21)})
    assert sewn_edge_mm(wide.outlines["M"], "bottom", wide) == (pytest.approx(280.0), True)


def test_a_seam_of_pieces_not_chosen_is_not_sewn() -> None:
    tee = make_tee()
    cuff = SeamSpec("cuff", None, (EdgeRef("self band", "seam"),), 2, "neck")
    tee = make_tee(seams=(*tee.seams, cuff))
    assert [seam.name for seam in sewn_seams(tee, RIB_NECK)] == ["shoulder", "side", "rib neck"]
    assert [s.name for s in sewn_seams(tee, make_options({"neck": "self band"}))] == [
        "shoulder",
        "side",
        "self neck",
        "cuff",
    ]


def test_the_first_edge_on_a_chosen_piece_gives_the_length() -> None:
    tee = make_tee()
    seam = SeamSpec("neck", None, (EdgeRef("self band", "join"), EdgeRef("front", "neck")), 1, "neck")
    assert seam_length_mm(seam, tee, RIB_NECK, "M") == 200.0


def test_a_seam_that_cannot_be_measured_says_why() -> None:
    tee = make_tee()
    with pytest.raises(SeamError, match="no edge “collar”"):
        seam_length_mm(SeamSpec("x", None, (EdgeRef("front", "collar"),), 1, "neck"), tee, RIB_NECK, "M")
    with pytest.raises(SeamError, match="has no edges"):
        seam_length_mm(SeamSpec("x", None, (), 1, "neck"), tee, RIB_NECK, "M")


def test_thread_of_one_garment_by_hand() -> None:
    # Shoulders 2 × 150 and sides 2 × 700 mm at 504 (14.0), the rib neck 400 mm at 301 (2.5).
    tee = make_tee()
    assert collect_uses([wanted(1)], make_shop(tee)).amounts[THREAD] * 1000 == pytest.approx(
        1700 * 14.0 + 400 * 2.5
    )


def test_uses_of_three_garments_by_hand() -> None:
    uses = collect_uses([wanted(3)], make_shop())
    assert uses.amounts[ELASTIC] == pytest.approx(3 * 2 * (0.150 + 2 * 0.020))
    assert uses.amounts[LABEL] == 3
    assert uses.amounts[THREAD] == pytest.approx(3 * 24.8)
    assert uses.threads_at_once[THREAD] == 3
    assert dict(uses.cuts) == {(ELASTIC, "1", "M", "shoulder", 190.0): 6}


def test_a_notion_along_a_seam_of_another_option_takes_nothing() -> None:
    tape = NotionUse(ELASTIC, None, "seam", seam="self neck")
    shop = make_shop(make_tee(notions=(tape,)))
    assert ELASTIC not in collect_uses([wanted(1)], shop).amounts
    assert collect_uses([wanted(1, neck="self band")], shop).amounts[ELASTIC] == pytest.approx(0.4)


def test_elastic_by_hand() -> None:
    assert elastic.elastic_length_mm(150.0, 1.0, 20.0) == 190.0
    assert elastic.elastic_length_mm(150.0, 0.9, 0.0) == 135.0
    with pytest.raises(ValueError, match="less than nothing"):
        elastic.elastic_length_mm(-1.0)


@pytest.mark.parametrize("number", sorted(thread.STITCH_TYPES))
def test_every_stitch_takes_more_thread_than_seam_for_each_thread(number: str) -> None:
    stitch = thread.STITCH_TYPES[number]
    # Each thread runs at least once along the seam.
    assert stitch.ratio >= stitch.threads
    assert stitch.number == number


def test_values_worked_out_from_geometry_stand_where_they_should() -> None:
    # 12 stitches an inch, T 1.5 mm: T/p = 0.7087; 514 W 5 mm: W/p = 2.362; 407, 607 W 6.4 mm: W/p = 3.024.
    assert thread.STITCH_TYPES["514"].ratio == pytest.approx(5 + 6 * 0.7087 + 4 * 2.362, abs=0.06)
    assert thread.STITCH_TYPES["407"].ratio == pytest.approx(9 + 6 * 0.7087 + 2 * 3.024, abs=0.06)
    assert thread.STITCH_TYPES["607"].ratio == pytest.approx(11 + 8 * 0.7087 + 4 * 3.024, abs=0.06)
    # More threads in the same family of stitch take more thread than the table gives their smaller kin.
    ratio = {number: stitch.ratio for number, stitch in thread.STITCH_TYPES.items()}
    assert ratio["504"] < ratio["514"] < ratio["516"]
    assert ratio["406"] < ratio["407"]
    assert ratio["605"] < ratio["607"]


def test_geometry_that_is_not_known_or_makes_no_sense() -> None:
    with pytest.raises(ValueError, match="measure it"):
        thread.ratio_from_geometry("304", stitch_length_mm=2, thickness_mm=1)
    with pytest.raises(ValueError, match="greater than zero"):
        thread.ratio_from_geometry("301", stitch_length_mm=0, thickness_mm=1)
    with pytest.raises(KeyError):
        thread.ratio_from_geometry("999", stitch_length_mm=2, thickness_mm=1)


@pytest.mark.parametrize(
    ("need_m", "cone_m", "positions", "cones"),
    [(0, 1000, 0, 0), (10, 1000, 4, 4), (4500, 1000, 4, 5), (5000, 1000, 4, 5), (5000.01, 1000, 4, 6)],
)
def test_cones(need_m: float, cone_m: float, positions: int, cones: int) -> None:
    assert thread.cones_needed(need_m, cone_m, positions) == cones


@given(
    opening=st.floats(300, 900),
    width=st.floats(5, 30),
    stretch=st.floats(0, 1),
    turn=st.floats(1, 2 * math.pi),
)
def test_the_widest_band_is_just_flat_and_just_stretched(
    opening: float, width: float, stretch: float, turn: float
) -> None:
    widest = bands.widest_band_mm(opening, stretch, turn)
    if widest > 0:
        band = opening - turn * widest
        assert bands.stretch_needed(opening, band) == pytest.approx(stretch, abs=1e-9)
    band = opening - turn * width
    kinds = {p.kind for p in bands.check_band(opening, band, width, stretch, turn_rad=turn)}
    assert "stands_up" not in kinds
    if abs(width - widest) > 1e-6:
        assert ("overstretched" in kinds) == (width > widest)


def test_what_speaks_against_a_band_is_said_with_its_figure() -> None:
    assert bands.check_band(600, 505, 15, 0.25, head_girth_mm=580) == ()
    wide = bands.check_band(600, 510, 25, 0.10, head_girth_mm=580)
    in_inches = bands.check_band(600, 510, 25, 0.10, head_girth_mm=580, display="imperial")
    assert [one.kind for one in in_inches] == [one.kind for one in wide]
    assert any("mm" in one.text for one in wide)
    assert not any("mm" in one.text for one in in_inches)
    assert [problem.kind for problem in wide] == ["stands_up", "overstretched", "head"]
    assert "561 mm through" in wide[2].text
    assert "580 mm" in wide[2].text
    assert "18 %" in wide[1].text


def test_keys_of_notions_sort_with_and_without_colour() -> None:
    assert sorted([NotionKey("b"), NotionKey("a", "ink"), NotionKey("a")])[0] == NotionKey("a")
