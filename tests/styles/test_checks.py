"""The rules over a style, each with a style that breaks it and one that does not."""

from dataclasses import replace

import pytest

from planner.core.outline import rectangle
from planner.core.spec import (
    ClothKey,
    ColourwaySpec,
    EdgeRef,
    OperationSpec,
    PieceSpec,
    SeamSpec,
    StyleSpec,
)
from planner.styles import checks

SIDES = ("hem", "side", "top", "other side")


def piece(name: str = "front", width_mm: float = 500, *, sizes: str = "S M", **fields) -> PieceSpec:
    """A rectangle 600 mm along the grain; its edge "hem" runs along the grain too (y = 0), "side" across."""
    outlines = {size: rectangle(600, width_mm, SIDES) for size in sizes.split()}
    usual = {"role": "body", "count": 1, "pair": False, "may_turn": True, "option": None}
    return PieceSpec(name=name, outlines=outlines, **{**usual, **fields})


def style(*pieces: PieceSpec, **fields) -> StyleSpec:
    """A style in S and M with one colourway that fills the role body."""
    usual = {
        "sizes": ("S", "M"),
        "base_size": "M",
        "details": {},
        "colourways": {"ink": ColourwaySpec("ink", {"body": ClothKey("jersey", "ink")}, None)},
    }
    return StyleSpec(number="110", name="box top", pieces=pieces or (piece(),), **{**usual, **fields})


def test_a_whole_style_has_no_problems():
    details = {"neck": ("self band", "rib band")}
    bands = [piece(f"{option} of the neck", option=("neck", option)) for option in details["neck"]]
    spec = style(piece(), piece("sleeve", count=2, pair=True), *bands, details=details)
    assert checks.stopping(spec) + checks.slips(spec) == []


@pytest.mark.parametrize(
    ("spec", "problem"),
    [
        (style(piece(sizes="S")), checks.NoOutline("front", "M")),
        (style(piece(count=3, pair=True)), checks.OddPair("front", 3)),
        (style(piece(role="rib")), checks.RoleWithoutCloth("ink", "rib")),
        (style(colourways={}), checks.NoColourway()),
        (style(details={"neck": ("self band",)}), checks.TooFewOptions("neck", 1)),
        (style(details={"neck": ()}), checks.TooFewOptions("neck", 0)),
        (style(details={"neck": ("self band", " ")}), checks.NamelessOption("neck")),
        (style(base_size="XL"), checks.NoSizes("XL")),
        (replace(style(), pieces=()), checks.NoPieces()),
    ],
)
def test_what_keeps_a_style_from_being_planned(spec, problem):
    assert checks.stopping(spec) == [problem]
    assert checks.stopping(spec)
    assert str(problem)


def test_a_single_piece_may_be_cut_three_times():
    assert checks.stopping(style(piece(count=3))) == []


def seam(*edges: tuple[str, str], name: str = "side") -> SeamSpec:
    return SeamSpec(
        name, None, tuple(EdgeRef(*edge, side=min(i, 2)) for i, edge in enumerate(edges, 1)), 1, "close"
    )


def test_a_seam_of_an_edge_that_is_not_there_is_a_slip():
    spec = style(piece(), seams=(seam(("front", "armhole")), SeamSpec("loose", None, (), 1, "close")))
    assert checks.slips(spec) == [
        checks.NoSuchEdge("side", "front", "armhole", ("S", "M")),
        checks.SeamWithoutEdges("loose"),
    ]
    assert not checks.stopping(spec)


@pytest.mark.parametrize(
    ("widths", "said"),
    [
        ((500, 503), []),  # 3 mm, or one in a hundred, is what pins and a presser foot take up
        ((500, 516), ["side of two is 16 mm longer than the side of one in every size"]),
        ((500, 200, 300), []),  # a sleeve head as long as front and back armhole together
        ((500, 503, 501), []),  # three layers of one length
        (
            (500, 200, 340),
            ["side of two and side of three is 40 mm longer than the side of one in every size"],
        ),
    ],
)
def test_sides_that_do_not_fit_each_other(widths, said):
    names = ["one", "two", "three"][: len(widths)]
    pieces = [piece(name, width) for name, width in zip(names, widths, strict=True)]
    spec = style(*pieces, seams=(seam(*((name, "side") for name in names)),))
    assert checks.slips(spec) == [checks.UnevenSeam("side", what) for what in said]
    inches = [what.replace("16 mm", "5/8 in").replace("40 mm", "1 9/16 in") for what in said]
    assert [" ".join(str(slip).split()) for slip in checks.slips(spec, "imperial")] == [
        f"side: {w}" for w in inches
    ]


def test_only_the_second_side_is_taken_for_layers():
    # The edges of the first side follow each other and make one line, however alike they are.
    pieces = [piece(name, 500) for name in ("one", "two", "three")]
    edges = (EdgeRef("one", "side", 1), EdgeRef("two", "side", 1), EdgeRef("three", "side", 2))
    spec = style(*pieces, seams=(SeamSpec("side", None, edges, 1, "close"),))
    assert [str(slip) for slip in checks.slips(spec)] == [
        "side: side of three is 500 mm shorter than the side of one and side of two in every size"
    ]


