"""Shade lots told at the table, laid over the plies in the order told, and what that makes of bundles. All by hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from planner.core.bundle_lots import LotPlies, lots_apart, shade_lot_of
from planner.core.lays.model import Plies
from planner.core.planning import PlannedBundle
from planner.core.ply_list import PlyRun, RollSpreads, plies_of, ply_runs
from planner.core.told_lots import ToldSpreads, lot_of, told_each, told_places
from tests.core.test_ply_list import CHALK, INK, RIB, garment, lay

M = garment("M")
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
#: Five garments M as bundles of two, two and one.
BUNDLES = [PlannedBundle(f"0{n}", M, quantity, 1, (1,)) for n, quantity in enumerate((2, 2, 1), 1)]


def told(spreads: int, lot: str | None, hour: int, back: int | None = None, roll: str = "") -> ToldSpreads:
    """Told so many hours after the start, taken back so many after it."""
    back_at = None if back is None else START + timedelta(hours=back)
    return ToldSpreads(spreads, lot, START + timedelta(hours=hour), back_at, roll)


def places(facts: list[ToldSpreads]) -> dict[int, str | None]:
    return {place: one.shade_lot for place, one in told_places(facts).items()}


def spread_lots(planned: list[str], facts: list[ToldSpreads]) -> list[str]:
    each = told_each(len(planned), facts)
    return [lot_of(lot, fact) for lot, fact in zip(planned, each, strict=True)]


def lots(runs: dict[int, tuple[PlyRun, ...]]) -> list[str]:
    return [shade_lot_of(bundle.number, runs[1], INK) for bundle in BUNDLES]


def five(*facts: ToldSpreads, planned: str = "", mode: str = "open") -> dict[int, tuple[PlyRun, ...]]:
    """Five spreads of ink, planned from one roll or to be bought."""
    rolls = {1: [[RollSpreads("R-1" if planned else "", planned, 5)]]}
    return ply_runs([lay(1, Plies(INK, 5, (M,)), mode=mode)], rolls, BUNDLES, {1: [facts]})


def test_what_is_told_first_lies_lowest():
    assert places([told(1, "B", 1), told(4, "C", 2)]) == {0: "B", 1: "C", 2: "C", 3: "C", 4: "C"}


def test_what_is_put_right_takes_the_place_of_what_was_taken_back():
    wrong = [told(2, "A", 1, back=3), told(3, "B", 2)]
    assert places(wrong) == {2: "B", 3: "B", 4: "B"}
    assert places([*wrong, told(2, "C", 4)]) == {0: "C", 1: "C", 2: "B", 3: "B", 4: "B"}
    # Told while the first still held, it lies above it.
    assert places([told(2, "A", 1, back=3), told(1, "B", 2), told(2, "C", 4)]) == {
        0: "C",
        1: "C",
        2: "B",
    }


def test_what_is_told_stands_before_the_plan():
    assert spread_lots(["A"] * 4, [told(1, "B", 1), told(1, None, 2), told(1, "", 3)]) == ["B", "A", "", "A"]
    # Ended when two of five were cut, the lower ones having been taken back: those two are all there is.
    assert spread_lots(["A"] * 2, [told(2, "B", 1, back=3), told(2, "C", 2)]) == ["C", "C"]


def test_a_bundle_has_a_lot_only_where_all_its_own_plies_are_of_it():
    """One ply of lot B, then four of lot C: plies 1 to 2 are of both, 3 to 4 and 5 of C."""
    runs = five(told(1, "B", 1), told(4, "C", 2))
    assert [plies_of(bundle.number, runs)[1] for bundle in BUNDLES] == [((1, 2),), ((3, 4),), ((5, 5),)]
    assert lots(runs) == ["", "C", "C"]
    assert lots_apart("01", runs) == (
        LotPlies(INK, "B", {1: ((1, 1),)}),
        LotPlies(INK, "C", {1: ((2, 2),)}),
    )
    assert lots_apart("02", runs) == ()
    # Rib whose lot bears the same letter is none of the jersey's plies.
    rib = PlyRun(1, 2, RIB, None, (M,), ("01",), "B")
    assert lots_apart("01", {**runs, 2: (rib,)}) == lots_apart("01", runs)


def test_a_lot_that_is_planned_gives_way_to_the_one_told_and_is_there_again_without_it():
    assert lots(five(planned="A")) == ["A", "A", "A"]
    assert lots(five(told(2, "B", 1), planned="A")) == ["B", "A", "A"]
    assert lots(five(told(1, "B", 1), planned="A")) == ["", "A", "A"]
    assert lots(five(told(2, "B", 1, back=2), planned="A")) == ["A", "A", "A"]
    assert lots(five(told(5, None, 1), planned="A")) == ["A", "A", "A"], "no roll was named"


def test_cloth_of_a_lot_not_known_is_no_lot_to_keep_apart():
    runs = five(told(1, "B", 1), told(4, "", 2))
    assert lots(runs) == ["", "", ""]
    assert lots_apart("01", runs) == ()


def test_face_to_face_both_plies_of_a_spread_are_of_its_lot():
    runs = five(told(1, "B", 1), told(4, "C", 2), mode="face_to_face")
    assert [(run.first, run.last, run.lot) for run in runs[1]] == [
        (1, 2, "B"),
        (3, 4, "C"),
        (5, 8, "C"),
        (9, 10, "C"),
    ]
    assert [one.plies for one in lots_apart("01", runs)] == [{1: ((1, 2),)}, {1: ((3, 4),)}]


def test_of_several_colours_each_is_told_by_itself():
    """Chalk lies on ink. Told before it, it is still chalk's own plies that are of that lot."""
    chalk = garment("M", "chalk")
    stacked = lay(1, Plies(INK, 2, (M,)), Plies(CHALK, 2, (chalk,)))
    bundles = [PlannedBundle("01", M, 2, 1, (1,)), PlannedBundle("02", chalk, 2, 1, (1,))]
    facts = [[told(1, "A", 2), told(1, "B", 3)], [told(2, "K", 1)]]
    runs = ply_runs([stacked], {}, bundles, {1: facts})
    assert [(run.first, run.last, run.lot) for run in runs[1]] == [(1, 1, "A"), (2, 2, "B"), (3, 4, "K")]
    assert shade_lot_of("02", runs[1], CHALK) == "K"
    assert [one.shade_lot for one in lots_apart("01", runs)] == ["A", "B"]


