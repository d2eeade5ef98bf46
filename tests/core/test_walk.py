from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fixtures.drafting.bodies import SIZES as ALL_SIZES
from fixtures.drafting.styles import STYLES
from planner.core.edge_changes import renamed
from planner.core.outline import Outline, rectangle
from planner.core.spec import EdgeRef, Option, PieceSpec, SeamSpec, StyleSpec, make_options
from planner.core.walk import LEAST_TOLERANCE_MM, TOLERANCES, SizeWalk, walk_seam, walk_seams
from tests.core.demo_drafts import cut_of
from tests.core.makers import sentences

SIZES = ("S", "M", "L")


def strip(length_mm: float, edge: str, *, height_mm: float = 100.0, far: str = "far") -> Outline:
    """A rectangle whose lower edge has the given name and, as it is cut, this length."""
    return rectangle(length_mm, height_mm, (edge, "end", far, "end"))


def piece(name: str, lengths: dict[str, float], edge: str, **changes: object) -> PieceSpec:
    outlines = {size: strip(length, edge) for size, length in lengths.items()}
    plain = PieceSpec(name, "body", 1, pair=False, may_turn=True, option=None, outlines=outlines)
    return replace(plain, **changes)


def style(*pieces: PieceSpec, seams: tuple[SeamSpec, ...], **changes: object) -> StyleSpec:
    plain = StyleSpec("1", "plain", SIZES, "M", details={}, pieces=pieces, seams=seams)
    return replace(plain, **changes)


def seam(*edges: EdgeRef, ratio: float = 1.0, fullness: str = "", option: Option | None = None) -> SeamSpec:
    return SeamSpec("set the sleeves", option, edges, 2, "sew", ratio, fullness)  # type: ignore[arg-type]


FRONT = piece("front", {"S": 200, "M": 210, "L": 220}, "armhole")
BACK = piece("back", {"S": 210, "M": 220, "L": 230}, "armhole")
SLEEVE = piece("sleeve", {"S": 422, "M": 430, "L": 481}, "sleeve head")
ARMHOLE = (EdgeRef("front", "armhole"), EdgeRef("back", "armhole"), EdgeRef("sleeve", "sleeve head", 2))


def test_a_sleeve_head_is_held_against_both_armholes():
    (walk,) = walk_seams(style(FRONT, BACK, SLEEVE, seams=(seam(*ARMHOLE),)))
    assert [(size.side1_mm, size.side2_mm) for size in walk.sizes] == [(410, 422), (430, 430), (450, 481)]
    assert [size.difference_mm for size in walk.sizes] == [12, 0, 31]
    assert [size.ok for size in walk.sizes] == [False, True, False]
    assert walk.sizes[2].ratio_found == pytest.approx(481 / 450)
    assert walk.sentence() == "sleeve head is 31 mm longer than the armhole in L, 12 mm in S"
    assert sentences([walk]) == [
        "set the sleeves: sleeve head is 31 mm longer than the armhole in L, 12 mm in S"
    ]


def test_longer_in_one_size_and_shorter_in_another():
    sleeve = replace(
        SLEEVE, outlines={s: strip(n, "sleeve head") for s, n in zip(SIZES, (398, 430, 470), strict=True)}
    )
    (walk,) = walk_seams(style(FRONT, BACK, sleeve, seams=(seam(*ARMHOLE),)))
    assert walk.sentence() == (
        "sleeve head is 20 mm longer than the armhole in L, 12 mm shorter than the armhole in S"
    )
    even = replace(
        SLEEVE, outlines={s: strip(n, "sleeve head") for s, n in zip(SIZES, (420, 440, 460), strict=True)}
    )
    (walk,) = walk_seams(style(FRONT, BACK, even, seams=(seam(*ARMHOLE),)))
    assert walk.sentence() == "sleeve head is 10 mm longer than the armhole in every size"


def test_nothing_is_said_where_all_fits():
    fits = replace(
        SLEEVE, outlines={s: strip(n, "sleeve head") for s, n in zip(SIZES, (413, 427, 454), strict=True)}
    )
    walks = walk_seams(style(FRONT, BACK, fits, seams=(seam(*ARMHOLE),)))
    assert walks[0].ok
    assert sentences(walks) == []


