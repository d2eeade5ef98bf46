"""Seams told from edges, held against how the demo styles are really sewn, and against cases worked out by hand."""

from dataclasses import replace
from itertools import product

import pytest

from fixtures.drafting.bodies import SIZES as ALL_SIZES
from fixtures.drafting.rows import StyleRows
from fixtures.drafting.styles import STYLES
from planner.core.outline import Edge, Outline, rectangle
from planner.core.propose_seams import ProposedSeam, option_of, propose_seams
from planner.core.spec import EdgeRef, Option, PieceSpec, SeamSpec, StyleSpec
from tests.core.demo_drafts import cut_of, drafts_of

SIZES = ("S", "M", "L")
#: Seams of the demo that no length or name of an edge tells of: decoration, and gathering before the seam.
NOT_TOLD = {"neck topstitching", "front band topstitching", "gathering"}


def option(written: str) -> Option | None:
    detail, _, name = written.partition(": ")
    return (detail, name) if name else None


def demo(rows: StyleRows, *, with_options: bool = True, sewn: bool = False) -> StyleSpec:
    """A demo style as it is drafted; sewn as it is in the demo, or without a seam."""
    drafts = drafts_of(rows, "M")
    pieces = tuple(
        PieceSpec(
            row.name,
            row.role,
            row.count,
            row.pair,
            may_turn=True,
            option=option(row.option) if with_options else None,
            outlines={size: cut_of(rows, size)[row.name] for size in ALL_SIZES},
            allowance_mm=7,
            edge_allowances={side.name: float(side.allowance_mm) for side in drafts[row.name].sides},
        )
        for row in rows.pieces
    )
    seams = tuple(
        SeamSpec(
            row.name, option(row.option), (*refs(row.edges, 1), *refs(row.to, 2)), row.times, row.operation,
            float(row.ratio), row.fullness,
        )
        for row in rows.seams
    )  # fmt: skip
    return StyleSpec(
        rows.number, rows.name, tuple(ALL_SIZES), "M", rows.details if with_options else {}, pieces,
        seams if sewn else (),
    )  # fmt: skip


def refs(written: tuple[str, ...], side: int) -> list[EdgeRef]:
    found = []
    for words in written:
        piece, edge = words.split(": ")
        edge, _, takes = edge.partition(" × ")
        found.append(EdgeRef(piece, edge, side, int(takes or 1)))
    return found


def ways(seam: SeamSpec, style: StyleSpec) -> set[tuple[object, ...]]:
    """The edges that each choice of options leaves a seam, with its times: how it is written down does not matter."""
    found: set[tuple[object, ...]] = set()
    for chosen in product(*([(d, o) for o in options] for d, options in style.details.items())):
        if seam.option is not None and seam.option not in chosen:
            continue
        there = {piece.name for piece in style.pieces_for(chosen)}
        edges = frozenset(ref for ref in seam.edges if ref.piece in there)
        if edges:
            found.add((frozenset(chosen), edges, seam.times))
    return found


def bare(edges: frozenset[EdgeRef]) -> frozenset[tuple[str, str, int]]:
    """Without the sides of a strip’s join, which the demo writes down with one side."""
    return frozenset((ref.piece, ref.edge, ref.takes) for ref in edges if ref.edge != "join back")


@pytest.mark.parametrize("rows", STYLES, ids=lambda rows: rows.number)
def test_a_demo_style_is_proposed_as_it_is_sewn(rows: StyleRows) -> None:
    """Every seam of the demo but for decoration is proposed for the same garments, as often, of the same edges."""
    sewn = demo(rows, sewn=True)
    ours = {
        (way, bare(edges), times)
        for one in propose_seams(demo(rows))
        for way, edges, times in ways(one.seam, sewn)
    }
    theirs: set[tuple[object, ...]] = set()
    for seam in sewn.seams:
        for way, edges, times in ways(seam, sewn):
            if seam.name not in NOT_TOLD:
                # The tape is sewn down along both long sides, of which one is told.
                theirs.add((way, bare(edges), 1 if seam.name == "back neck tape" else times))
    assert ours == theirs