def test_layers_are_those_of_one_choice_of_options():
    # A tape belongs to one option only; the layers of the other are not held against it.
    stayed, free = ("stay", "taped"), ("stay", "wide")
    pieces = (piece("one"), piece("two"), piece("tape", option=stayed), piece("wide", 700, option=free))
    spec = style(
        *pieces,
        details={"stay": ("taped", "wide")},
        seams=(seam(("one", "side"), ("two", "side"), ("tape", "side"), ("wide", "side")),),
    )
    (slip,) = checks.slips(spec)
    assert "side of two and side of wide is 700 mm longer" in str(slip)


def test_sides_are_measured_where_they_are_sewn():
    # 500 and 520 mm at the cut line; with 20 mm at the hems of the second, 500 − 0 and 520 − 2 × 20 = 480 mm.
    wide = piece("two", 520)
    edges = {edge.name for edge in wide.outlines["M"].edges}
    deep = replace(wide, edge_allowances=dict.fromkeys(edges - {"side"}, 20.0))
    spec = style(piece("one", 500), deep, seams=(seam(("one", "side"), ("two", "side")),))
    assert [str(slip) for slip in checks.slips(spec)] == [
        "side: side of two is 20 mm shorter than the side of one in every size"
    ]


def test_gathers_are_held_against_their_ratio():
    gathered = replace(seam(("one", "side"), ("two", "side")), ratio=1.5, fullness="gathered")
    fits = style(piece("one", 400), piece("two", 610), seams=(gathered,))
    assert checks.slips(fits) == []  # 600 mm are wanted, and gathers may miss that by 5 %
    scant = style(piece("one", 400), piece("two", 500), seams=(gathered,))
    (slip,) = checks.slips(scant)
    assert "1.25 times as long" in str(slip)
    assert "wanted is 1.5 times, gathered" in str(slip)


def test_a_piece_narrower_than_its_allowances_is_a_slip():
    tape = piece("tape", 12, allowance_mm=7.0)
    spec = style(tape, seams=(seam(("tape", "hem")),))
    assert checks.slips(spec) == [checks.NoSewingLine("tape", ("S", "M"))]


def test_a_size_that_grows_out_of_line_is_a_slip():
    # 500, 520, 560, 580 mm: between M and L twice as much as between the others.
    outlines = {
        size: rectangle(600, width, SIDES) for size, width in zip("SMLX", (500, 520, 560, 580), strict=True)
    }
    spec = style(replace(piece(), outlines=outlines), sizes=tuple("SMLX"))
    slips = checks.slips(spec)
    assert slips
    assert all(isinstance(slip, checks.OddGrade) and slip.section == "outlines" for slip in slips)
    assert any("from M to L" in str(slip) for slip in slips)
    even = {size: rectangle(600, 500 + 20 * i, SIDES) for i, size in enumerate("SMLX")}
    assert checks.slips(replace(spec, pieces=(replace(piece(), outlines=even),))) == []
    del even["M"]  # the step from S to L is none
    assert checks.slips(replace(spec, pieces=(replace(piece(), outlines=even),))) == []
    # One slip for the one size, whichever edges tell it.
    assert [(slip.piece, slip.size) for slip in slips] == [("front", "L")]
    (said,) = checks.in_words(slips, spec.sizes)
    assert said[1] == (
        "front: side grows by 40 mm from M to L, but by about 20 mm between the sizes beside them, other side too"
    )
    # 40 mm are 1.57 in, 20 mm 0.79 in; to the sixteenth.
    (in_inches,) = checks.slips(spec, "imperial")
    assert " ".join(str(in_inches).split()) == (
        "front: side grows by 1 9/16 in from M to L, but by about 13/16 in between the sizes beside them, "
        "other side too"
    )


def test_a_band_is_shorter_than_its_opening_on_purpose():
    spec = style(
        piece(), piece("band", 300, is_band=True), seams=(seam(("band", "side"), ("front", "side")),)
    )
    assert checks.slips(spec) == []


@pytest.mark.parametrize(
    ("machine", "stitch", "problems"),
    [
        ("overlock", "504", []),
        ("sewing machine", "301", []),
        ("coverstitch", "406", []),
        ("iron", "", []),
        ("hand", "", []),
        ("overlock", "301", [checks.WrongMachine("close", "overlock", "301")]),
        ("sewing machine", "514", [checks.WrongMachine("close", "sewing machine", "514")]),
        ("iron", "504", [checks.WrongMachine("close", "iron", "504")]),
        ("overlock", "", [checks.NoStitchType("close")]),
    ],
)
def test_a_machine_makes_only_its_stitches(machine, stitch, problems):
    step = OperationSpec("close", None, 0, machine, stitch, 1.0)
    assert checks.slips(style(operations=(step,))) == problems