def test_whatever_is_told_a_bundle_comes_from_the_same_plies():
    """Two garments a ply; two plies planned of A, three still to be bought: tickets that are printed stay right."""
    two = lay(1, Plies(INK, 2, (M, M)), Plies(INK, 3, (M, M)))
    rolls = {1: [[RollSpreads("R-1", "A", 2)], [RollSpreads("", "", 3)]]}
    bundles = [PlannedBundle("01", M, 4, 1, (1,), "A"), PlannedBundle("02", M, 6, 1, (1,))]
    for facts in ([], [[told(2, "D", 1)], [told(3, "A", 2)]]):
        named = [PlannedBundle(b.number, M, b.quantity, 1, (1,), "D" if facts else "") for b in bundles]
        for asked in (bundles, named):
            runs = ply_runs([two], rolls, asked, {1: facts})
            assert [plies_of(n, runs) for n in ("01", "02")] == [{1: ((1, 2),)}, {1: ((3, 5),)}]
    assert [shade_lot_of(n, runs[1], INK) for n in ("01", "02")] == ["D", "A"]


def test_a_small_cloth_is_shared_out_lot_by_lot():
    """Two bands a ply, two plies of A under three of B: four garments have bands of A, six of B."""
    main = lay(1, Plies(INK, 10, (M,)))
    bands = lay(2, Plies(RIB, 2, (M, M)), Plies(RIB, 3, (M, M)))
    rolls = {2: [[RollSpreads("R-1", "A", 2)], [RollSpreads("R-2", "B", 3)]]}
    bundles = [PlannedBundle("01", M, 4, 1, (1, 2)), PlannedBundle("02", M, 6, 1, (1, 2))]
    runs = ply_runs([main, bands], rolls, bundles)
    assert [plies_of(n, runs)[2] for n in ("01", "02")] == [((1, 2),), ((3, 5),)]
    assert lots_apart("01", runs) == ()