@pytest.mark.parametrize("rows", STYLES, ids=lambda rows: rows.number)
def test_what_is_proposed_for_a_demo_style_fits_as_it_was_drafted(rows: StyleRows) -> None:
    drafted = {
        frozenset((ref.piece, ref.edge) for ref in seam.edges): (seam.fullness, seam.ratio)
        for seam in demo(rows, sewn=True).seams
        if seam.fullness
    }
    found = propose_seams(demo(rows))
    for one in found:
        assert one.fits, one.seam.name
        assert one.sure, one.seam.name
        edges = frozenset((ref.piece, ref.edge) for ref in one.seam.edges)
        fullness, ratio = drafted.pop(edges, ("", 1.0))
        assert one.seam.fullness == fullness, one.seam.name
        assert one.seam.ratio == pytest.approx(ratio, abs=0.01), one.seam.name
    assert not drafted


@pytest.mark.parametrize("rows", STYLES, ids=lambda rows: rows.number)
def test_seams_that_are_there_are_not_proposed_again(rows: StyleRows) -> None:
    assert propose_seams(demo(rows, sewn=True)) == ()
    bare_style = demo(rows)
    proposed = propose_seams(bare_style)
    assert len(proposed) > 5
    taken = replace(bare_style, seams=tuple(one.seam for one in proposed))
    assert propose_seams(taken) == ()
    # One that was not taken is offered again, and nothing else.
    for left in proposed:
        rest = replace(bare_style, seams=tuple(one.seam for one in proposed if one is not left))
        assert [one.key for one in propose_seams(rest)] == [left.key]


def test_two_necks_in_every_garment_are_not_taken_for_granted() -> None:
    found = {one.seam.name: one for one in propose_seams(demo(STYLES[0], with_options=False))}
    for name in ("self neck band", "rib neck band", "armhole, short sleeve", "armhole, long sleeve"):
        assert not found[name].sure
        assert "is each an option?" in found[name].reason
    assert found["shoulder"].sure
    assert found["back neck tape"].sure


# --- cases by hand ----------------------------------------------------------------------------------------


def piece(name: str, widths: float | tuple[float, float, float], edge: str, **changes: object) -> PieceSpec:
    """A strip without seam allowance; its lower edge has the given name and these lengths in S, M and L."""
    lengths = widths if isinstance(widths, tuple) else (widths,) * 3
    outlines = {
        s: rectangle(n, 100, (edge, "left", "far", "right")) for s, n in zip(SIZES, lengths, strict=True)
    }
    plain = PieceSpec(name, "body", 1, pair=False, may_turn=True, option=None, outlines=outlines)
    return replace(plain, **changes)


def style(*pieces: PieceSpec, **changes: object) -> StyleSpec:
    return replace(StyleSpec("1", "plain", SIZES, "M", details={}, pieces=pieces), **changes)


def only(spec: StyleSpec) -> ProposedSeam:
    (found,) = propose_seams(spec)
    return found


def written(one: ProposedSeam) -> list[tuple[str, str, int, int]]:
    return [(ref.piece, ref.edge, ref.side, ref.takes) for ref in one.seam.edges]


def test_a_band_goes_round_two_halves_and_a_whole() -> None:
    """200 + 200 + 180 = 580 mm round the hem; a rib of 464 mm is 0.8 of it."""
    front, back = piece("front", 200, "hem", count=2, pair=True), piece("back", 180, "hem")
    found = only(style(front, back, piece("hem rib band", 464, "hem", role="rib")))
    assert written(found) == [("front", "hem", 1, 2), ("back", "hem", 1, 1), ("hem rib band", "hem", 2, 1)]
    assert (found.seam.times, found.seam.ratio, found.seam.fullness) == (1, 0.8, "stretched")
    assert (found.step.machine, found.step.stitch_type) == ("overlock", "504")
    assert [(s.side1_mm, s.side2_mm) for s in found.walks[0].sizes] == [(580, 464)] * 3