@pytest.mark.parametrize(
    ("side1", "ratio", "fullness", "side2", "fits"),
    [
        (200, 1.0, "", 203, True),  # 3 mm always
        (200, 1.0, "", 203.5, False),
        (1000, 1.0, "", 1009, True),  # 1 %
        (1000, 1.0, "", 989, False),
        (400, 1.5, "gathered", 625, True),  # 5 % of 600 is 30
        (400, 1.5, "gathered", 635, False),
        (600, 0.85, "stretched", 500, True),  # 3 % of 510 is 15
        (600, 0.85, "stretched", 600, False),
        (450, 1.03, "eased", 470, True),  # 2 % of 463.5 is 9
        (450, 1.03, "eased", 450, False),
        (300, 2.0, "pleated", 590, True),  # 2 % of 600 is 12
        (300, 2.0, "pleated", 585, False),
    ],
)
def test_tolerances(side1, ratio, fullness, side2, fits):
    walk = SizeWalk("M", side1, side2, ratio, TOLERANCES[fullness])
    assert walk.ok is fits


def test_gathers_are_held_against_their_ratio():
    yoke = piece("yoke", dict.fromkeys(SIZES, 400.0), "yoke edge")
    body = piece("body", {"S": 600, "M": 520, "L": 530}, "yoke edge")
    gathered = seam(
        EdgeRef("yoke", "yoke edge"), EdgeRef("body", "yoke edge", 2), ratio=1.5, fullness="gathered"
    )
    (walk,) = walk_seams(style(yoke, body, seams=(gathered,)))
    assert walk.sentence() == (
        "yoke edge of body is 1.30 times as long as the yoke edge of yoke in M, 1.32 in L; "
        "wanted is 1.5 times, gathered"
    )


def test_measured_on_the_sewing_line():
    """Side seams of 700 mm as cut: a hem of 20 and an upper seam of 7 mm leave 673; a hem of 30 leaves 663."""
    box = {"M": rectangle(700, 300, ("side", "top", "side", "hem"))}
    front = PieceSpec("front", "body", 1, False, True, None, box, allowance_mm=7, edge_allowances={"hem": 20})
    back = replace(front, name="back", edge_allowances={"hem": 30})
    sides = seam(EdgeRef("front", "side"), EdgeRef("back", "side", 2))
    (walk,) = walk_seams(style(front, back, seams=(sides,), sizes=("M",)))
    assert (walk.sizes[0].side1_mm, walk.sizes[0].side2_mm) == (673, 663)
    assert walk.sentence() == "side of back is 10 mm shorter than the side of front in M"
    tape = replace(front, name="tape", outlines={"M": rectangle(700, 10, ("side", "top", "side", "hem"))})
    narrow = seam(EdgeRef("front", "side"), EdgeRef("tape", "side", 2))
    (walk,) = walk_seams(style(front, tape, seams=(narrow,), sizes=("M",)))
    assert not walk.sizes[0].on_seam_lines
    assert walk.sizes[0].side2_mm == 700


def test_takes_counts_edges_that_meet_in_one_seam():
    # Two fronts with a neckline of 150 each and a back of 200 take a band of 425: 0.85 of 500.
    front = piece("front", dict.fromkeys(SIZES, 150.0), "neckline", count=2, pair=True)
    back = piece("back", dict.fromkeys(SIZES, 200.0), "neckline")
    band = piece("band", dict.fromkeys(SIZES, 425.0), "long edge")
    edges = (
        EdgeRef("front", "neckline", takes=2),
        EdgeRef("back", "neckline"),
        EdgeRef("band", "long edge", 2),
    )
    (walk,) = walk_seams(style(front, back, band, seams=(seam(*edges, ratio=0.85, fullness="stretched"),)))
    assert walk.ok
    assert {size.side1_mm for size in walk.sizes} == {500}


def test_several_edges_of_one_name_are_as_many_occurrences():
    front = piece("front", dict.fromkeys(SIZES, 150.0), "shoulder")
    twice = {size: renamed(shape, {2: "shoulder"}) for size, shape in front.outlines.items()}
    back = piece("back", dict.fromkeys(SIZES, 150.0), "shoulder")
    edges = (EdgeRef("front", "shoulder"), EdgeRef("back", "shoulder", 2))
    (walk,) = walk_seams(style(replace(front, outlines=twice), back, seams=(seam(*edges),)))
    assert walk.ok


def test_a_seam_with_one_side_is_walked_alone():
    (walk,) = walk_seams(style(FRONT, BACK, seams=(seam(*ARMHOLE[:2]),)))
    assert walk.is_alone
    assert walk.ok
    assert [size.side1_mm for size in walk.sizes] == [410, 430, 450]
    assert all(size.side2_mm is None and size.is_alone for size in walk.sizes)


