"""Plies numbered from the bottom, with their rolls and the bundles that their garments go into."""

from __future__ import annotations

from collections import Counter

from planner.core.lays.model import MarkerJob, PlannedLay, Plies
from planner.core.planning import PlannedBundle
from planner.core.ply_list import PlyRun, RollSpreads, plies_of, ply_runs, runs_by_bundle
from planner.core.spec import ClothKey, Garment

INK, CHALK, RIB = (ClothKey("jersey", "ink"), ClothKey("jersey", "chalk"), ClothKey("rib", "ink"))


def garment(size: str, colourway: str = "ink") -> Garment:
    return Garment("110", (), colourway, size)


def lay(section: int, *plies: Plies, mode: str = "open") -> PlannedLay:
    job = MarkerJob(1460.0, True, 2.0, ())
    return PlannedLay(section, plies, mode, 1460.0, 20.0, job, 1000.0)  # type: ignore[arg-type]


def told(runs: tuple[PlyRun, ...]) -> list[tuple[int, int, str, tuple[str, ...]]]:
    return [(run.first, run.last, run.cloth.colour, run.bundles) for run in runs]


def test_two_colours_in_one_lay_are_counted_from_the_bottom():
    ink, chalk = garment("M"), garment("M", "chalk")
    stacked = lay(1, Plies(INK, 5, (ink,)), Plies(CHALK, 2, (chalk,)))
    bundles = [PlannedBundle("B-1", ink, 5, 1, (1,)), PlannedBundle("B-2", chalk, 2, 1, (1,))]
    runs = ply_runs([stacked], {}, bundles)
    assert told(runs[1]) == [(1, 5, "ink", ("B-1",)), (6, 7, "chalk", ("B-2",))]
    assert runs[1][1].garments == (chalk,)
    assert plies_of("B-2", runs) == {1: ((6, 7),)}


def test_rolls_part_the_plies_and_what_no_roll_was_chosen_for_comes_last():
    one = lay(1, Plies(INK, 5, (garment("M"),)))
    rolls = {1: [[RollSpreads("R-7", "4471", 2), RollSpreads("", "", 1)]]}
    runs = ply_runs([one], rolls, [PlannedBundle("B-1", garment("M"), 5, 1, (1,))])[1]
    assert [(run.first, run.last, run.roll and run.roll.roll) for run in runs] == [
        (1, 2, "R-7"),
        (3, 3, ""),
        (4, 5, None),
    ]
    assert plies_of("B-1", {1: runs}) == {1: ((1, 5),)}


def test_a_bundle_takes_whole_stacks_of_the_marker():
    """Two garments a ply and six plies in bundles of six: each bundle is one place of the marker, all plies."""
    two = lay(1, Plies(INK, 6, (garment("M"), garment("M"))))
    bundles = [PlannedBundle(f"B-{n}", garment("M"), 6, 1, (1,)) for n in (1, 2)]
    assert told(ply_runs([two], {}, bundles)[1]) == [(1, 6, "ink", ("B-1", "B-2"))]


def test_a_bundle_comes_from_plies_of_its_shade_lot():
    two = lay(1, Plies(INK, 5, (garment("M"), garment("M"))))
    rolls = {1: [[RollSpreads("R-1", "A", 2), RollSpreads("R-2", "B", 3)]]}
    bundles = [
        PlannedBundle("B-1", garment("M"), 6, 1, (1,), "B"),
        PlannedBundle("B-2", garment("M"), 4, 1, (1,), "A"),
    ]
    assert told(ply_runs([two], rolls, bundles)[1]) == [
        (1, 2, "ink", ("B-2", "B-2")),
        (3, 5, "ink", ("B-1", "B-1")),
    ]


def test_face_to_face_a_spread_is_two_plies():
    pair = lay(1, Plies(INK, 3, (garment("M"), garment("L"))), mode="face_to_face")
    bundles = [PlannedBundle("B-1", garment("M"), 3, 1, (1,)), PlannedBundle("B-2", garment("L"), 3, 1, (1,))]
    assert told(ply_runs([pair], {}, bundles)[1]) == [(1, 6, "ink", ("B-1", "B-2"))]


