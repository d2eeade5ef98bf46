"""Which pieces look like alternatives of one place, and which only sound alike."""

from dataclasses import replace

import pytest

from fixtures.drafting.styles import STYLES
from planner.core.alternatives import alternatives, grouped, option_words
from planner.core.outline import rectangle
from planner.core.spec import PieceSpec
from tests.core.test_propose_seams import demo


def piece(name: str, width_mm: float = 300, edge: str = "edge", **changes: object) -> PieceSpec:
    outlines = {"M": rectangle(width_mm, 100, (edge, "left", "far", "right"))}
    plain = PieceSpec(name, "body", 1, pair=False, may_turn=True, option=None, outlines=outlines)
    return replace(plain, **changes)


def pairs(*pieces: PieceSpec) -> list[tuple[str, str]]:
    return [(one.one, one.other) for one in alternatives(pieces)]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("self neck band", "rib neck band"), ("short sleeve", "long sleeve"), ("knee front", "midi front"),
        ("Self Neck-Band", "rib_neck_band"), ("sleeve", "gathered sleeve"), ("back yoke", "split back yoke"),
    ],
)  # fmt: skip
def test_names_that_end_alike_and_begin_differently(one: str, other: str) -> None:
    assert pairs(piece(one), piece(other)) == [(one, other)]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("front", "back"), ("front yoke", "back yoke"), ("left front", "right front"), ("hem band", "neck band"),
        ("upper collar", "under collar"), ("inner cuff", "outer cuff"), ("top sleeve", "under sleeve"),
        ("front neck facing", "back neck facing"), ("sleeve", "sleeve facing"), ("front band", "hem band"),
        ("front neck facing", "front armhole facing"), ("back neck tape", "shoulder tape"), ("panel 1", "panel 2"),
        ("wide tie", "narrow tie"), ("front lining", "front"), ("front", "front"), ("", ""), ("?", "!"),
    ],
)  # fmt: skip
def test_pieces_that_stand_beside_each_other(one: str, other: str) -> None:
    assert pairs(piece(one), piece(other)) == []


def test_different_edges_speak_against_a_name_that_only_has_a_word_more() -> None:
    assert pairs(piece("sleeve", edge="head"), piece("gathered sleeve", edge="yoke edge")) == []


def test_two_strips_that_each_go_round_the_whole_neckline() -> None:
    body = [piece(half, 240, "neckline") for half in ("front", "back")]
    band, binding = piece("rib band", 400, "neckline"), piece("bias binding", 450, "neckline")
    (found,) = alternatives([*body, band, binding])
    assert (found.one, found.other, found.why) == ("rib band", "bias binding", "each fits the whole neckline")
    # A tape along the back neck goes round less than half of it.
    assert alternatives([*body, band, piece("neck tape", 240, "neckline")]) == ()


def test_the_tee_whose_options_nobody_gave() -> None:
    assert pairs(*demo(STYLES[0], with_options=False).pieces) == [
        ("self neck band", "rib neck band"),
        ("short sleeve", "long sleeve"),
    ]


@pytest.mark.parametrize("rows", STYLES, ids=lambda rows: rows.number)
def test_the_demo_styles_have_none_in_every_garment(rows) -> None:
    assert pairs(*(one for one in demo(rows).pieces if one.option is None)) == []


def test_three_of_one_place_are_one_group() -> None:
    found = alternatives(
        [piece(f"{kind} collar") for kind in ("flat", "stand", "tie")] + [piece("long sleeve")]
    )
    assert grouped(found) == [("flat collar", "stand collar", "tie collar")]
    two = alternatives([piece(n) for n in ("self neck band", "short sleeve", "rib neck band", "long sleeve")])
    assert grouped(two) == [("self neck band", "rib neck band"), ("short sleeve", "long sleeve")]


@pytest.mark.parametrize(
    ("name", "detail", "option"),
    [
        ("self neck band", "neck", "self band"), ("rib neck band", "neck", "rib band"),
        ("long sleeve", "sleeve", "long"), ("sleeve", "sleeve", "plain"), ("midi front", "front", "midi"),
        ("split back yoke", "back", "split yoke"), ("", "detail", "plain"),
    ],
)  # fmt: skip
def test_what_a_name_suggests_to_call_the_option(name: str, detail: str, option: str) -> None:
    assert option_words(name) == (detail, option)