def test_what_is_missing_is_said():
    short = replace(SLEEVE, outlines={"S": SLEEVE.outlines["S"], "M": strip(430, "head")})
    (walk,) = walk_seams(style(FRONT, BACK, short, seams=(seam(*ARMHOLE),)))
    assert [size.size for size in walk.sizes] == ["S"]
    assert not walk.ok
    assert walk.unmeasured == ("sleeve has no edge “sleeve head” in M", "sleeve has no outline in L")


def test_each_option_is_walked_with_its_own_pieces():
    short = replace(SLEEVE, name="short sleeve", option=("sleeve", "short"))
    long = replace(
        SLEEVE,
        name="long sleeve",
        option=("sleeve", "long"),
        outlines={s: strip(n, "sleeve head") for s, n in zip(SIZES, (410, 430, 450), strict=True)},
    )
    edges = (
        *ARMHOLE[:2],
        EdgeRef("short sleeve", "sleeve head", 2),
        EdgeRef("long sleeve", "sleeve head", 2),
    )
    both = style(FRONT, BACK, short, long, seams=(seam(*edges),), details={"sleeve": ("short", "long")})
    walks = walk_seams(both)
    assert [walk.options for walk in walks] == [(("sleeve", "short"),), (("sleeve", "long"),)]
    assert [walk.ok for walk in walks] == [False, True]
    assert sentences(walks) == [
        "set the sleeves (sleeve: short): sleeve head is 31 mm longer than the armhole in L, 12 mm in S"
    ]
    own = replace(both, seams=(seam(*edges, option=("sleeve", "long")),))
    assert [walk.options for walk in walk_seams(own)] == [(("sleeve", "long"),)]
    chosen = walk_seam(both.seams[0], both, make_options({"sleeve": "long"}))
    assert chosen == walks[1]


def test_options_that_exclude_each_other_are_not_walked_together():
    one = replace(FRONT, option=("front", "plain"))
    other = replace(SLEEVE, option=("sleeve", "short"))
    spec = style(
        one,
        BACK,
        other,
        seams=(seam(*ARMHOLE),),
        details={"front": ("plain", "split"), "sleeve": ("short", "none")},
        exclusions=((("front", "plain"), ("sleeve", "short")),),
    )
    assert all(len(walk.options) <= 1 for walk in walk_seams(spec))


def test_seams_of_the_demo_fit_where_they_were_drafted_to_fit():
    """Sleeve heads are drafted 0.5 mm longer than their armholes, sides and shoulders equally long."""
    tee = STYLES[0]
    allowances = {"hem": 20.0, "sleeve hem": 20.0}
    pieces = tuple(
        PieceSpec(
            row.name,
            row.role,
            row.count,
            row.pair,
            True,
            None,
            {s: cut_of(tee, s)[row.name] for s in ALL_SIZES},
            allowance_mm=7,
            edge_allowances=allowances,
        )
        for row in tee.pieces
    )
    seams = (
        SeamSpec("shoulder", None, (EdgeRef("front", "shoulder"), EdgeRef("back", "shoulder", 2)), 2, ""),
        SeamSpec("side", None, (EdgeRef("front", "side"), EdgeRef("back", "side", 2)), 2, ""),
        SeamSpec(
            "armhole",
            None,
            (
                EdgeRef("front", "armhole"),
                EdgeRef("back", "armhole"),
                EdgeRef("short sleeve", "sleeve head", 2),
            ),
            2,
            "",
        ),
    )
    walks = walk_seams(style(*pieces, seams=seams, sizes=ALL_SIZES))
    assert sentences(walks) == []
    assert max(abs(size.difference_mm - 0.5) for size in walks[2].sizes) < 0.05
    assert max(abs(size.difference_mm) for walk in walks[:2] for size in walk.sizes) < 0.01


@given(st.floats(20, 3000), st.floats(20, 3000), st.floats(0.5, 3.0), st.sampled_from(sorted(TOLERANCES)))
def test_a_misfit_is_always_said_and_a_fit_never(side1, side2, ratio, fullness):
    edges = (EdgeRef("one", "edge"), EdgeRef("two", "edge", 2))
    spec = style(
        piece("one", {"M": side1}, "edge"),
        piece("two", {"M": side2}, "edge"),
        seams=(seam(*edges, ratio=ratio, fullness=fullness),),
        sizes=("M",),
    )
    (walk,) = walk_seams(spec)
    off = abs(side2 - ratio * side1)
    allowed = max(LEAST_TOLERANCE_MM, TOLERANCES[fullness] * ratio * side1)
    assert bool(walk.sentence()) is (off > allowed)