def test_small_cloths_are_shared_out_lay_by_lay_and_every_garment_has_one_bundle():
    main = lay(1, Plies(INK, 4, (garment("M"),)))
    bands = [lay(n, Plies(RIB, 2, (garment("M"),))) for n in (2, 3)]
    bundles = [
        PlannedBundle("B-1", garment("M"), 3, 1, (1, 2, 3)),
        PlannedBundle("B-2", garment("M"), 1, 1, (1, 3)),
    ]
    runs = ply_runs([*bands, main], {}, bundles)
    assert told(runs[1]) == [(1, 3, "ink", ("B-1",)), (4, 4, "ink", ("B-2",))]
    assert told(runs[2]) == [(1, 2, "ink", ("B-1",))]
    assert told(runs[3]) == [(1, 1, "ink", ("B-1",)), (2, 2, "ink", ("B-2",))]
    assert plies_of("B-1", runs) == {1: ((1, 3),), 2: ((1, 2),), 3: ((1, 1),)}
    counted: Counter[str] = Counter()
    for section in (1, 2, 3):
        for run in runs[section]:
            counted[run.bundles[0]] += run.last - run.first + 1
    assert counted == {"B-1": 6, "B-2": 2}


def test_a_garment_that_no_bundle_wants_has_none():
    assert told(ply_runs([lay(1, Plies(INK, 2, (garment("M"),)))], {}, [])[1]) == [(1, 2, "ink", ("",))]


def test_plies_keep_their_bundles_when_a_roll_comes_in_for_those_to_be_bought():
    """Two plies of A, two of B, two to be bought that are of A once they came in: shared out as on the tickets."""
    one = lay(1, *(Plies(INK, 2, (garment("M"),)) for _ in range(3)))
    bundles = [PlannedBundle(f"B-{n}", garment("M"), 2, 1, (1,)) for n in (1, 2, 3)]

    def plies(*last: RollSpreads) -> list[tuple[int, int]]:
        rolls = {1: [[RollSpreads("R-1", "A", 2)], [RollSpreads("R-2", "B", 2)], list(last)]}
        runs = ply_runs([one], rolls, bundles)
        return [plies_of(bundle.number, runs)[1][0] for bundle in bundles]

    printed = [(1, 2), (3, 4), (5, 6)]
    assert plies(RollSpreads("", "", 2)) == printed
    assert plies(RollSpreads("R-3", "A", 2, came_later=True)) == printed
    assert plies(RollSpreads("R-3", "A", 2)) != printed, (
        "planned so from the first, lot A is shared out as one"
    )


def test_the_plies_of_a_bundle_are_found_without_looking_through_the_others():
    small, large = garment("S"), garment("L")
    lays = [lay(1, Plies(INK, 2, (small, large))), lay(2, Plies(INK, 2, (large,))), lay(3, Plies(INK, 1, ()))]
    bundles = [PlannedBundle("B-1", small, 2, 1, (1,)), PlannedBundle("B-2", large, 2, 1, (1,))]
    runs = ply_runs(lays, {}, [*bundles, PlannedBundle("B-3", large, 2, 2, (2,))])
    found = runs_by_bundle(runs)
    assert found == {"B-1": {1: runs[1]}, "B-2": {1: runs[1]}, "B-3": {2: runs[2]}}
    assert all(plies_of(bundle, runs) == plies_of(bundle, found[bundle]) for bundle in found)


def test_plies_without_a_gap_are_one_stretch_behind_others_too():
    first, other, second, third = (
        PlyRun(low, high, INK, None, (garment("M"),), (bundle,))
        for low, high, bundle in ((1, 2, "B-1"), (3, 3, "B-2"), (4, 5, "B-1"), (6, 6, "B-1"))
    )
    runs = {1: (first, other, second, third)}
    assert plies_of("B-1", runs) == {1: ((1, 2), (4, 6))}
    assert plies_of("B-2", runs) == {1: ((3, 3),)}