def test_a_wide_sleeve_is_gathered_into_its_armhole_and_one_that_is_too_small_left_out() -> None:
    """200 + 200 = 400 mm of armhole; 600 is 1.5 times as much, 472 hardly gathered, 424 eased, 300 no sleeve."""
    body = [piece(name, 200, "armhole", count=2) for name in ("front", "back")]
    for head, ratio, fullness in (
        (600.0, 1.5, "gathered"), (472.0, 1.18, "gathered"), (424.0, 1.06, "eased"), (402.0, 1.0, ""),
    ):  # fmt: skip
        found = only(style(*body, piece("sleeve", head, "sleeve head", count=2, pair=True)))
        assert found.sure == (ratio != 1.18), "hardly gathered: it had better be looked at"
        assert ("18 % longer than the armhole: is it gathered?" in found.reason) == (ratio == 1.18)
        assert (found.seam.times, found.seam.ratio, found.seam.fullness) == (2, ratio, fullness)
    assert propose_seams(style(*body, piece("sleeve", 300, "sleeve head", count=2))) == ()


def test_a_sleeve_much_wider_than_its_cuff_is_gathered_to_it() -> None:
    sleeve = piece("sleeve", 400, "cuff edge", count=2, pair=True)
    found = only(style(sleeve, piece("cuff", 200, "cuff edge", count=2)))
    assert written(found) == [("cuff", "cuff edge", 1, 1), ("sleeve", "cuff edge", 2, 1)]
    assert (found.seam.times, found.seam.ratio, found.seam.fullness) == (2, 2.0, "gathered")


def test_a_side_that_does_not_fit_in_one_size_is_offered_but_not_sure() -> None:
    found = only(style(piece("front", (400, 410, 420), "side"), piece("back", (400, 410, 450), "side")))
    assert not found.sure
    assert not found.fits
    # One that bears another name in the first size, by a slip, is offered all the same: there it cannot be measured.
    slip = piece("front", 400, "side")
    slip = replace(
        slip, outlines={**slip.outlines, "S": rectangle(400, 100, ("edge 9", "left", "far", "right"))}
    )
    found = only(style(slip, piece("back", 400, "side")))
    assert written(found) == [("front", "side", 1, 1), ("back", "side", 2, 1)]
    assert (found.sure, found.walks[0].unmeasured) == (False, ("front has no edge “side” in S",))


def test_sides_of_different_length_are_no_side() -> None:
    assert propose_seams(style(piece("front", 400, "side"), piece("back", 600, "side"))) == ()


def test_names_that_tell_nothing_are_left_out() -> None:
    assert propose_seams(style(piece("part 1", 400, "side"), piece("part 2", 400, "side"))) == ()
    assert propose_seams(style(piece("front", 400, "edge 1"), piece("back", 400, "edge 1"))) == ()


def test_a_piece_without_outlines_proposes_nothing() -> None:
    assert propose_seams(style(piece("front", 400, "side", outlines={}), piece("back", 400, "side"))) == ()


def test_a_band_to_be_cut_to_measure_is_offered_the_seam_along_its_opening() -> None:
    """Each neck option has its own; what is sewn in every garment, or in this option, is not offered again."""
    rib, own = ("neck", "rib band"), ("neck", "self band")
    bands = [
        piece("neckband", 1, "", outlines={}, is_band=True, option=rib),
        piece("neck band self", 1, "", outlines={}, is_band=True, option=own),
        piece("cuff", 1, "", outlines={}, is_band=True, count=2),
    ]
    body = [piece("front", 300, "neckline"), piece("back", 200, "neckline")]
    sleeve = piece("sleeve", 220, "sleeve hem", count=2, pair=True)
    spec = style(*body, sleeve, *bands, details={"neck": ("rib band", "self band")})
    found = {one.seam.name: one for one in propose_seams(spec)}
    assert set(found) == {"neckband", "neck band self", "cuff"}
    for name, option in (("neckband", rib), ("neck band self", own)):
        assert written(found[name]) == [("front", "neckline", 1, 1), ("back", "neckline", 1, 1)]
        assert (found[name].seam.option, found[name].seam.times, found[name].sure) == (option, 1, True)
    assert written(found["cuff"]) == [("sleeve", "sleeve hem", 1, 1)]
    assert found["cuff"].seam.times == 2
    sewn = replace(spec, seams=(found["neckband"].seam, found["cuff"].seam))
    assert [one.seam.name for one in propose_seams(sewn)] == ["neck band self"]
    drawn = style(*body, piece("neckband", 400, "neckline", is_band=True))
    assert [one.seam.side(2) != () for one in propose_seams(drawn)] == [True]
    assert propose_seams(style(*body, piece("strip 3", 1, "", outlines={}, is_band=True))) == ()