def test_every_machine_and_stitch_type_of_the_form_is_known_to_the_check():
    from planner.styles.models import Operation

    assert set(checks.STITCHES) == set(Operation.Machine.values)
    assert set().union(*checks.STITCHES.values()) == set(Operation.StitchType.values) - {""}


def test_missing_outlines_of_a_piece_are_said_in_one_sentence():
    spec = style(
        piece(sizes=""),
        piece("back", sizes="S"),
        piece("cuff", sizes="L"),
        sizes=("S", "M", "L"),
        base_size="M",
    )
    assert [text for _, text in checks.in_words(checks.stopping(spec), spec.sizes)] == [
        "no outline for front in any size",
        "no outline for back in M, L",
        "no outline for cuff in S, M",
    ]


@pytest.mark.parametrize(
    ("problems", "answer"),
    [
        ([], "No styles yet."),
        ([[]], "1 style, nothing missing."),
        ([[], [], []], "3 styles, nothing missing."),
        ([[], [checks.NoOutline("cuff", "XXL")]], "1 style lacks outlines in XXL."),
        (
            [[checks.NoOutline("cuff", "XL")], [checks.NoOutline("cuff", "XXL")]],
            "2 styles lack outlines in XL, XXL.",
        ),
        ([[], [checks.NoPieces()]], "1 of 2 styles is not ready to plan."),
    ],
)
def test_the_first_line_of_the_list(problems, answer):
    assert checks.answer(problems) == answer


def test_names_that_sound_like_a_cord():
    names = [
        "neck tie",
        "drawstring",
        "hood cord",
        "front",
        "elbow patch",
        "tier",
        "size label",
        "Ribbon bow",
    ]
    assert checks.cords(names) == ["neck tie", "drawstring", "hood cord", "Ribbon bow"]


# --- options ----------------------------------------------------------------------------------------------


def test_two_necks_in_every_garment_are_pointed_out_and_do_not_stop():
    spec = style(piece(), piece("self neck band"), piece("rib neck band"))
    (found,) = checks.slips(spec)
    assert found == checks.LikeAlternatives(("self neck band", "rib neck band"))
    assert str(found) == "self neck band and rib neck band both go into every garment: is each an option?"
    assert not checks.stopping(spec)
    details = {"neck": ("self band", "rib band")}
    bands = [piece(f"{o.removesuffix(' band')} neck band", option=("neck", o)) for o in details["neck"]]
    assert checks.slips(style(piece(), *bands, details=details)) == []


def test_three_of_one_place_are_told_together():
    spec = style(piece(), *(piece(f"{kind} collar") for kind in ("flat", "stand", "shawl")))
    assert [str(slip) for slip in checks.slips(spec)] == [
        "flat collar, stand collar and shawl collar all go into every garment: is each an option?"
    ]


def test_an_option_without_a_part_of_its_own_is_pointed_out():
    details = {
        "neck": ("self band", "binding"),
        "pocket": ("none", "patch"),
        "closing": ("open", "Without buttons"),
    }
    spec = style(
        piece(),
        piece("neck band", option=("neck", "self band")),
        details=details,
        operations=(OperationSpec("set the pocket", ("pocket", "patch"), 0, "sewing machine", "301", 1.0),),
    )
    (found,) = checks.slips(spec)
    assert found == checks.EmptyOption("neck", "binding")
    assert str(found) == (
        "binding (neck) has no piece, seam, operation or notion yet; if it adds nothing, call it none or plain"
    )
    assert found.section == "details"
    assert not checks.stopping(spec)


# --- how often a seam occurs ------------------------------------------------------------------------------


def _shoulders(times: int, *more: SeamSpec) -> StyleSpec:
    """A front and a back, each with two edges called shoulder."""
    twice = ("hem", "shoulder", "top", "shoulder")
    halves = [
        replace(piece(name), outlines={size: rectangle(600, 500, twice) for size in ("S", "M")})
        for name in ("front", "back")
    ]
    edges = (EdgeRef("front", "shoulder"), EdgeRef("back", "shoulder", 2))
    return style(*halves, seams=(SeamSpec("shoulder", None, edges, times, "join"), *more))


def test_a_seam_that_is_sewn_once_though_its_edges_occur_twice():
    (found,) = checks.slips(_shoulders(1))
    assert found == checks.MissedTimes("shoulder", "front", "shoulder", 2, 1)
    assert str(found) == "shoulder: the shoulder of front occurs twice, the seam once"
    assert not checks.stopping(_shoulders(1))
    assert checks.slips(_shoulders(2)) == []


def test_another_seam_of_the_same_edges_may_take_the_rest():
    edges = (EdgeRef("front", "shoulder"), EdgeRef("back", "shoulder", 2))
    assert checks.slips(_shoulders(1, SeamSpec("left shoulder", None, edges, 1, "join"))) == []