# ---- numbers and rolls of plies that are cut ----


def five_of_two_rolls(*facts: ToldSpreads) -> list[tuple[int, int, str, bool]]:
    """Five spreads, three planned from R-1 and two from R-2, both of one lot: first, last, roll, cut or not."""
    rolls = {1: [[RollSpreads("R-1", "A", 3), RollSpreads("R-2", "A", 2)]]}
    runs = ply_runs([lay(1, Plies(INK, 5, (M,)))], rolls, [PlannedBundle("01", M, 5, 1, (1,))], {1: [facts]})
    assert {bundle for run in runs[1] for bundle in run.bundles} == {"01"}
    return [(run.first, run.last, run.roll.roll if run.roll else "", run.is_cut) for run in runs[1]]


def test_plies_are_numbered_as_told_though_the_upper_roll_was_spread_first():
    assert five_of_two_rolls() == [(1, 3, "R-1", False), (4, 5, "R-2", False)]
    second = told(2, "A", 1, roll="R-2")
    assert five_of_two_rolls(second) == [(1, 2, "R-2", True), (3, 5, "R-1", False)]
    both = (second, told(3, "A", 2, roll="R-1"))
    assert five_of_two_rolls(*both) == [(1, 2, "R-2", True), (3, 5, "R-1", True)]


def test_what_is_cut_from_another_roll_leaves_the_plies_to_come_what_is_still_planned_for_them():
    """As :func:`still_from` has it: another roll stands for what was planned first."""
    assert five_of_two_rolls(told(1, "B", 1, roll="R-9")) == [
        (1, 1, "R-9", True),
        (2, 3, "R-1", False),
        (4, 5, "R-2", False),
    ]
    assert five_of_two_rolls(told(1, "A", 1, roll="R-2"), told(1, None, 2)) == [
        (1, 1, "R-2", True),
        (2, 2, "R-1", True),
        (3, 4, "R-1", False),
        (5, 5, "R-2", False),
    ]
    # All of R-1 is cut and named: the ply that names no roll is of R-2.
    assert five_of_two_rolls(told(3, "A", 1, roll="R-1"), told(1, None, 2)) == [
        (1, 3, "R-1", True),
        (4, 4, "R-2", True),
        (5, 5, "R-2", False),
    ]


def test_plies_cut_from_no_named_roll_are_first_those_planned_from_none():
    """So a ply told later changes nothing about those told before."""
    rolls = {1: [[RollSpreads("R-1", "A", 2), RollSpreads("", "", 2)]]}

    def rolls_of(*facts: ToldSpreads) -> list[tuple[str, bool]]:
        runs = ply_runs([lay(1, Plies(INK, 4, (M,)))], rolls, [], {1: [facts]})[1]
        return [(r.roll.roll if r.roll else "", r.is_cut) for r in runs for _ in range(r.first, r.last + 1)]

    before = told(2, None, 1)
    assert rolls_of(before) == [("", True), ("", True), ("R-1", False), ("R-1", False)]
    assert rolls_of(before, told(1, None, 2)) == [("", True), ("", True), ("R-1", True), ("R-1", False)]


def test_plies_taken_back_below_others_are_still_to_be_cut_where_they_were():
    facts = (told(2, "A", 1, back=3, roll="R-2"), told(1, "A", 2, roll="R-1"))
    assert five_of_two_rolls(*facts) == [
        (1, 2, "R-1", False),
        (3, 3, "R-1", True),
        (4, 5, "R-2", False),
    ]
