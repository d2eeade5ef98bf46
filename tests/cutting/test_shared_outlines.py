"""Cloth in two layers: whose which ply of an outline is that two garments share, on ticket, sheet and bundle ticket."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from planner.core.lays.items import items_for, job_for
from planner.core.lays.model import ItemToLay, Mode, PlannedLay, Plies
from planner.core.lays.rows import first_marker
from planner.core.lays.signs import garments_of, twins_of
from planner.core.planning import NestedLay, PlannedBundle
from planner.core.ply_list import ply_runs
from planner.core.spec import Garment, Workshop
from planner.cutting.lay_papers import lay_paper, plies_of_bundle
from planner.papers.cut_tickets import cut_tickets
from planner.papers.data import Heading, LayPaper
from planner.papers.sheet_lays import lay_in_words
from planner.papers.spreading import twins_in_words
from tests.core.makers import JERSEY, make_cloth, make_shop, make_tee, wanted
from tests.papers.words import all_words

TEE = wanted(1).garment
LARGE = wanted(1, "L").garment
MODES: tuple[Mode, ...] = ("open", "face_to_face", "folded")


def shop(*, is_tube: bool = False) -> Workshop:
    """The boxy top with three patches, which are the same to left and right; two of its sleeves are a pair."""
    tee = make_tee()
    patch = next(piece for piece in tee.pieces if piece.name == "sleeve")
    pieces = (*tee.pieces, replace(patch, name="patch", count=3, pair=False))
    cloth = make_cloth(usable_width_mm=2000.0, modes=MODES, is_tube=is_tube, end_allowance_mm=20.0)
    return make_shop(replace(tee, pieces=pieces), jersey=cloth)


def lay_of(slots: tuple[Garment, ...], spreads: int, mode: Mode, *, is_tube: bool = False) -> PlannedLay:
    made = shop(is_tube=is_tube)
    cloth = made.cloths[JERSEY]
    job = job_for(slots, mode, cloth, made)
    return PlannedLay(1, (Plies(JERSEY, spreads, slots),), mode, job.lay_width_mm, 20.0, job, 1000.0)


def printed(lay: PlannedLay, *bundles: PlannedBundle, is_tube: bool = False) -> tuple[LayPaper, list[str]]:
    """Its paper, and what stands of its plies on the ticket of each bundle."""
    runs = ply_runs([lay], {}, bundles)
    paper = lay_paper(NestedLay(lay, first_marker(lay.job)), runs[1], shop(is_tube=is_tube))
    twins = {1: twins_of(lay.job.items)}
    return paper, [words for one in bundles for _, _, words in plies_of_bundle(one, runs, twins)]


def bundle(number: int, garment: Garment, quantity: int) -> PlannedBundle:
    return PlannedBundle(f"B-0007-{number:02d}", garment, quantity, 1, (1,))


@pytest.mark.parametrize("mode", MODES)
def test_every_garment_has_all_its_pieces_in_whatever_layers_they_are_cut(mode: Mode) -> None:
    made = shop()
    items = items_for([TEE, LARGE, TEE, LARGE], mode, made.cloths[JERSEY], made)
    cut = Counter((whose, item.piece) for item in items for whose in whose_layers(item, mode))
    each = {"front": 1, "back": 1, "sleeve": 2, "patch": 3}
    assert cut == {(number, piece): count for number in range(1, 5) for piece, count in each.items()}


def whose_layers(item: ItemToLay, mode: Mode) -> tuple[int, ...]:
    """The garment of the upper layer and that of the lower one; of an open lay there is one."""
    whose = garments_of(item)
    return whose if mode == "open" or len(whose) == 2 else whose * 2


@pytest.mark.parametrize(("mode", "is_tube"), [("face_to_face", False), ("folded", False), ("folded", True)])
def test_whose_each_ply_is_stands_where_two_bundles_share_an_outline(mode: Mode, is_tube: bool) -> None:
    lay = lay_of((TEE, TEE), 1, mode, is_tube=is_tube)
    paper, plies = printed(lay, bundle(1, TEE, 1), bundle(2, TEE, 1), is_tube=is_tube)
    words = "Of the two plies of ab the upper is a's, the lower b's; of a piece with one letter both are its."
    assert twins_in_words(paper) == words
    assert words in lay_in_words(paper, imperial=False)
    ticket = cut_tickets(Heading("Quay Lane", "B-0007", "3 March", "20 March"), [paper])
    assert words.replace(" ", "") in "".join(all_words(ticket).split())
    assert plies == ["plies 1 to 2 (of pieces ab the upper)", "plies 1 to 2 (of pieces ab the lower)"]


def test_with_several_pairs_the_first_letter_is_the_upper_ply() -> None:
    paper, plies = printed(
        lay_of((TEE, TEE, LARGE, LARGE), 3, "folded"),
        bundle(1, TEE, 3), bundle(2, TEE, 3), bundle(3, LARGE, 3), bundle(4, LARGE, 3),
    )  # fmt: skip
    assert twins_in_words(paper) == (
        "Of each two plies of a piece with two letters the upper is the first one's, the lower the other's: of ab the "
        "upper is a's, the lower b's; of a piece with one letter both are its."
    )
    assert plies[2:] == [
        "plies 1 to 6 (of pieces cd the upper of each two)",
        "plies 1 to 6 (of pieces cd the lower of each two)",
    ]


def test_a_bundle_that_shares_some_plies_only_says_which() -> None:
    """Of three spreads of a and b the first bundle has four garments, the other two: a of all, b of the first."""
    _, plies = printed(lay_of((TEE, TEE), 3, "face_to_face"), bundle(1, TEE, 4), bundle(2, TEE, 2))
    assert plies == [
        "plies 1 to 2, plies 3 to 6 (of pieces ab the upper of each two)",
        "plies 3 to 6 (of pieces ab the lower of each two)",
    ]


def test_nothing_is_said_where_one_bundle_has_both_plies() -> None:
    for mode in MODES:
        paper, plies = printed(lay_of((TEE, TEE), 2, mode), bundle(1, TEE, 4))
        assert (twins_in_words(paper), plies) == ("", [f"plies 1 to {2 if mode == 'open' else 4}"])


def test_nothing_is_said_of_open_cloth() -> None:
    paper, plies = printed(lay_of((TEE, TEE), 1, "open"), bundle(1, TEE, 1), bundle(2, TEE, 1))
    assert (twins_in_words(paper), plies) == ("", ["ply 1", "ply 1"])