def test_a_straight_strip_whose_edges_have_no_names_is_told_by_its_own() -> None:
    """Both long sides of a cuff are called alike; one of them is sewn on, and its two ends to each other."""
    shape = rectangle(200, 80, ("long edge", "end", "long edge", "end"))
    cuff = piece("cuff", 200, "", count=2, outlines=dict.fromkeys(SIZES, shape))
    found = propose_seams(style(piece("sleeve", 240, "cuff edge", count=2, pair=True), cuff))
    join, sewn = found
    assert written(join) == [("cuff", "end", 1, 1), ("cuff", "end", 2, 1)]
    assert written(sewn) == [("sleeve", "cuff edge", 1, 1), ("cuff", "long edge", 2, 1)]
    assert join.seam.times == sewn.seam.times == 2


def test_halves_are_joined_at_the_centre_but_a_front_may_open_there() -> None:
    back, front = (piece(f"{h} half", 600, f"centre {h}", count=2, pair=True) for h in ("back", "front"))
    by_name = {one.seam.name: one for one in propose_seams(style(back, front))}
    assert by_name["centre back"].sure
    assert not by_name["centre front"].sure
    assert written(by_name["centre back"]) == [
        ("back half", "centre back", 1, 1),
        ("back half", "centre back", 2, 1),
    ]
    assert by_name["centre back"].seam.times == 1


def test_a_new_option_gets_only_the_seams_it_lacks() -> None:
    front = piece("front", 400, "side", option=("front", "plain"))
    twist = piece("twist front", 400, "side", option=("front", "twist"))
    spec = style(front, twist, piece("back", 400, "side"), details={"front": ("plain", "twist")})
    plain = SeamSpec("side", None, (EdgeRef("front", "side"), EdgeRef("back", "side", 2)), 1, "sew")
    found = only(replace(spec, seams=(plain,)))
    assert written(found) == [("twist front", "side", 1, 1), ("back", "side", 2, 1)]
    assert found.seam.option == ("front", "twist")
    assert found.seam.name == "side 2"


def test_options_that_cannot_be_had_together_are_not_joined() -> None:
    one = piece("front", 400, "side", option=("front", "plain"))
    other = piece("back", 400, "side", option=("back", "yoke"))
    details = {"front": ("plain", "none"), "back": ("yoke", "none")}
    spec = style(one, other, details=details)
    assert propose_seams(spec)
    assert propose_seams(replace(spec, exclusions=((("back", "yoke"), ("front", "plain")),))) == ()


def test_an_operation_belongs_to_an_option_only_where_all_its_seams_do() -> None:
    found = propose_seams(demo(STYLES[0]))
    by_name = {one.seam.name: one for one in found}
    assert option_of([by_name["cuff"], by_name["cuff join"]]) == ("sleeve", "long with cuff")
    assert option_of([by_name["underarm, short sleeve"], by_name["side"]]) is None


def test_layers_of_a_collar_are_not_all_set() -> None:
    """Four half collars of 200 mm: two halves, two layers; the neckline of 400 mm takes two of them."""
    collar = piece("flat collar", 200, "neck edge", count=4, pair=True)
    found = only(style(piece("front", 200, "neckline"), piece("back", 200, "neckline"), collar))
    assert written(found)[2] == ("flat collar", "neck edge", 2, 2)
    assert (found.seam.times, found.seam.ratio) == (1, 1.0)


def test_a_pocket_is_hemmed_and_sewn_down_along_the_rest() -> None:
    shape = Outline(
        ((0.0, 0.0), (150.0, 0.0), (150.0, 120.0), (0.0, 120.0)),
        (Edge("side", 0), Edge("opening", 1), Edge("side", 2), Edge("bottom", 3)),
    )
    pocket = piece("patch pocket", 150, "", count=2, outlines=dict.fromkeys(SIZES, shape))
    hem, sewn = propose_seams(style(pocket))
    assert (written(hem), hem.seam.times) == ([("patch pocket", "opening", 1, 1)], 2)
    assert written(sewn) == [("patch pocket", "side", 1, 2), ("patch pocket", "bottom", 1, 1)]
    assert sewn.seam.times == 2
