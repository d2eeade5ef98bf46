"""A lay cut in part: its rest is planned in lays of their own, bundles are divided, and all of it can be undone."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal

import pytest

from planner.core.lays.nestings import HOW_OWN
from planner.core.lays.plan import CannotPlan, PlanProblem
from planner.core.lays.rows import first_marker
from planner.core.lays.stored import job_from_json
from planner.cutting import arrivals, counted_on
from planner.cutting.actions import rest, rest_on, table
from planner.cutting.actions.booking import Told
from planner.cutting.actions.nesting import nest_one
from planner.cutting.claims import claims
from planner.cutting.lots import give_lots
from planner.cutting.marker_store import LAID_BEFORE, marker_fields
from planner.cutting.models import Batch, Lay, LayRoll, Marker
from planner.cutting.roll_rows import Taken, write_taken
from planner.cutting.stored import plan_of, planned_batch
from planner.cutting.tasks import STEP, roll_batch
from planner.materials.models import Workroom
from planner.sewing.finding import find_bundle
from tests.cutting.once import once, plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON, TODAY
from tests.sewing.makers import nest_all

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch() -> Batch:
    return plies_batch(5)


def tell(lay: Lay, spreads: int, used_m: str = "2.50", **more: object) -> None:
    told = Told(only_cloth(lay).pk, spreads, Decimal(used_m), **more)  # type: ignore[arg-type]
    assert not table.tell_lay(lay, [told], None, NOON).problem


def cut_in_part(batch: Batch, spreads: int = 3) -> tuple[Lay, rest.RestPlanned]:
    lay = jersey_lay(batch)
    tell(lay, spreads)
    planned = rest.replan_rest(lay, None, NOON)
    assert not planned.problem, planned.problem
    lay.refresh_from_db()
    return lay, planned


@once
def rest_laid(spreads: int) -> Batch:
    """So many of five plies of jersey are cut, and the others are lays of their own, nested."""
    batch = plies_batch(5)
    cut_in_part(batch, spreads)
    nest_all(batch)
    return Batch.objects.get(pk=batch.pk)


def rest_of(batch: Batch) -> tuple[Lay, Lay]:
    """The lay that was cut in part, and the first of its rest."""
    lay = jersey_lay(batch)
    return lay, lay.rests.order_by("number")[0]


def cuts(lays: list[Lay]) -> int:
    """Garments these lays cut as planned."""
    return sum(
        cloth.spreads * held.per_marker
        for lay in lays
        for cloth in lay.cloths.all()
        for held in cloth.garments.all()
    )


def spoken_for(fabric: str = "jersey") -> Decimal:
    found = claims(None).spoken_for.items()
    return sum((amount for key, amount in found if getattr(key, "fabric", "") == fabric), Decimal(0))


def test_the_rest_is_planned_in_lays_numbered_on_and_the_plan_stays_to_be_read(batch: Batch) -> None:
    last = batch.lays.count()
    lay, planned = cut_in_part(batch)
    assert [new.number for new in planned.lays] == list(range(last + 1, last + 1 + len(planned.lays)))
    assert (planned.garments, cuts(list(planned.lays))) == (2, 2)
    assert {new.rest_of_id for new in Lay.objects.filter(number__gt=last)} == {lay.pk}
    assert all(new.cloths.get().fabric_colour == only_cloth(lay).fabric_colour for new in planned.lays)
    assert (only_cloth(lay).spreads, only_cloth(lay).cut_spreads, lay.cut_at) == (5, 3, NOON)
    assert Batch.objects.get().state == Batch.State.CUTTING
    # Other cloths are left alone.
    assert batch.lays.filter(cloths__fabric_colour__fabric__name="rib").count() == 1


def test_the_bundle_keeps_what_is_cut_and_its_ticket_the_others_are_split_off(batch: Batch) -> None:
    before = batch.bundles.get()
    lay, planned = cut_in_part(batch)
    old, new = batch.bundles.order_by("pk")
    assert (old.number, old.token, old.quantity) == (before.number, before.token, 3)
    assert (new.number, new.quantity) == (f"{before.number}b", 2)
    assert new.token != old.token
    assert (old.lay, new.lay) == (lay, planned.lays[0])
    rib = batch.lays.get(cloths__fabric_colour__fabric__name="rib")
    assert set(old.lays.all()) == {lay, rib}
    assert set(new.lays.all()) == {planned.lays[0], rib}
    assert (new.line, new.size, list(new.options.all())) == (old.line, old.size, list(old.options.all()))
    assert planned.divided == 1
    tell(rib, 5)
    cut = {bundle.number: bundle.is_cut for bundle in batch.bundles.with_cut()}
    assert cut == {old.number: True, new.number: False}
    # Typed off the ticket, also short.
    assert find_bundle(new.number) == find_bundle("1-1b") == new
    assert find_bundle("1-1") == old


def plies_batch_of_bundles(size: int) -> Batch:
    Workroom.the()
    Workroom.objects.update(bundle_size=size)
    return plies_batch(5)


def test_needs_count_what_is_cut_once_and_the_plan_still_meets_the_demand(batch: Batch) -> None:
    whole, before = spoken_for(), batch.needs.get(fabric_colour__fabric__name="jersey").need
    lay, planned = cut_in_part(batch)
    nest_all(batch)
    each_mm = lay.marker.length_mm + 2 * lay.end_allowance_mm
    rest_mm = sum(
        one.cloths.get().spreads * (Marker.objects.get(pk=one.marker_id).length_mm + 2 * one.end_allowance_mm)
        for one in planned.lays
    )
    need = batch.needs.get(fabric_colour=only_cloth(lay).fabric_colour).need
    assert float(need) == pytest.approx((3 * each_mm + rest_mm) / 1000, abs=0.002)
    # What is promised to it is what is still to cut.
    assert float(spoken_for()) == pytest.approx(rest_mm / 1000, abs=0.003)
    assert spoken_for() < whole <= before
    plan = plan_of(planned_batch(batch))
    cut: Counter[str] = Counter()
    for cloth in plan.cloths:
        for nested in cloth.lays:
            cut[cloth.cloth.key.fabric] += sum(nested.planned.cut_from(cloth.cloth.key).values())
    assert cut == {"jersey": 5, "rib": 5}
    assert sum(bundle.quantity for bundle in plan.bundles) == 5
    # What is cut of the rest keeps it.
    new = planned.lays[0]
    tell(new, 1)
    assert f"lay {new.number} is cut already" in rest.take_rest_back(lay)
    assert not table.take_cut_back(lay, None, NOON)
    fact = lay.cloths.get().facts.get()
    assert "Take that back first" in table.take_fact_back(fact, None, NOON).problem


@pytest.mark.usefixtures("nested_soon")
def test_the_rest_is_nested_by_the_worker_and_cut(batch: Batch) -> None:
    _, planned = cut_in_part(batch)
    for one in planned.lays:
        Marker.objects.filter(pk=one.marker_id).update(seconds=1)
        assert nest_one(one.marker_id) in {"ready", "not waiting", LAID_BEFORE}
        one.refresh_from_db()
        tell(one, only_cloth(one).spreads)
    rib = batch.lays.get(cloths__fabric_colour__fabric__name="rib")
    tell(rib, 5)
    assert Batch.objects.get().state == Batch.State.SEWING
    assert all(bundle.is_cut for bundle in batch.bundles.with_cut())


def test_the_rest_is_taken_back_until_something_of_it_is_cut(batch: Batch) -> None:
    before = snapshot(batch)
    need = batch.needs.get(fabric_colour__fabric__name="jersey").need
    assert "Nothing of this lay is cut yet" in rest.replan_rest(jersey_lay(batch), None, NOON).problem
    lay, _ = cut_in_part(batch)
    assert rest.take_rest_back(lay) == ""
    lay.refresh_from_db()
    assert (lay.cut_at, only_cloth(lay).cut_spreads) == (None, 3)
    assert snapshot(batch) == before
    assert batch.needs.get(fabric_colour__fabric__name="jersey").need == need
    assert not lay.rests.exists()
    assert "nothing was changed" in rest.take_rest_back(lay)
    # Told to its end, it is cut like any other.
    tell(lay, 2)
    lay.refresh_from_db()
    assert lay.cut_at == NOON
    assert "recorded as cut" in rest.replan_rest(lay, None, NOON).problem


def test_a_rest_that_is_nested_for_longer_keeps_no_other_from_its_rolls(batch: Batch) -> None:
    rib = batch.lays.get(cloths__fabric_colour__fabric__name="rib")
    for lay in (jersey_lay(batch), rib):
        tell(lay, 3)
        assert not rest.replan_rest(lay, None, NOON).problem
    nest_all(batch)
    roll_of(only_cloth(rib), "R7")
    longer = Marker.objects.filter(lays__rest_of=jersey_lay(batch))
    longer.update(state=Marker.State.WAITING, seed=Marker.POLISH_SEED + STEP)
    roll_batch.func(batch.pk)
    of_rests = LayRoll.objects.filter(lay_cloth__lay__rest_of__isnull=False).order_by("pk")
    assert set(of_rests.values_list("lay_cloth__lay__rest_of", "roll__number")) == {(rib.pk, "R7")}
    longer.update(state=Marker.State.READY)
    roll_batch.func(batch.pk)
    assert of_rests.filter(lay_cloth__lay__rest_of=jersey_lay(batch)).exists()


def test_others_hear_of_cloth_that_a_rest_leaves_and_of_cloth_its_lay_counts_on_again(
    batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    lay, cloth = jersey_lay(batch), only_cloth(jersey_lay(batch))
    roll = roll_of(cloth, "R9", "20")
    LayRoll.objects.create(lay_cloth=cloth, roll=roll, spreads=5)
    late, short = (Batch.objects.create(number=n, state="planned", made_on=TODAY) for n in ("B-42", "B-43"))
    # Formerly a lay of the batch itself that waits for cloth was not asked, and it was bought for.
    for other, planned_from in ((late, roll), (short, None), (batch, None)):
        copy = Lay.objects.get(pk=lay.pk)
        copy.pk, copy.batch, copy.number = None, other, 90
        copy.save()
        plies = copy.cloths.create(fabric_colour=cloth.fabric_colour, spreads=2)
        LayRoll.objects.create(lay_cloth=plies, roll=planned_from, spreads=2)
    tell(lay, 3, "18", roll=roll.pk)
    assert not rest.replan_rest(lay, None, NOON).problem
    nest_all(batch)
    free: list[int] = []
    again: list[int] = []
    monkeypatch.setattr(arrivals, "queue_arrived", free.append)
    monkeypatch.setattr(counted_on, "queue_rolls", again.append)
    roll_batch.func(batch.pk)
    asked = [batch.pk, short.pk]
    assert free == asked, "the lay that ended keeps nothing"
    roll_batch.func(batch.pk)
    assert free == asked, "and two batches do not ask each other for ever"
    # R9 has 2 m: enough for two plies of 0.67 m, not for those of the lay and of the later batch.
    LayRoll.objects.filter(lay_cloth__lay__rest_of=lay).delete()
    assert rest.take_rest_back(lay) == ""
    assert (free, again) == ([*asked, batch.pk, *asked], [late.pk])


def snapshot(batch: Batch) -> list[tuple[str, str, int, list[int]]]:
    rows = batch.bundles.order_by("pk")
    return [(b.number, b.token, b.quantity, sorted(b.lays.values_list("number", flat=True))) for b in rows]


def test_a_rest_can_have_a_rest_and_both_be_undone(batch: Batch) -> None:
    before = snapshot(batch)
    cut_in_part(batch, 1)
    nest_all(batch)
    # Four are left: as many spreads as there were of the one-garment marker, or fewer of a larger one.
    lay, new = rest_of(batch)
    if only_cloth(new).spreads == 1:
        split_spreads(new)
    tell(new, 1)
    cut_here = new.cloths.get().garments.get().per_marker
    assert not rest.replan_rest(new, None, NOON).problem
    numbers = [(b.number[-1], b.quantity) for b in batch.bundles.order_by("pk")]
    assert sorted(n for n, _ in numbers) == ["1", "b", "c"]
    assert [q for _, q in numbers] == [1, cut_here, 4 - cut_here]
    assert rest.take_rest_back(new) == ""
    assert table.take_fact_back(new.cloths.get().facts.get(), None, NOON).problem == ""
    assert rest.take_rest_back(lay) == ""
    assert snapshot(batch) == before


def split_spreads(lay: Lay) -> None:
    """One garment a marker, as many spreads."""
    cloth = lay.cloths.get()
    held = cloth.garments.get()
    cloth.spreads, held.per_marker = held.per_marker, 1
    cloth.save()
    held.save()
    lay.marker.job["items"] = [item for item in lay.marker.job["items"] if item["garment_no"] == 1]
    lay.marker.save()


def test_a_small_cloth_cut_in_part_divides_the_bundle_too(batch: Batch) -> None:
    rib = batch.lays.get(cloths__fabric_colour__fabric__name="rib")
    main = jersey_lay(batch)
    tell(rib, 2)
    planned = rest.replan_rest(rib, None, NOON)
    assert not planned.problem
    old, new = batch.bundles.order_by("pk")
    assert [(b.quantity, b.lay) for b in (old, new)] == [(2, main), (3, main)]
    assert set(old.lays.all()) == {main, rib}
    assert set(new.lays.all()) == {main, *planned.lays}
    assert rest.take_rest_back(rib) == ""
    assert [b.quantity for b in batch.bundles.all()] == [5]


def test_bundles_of_the_lot_that_was_cut_stay(db: None) -> None:
    """Four plies are planned from a roll of lot A for the first two bundles, one of lot B for the third."""
    several = plies_batch_of_bundles(2)
    lay = jersey_lay(several)
    cloth = only_cloth(lay)
    rolls = {lot: roll_of(cloth, f"R{lot}", shade_lot=lot).pk for lot in "AB"}
    write_taken([cloth], [Taken(rolls["A"], 4, "A"), Taken(rolls["B"], 1, "B")])
    give_lots(lay)
    assert list(several.bundles.order_by("pk").values_list("shade_lot", flat=True)) == ["A", "A", "B"]
    last = Told(lay.cloths.last().pk, 1, Decimal("1.50"), rolls["B"])
    assert not table.tell_lay(lay, [last], None, NOON).problem
    assert not rest.replan_rest(lay, None, NOON).problem
    rows = list(several.bundles.order_by("pk"))
    assert [(row.lay_id == lay.pk, row.shade_lot) for row in rows] == [(False, ""), (False, ""), (True, "B")]


def test_the_bundle_stays_whose_ply_was_cut(db: None) -> None:
    """Ply 1 belongs to the first bundle of two, so half of that is cut; its lot is that of the ply."""
    several = plies_batch_of_bundles(2)
    lay = jersey_lay(several)
    tell(lay, 1, roll=roll_of(only_cloth(lay), shade_lot="B").pk)
    assert not rest.replan_rest(lay, None, NOON).problem
    rows = [
        (row.number[-3:], row.lay_id == lay.pk, row.quantity, row.shade_lot) for row in several.bundles.all()
    ]
    assert rows == [
        ("-01", True, 1, "B"),
        ("-02", False, 2, ""),
        ("-03", False, 1, ""),
        ("01b", False, 1, ""),
    ]


def test_whole_bundles_go_over_and_undone_have_their_lot_again(db: None) -> None:
    several = plies_batch_of_bundles(2)
    lay = jersey_lay(several)
    cloth = only_cloth(lay)
    roll = roll_of(cloth, shade_lot="A")
    LayRoll.objects.create(lay_cloth=cloth, roll=roll, spreads=5)
    several.bundles.update(shade_lot="A")
    _, planned = cut_in_part(several, 2)
    rows = list(several.bundles.order_by("pk"))
    assert [row.quantity for row in rows] == [2, 2, 1]
    assert [row.lay_id == lay.pk for row in rows] == [True, False, False]
    assert planned.divided == 0
    assert not any(row.number.endswith("b") for row in rows)
    assert {row.shade_lot for row in several.bundles.exclude(lay=lay)} == {""}
    assert rest.take_rest_back(lay) == ""
    assert {(row.lay_id, row.shade_lot) for row in several.bundles.all()} == {(lay.pk, "A")}


def test_the_lays_of_a_rest_get_rolls_and_lots_and_the_cut_ones_stay(batch: Batch) -> None:
    lay = jersey_lay(batch)
    cloth = only_cloth(lay)
    old = roll_of(cloth, "R1", "2.5", shade_lot="A")
    LayRoll.objects.create(lay_cloth=cloth, roll=old, spreads=5)
    tell(lay, 3, roll=old.pk)
    planned = rest.replan_rest(lay, None, NOON)
    assert not planned.problem
    new_roll = roll_of(cloth, "R2", "20", shade_lot="B")
    assert roll_batch.func(batch.pk) == "being nested"
    nest_all(batch)
    assert roll_batch.func(batch.pk) == "0 spreads short"
    rows = LayRoll.objects.filter(lay_cloth__lay__in=planned.lays)
    assert {row.roll for row in rows} == {new_roll}
    assert sum(row.spreads for row in rows) == sum(only_cloth(one).spreads for one in planned.lays)
    assert [row.spreads for row in LayRoll.objects.filter(lay_cloth=cloth)] == [5]
    assert {row.shade_lot for row in batch.bundles.filter(lay__in=planned.lays)} == {"B"}


def test_a_lay_of_a_rest_that_came_out_too_long_is_planned_again(
    batch: Batch, beside: pytest.MonkeyPatch
) -> None:
    Workroom.objects.update(table_length_mm=Decimal("3000"))
    lay, planned = cut_in_part(batch, 1)
    first = planned.lays[0]
    assert only_cloth(first).garments.get().per_marker > 1, "several garments of the rest share a marker"
    Marker.objects.filter(pk=first.marker_id).update(state=Marker.State.READY, length_mm=3100.0)
    put_longer(first, 3100.0)
    tokens = set(batch.bundles.filter(lays=lay).values_list("token", flat=True))
    known = []
    plan = rest_on.lays_for
    beside.setattr(rest_on, "lays_for", lambda *asked: known.append(asked[-1]) or plan(*asked))
    assert roll_batch.func(batch.pk) == "planned again"
    told = [learnt.how for lengths in known for learnt in lengths.learnt.values()]
    assert told == [HOW_OWN], "what was used at this very lay says nothing of other markers"
    rests = list(lay.rests.order_by("number"))
    assert first.pk not in {one.pk for one in rests}
    assert cuts(rests) == 4
    assert max(only_cloth(one).garments.get().per_marker for one in rests) < 4
    assert tokens <= set(batch.bundles.values_list("token", flat=True))
    assert sum(row.quantity for row in batch.bundles.all()) == 5


def test_a_bundle_of_a_rest_never_mixes_shade_lots(db: None) -> None:
    batch = rest_laid(1)
    lay, new = rest_of(batch)
    if only_cloth(new).spreads == 1:
        split_spreads(new)
    ply_m = Decimal(str(round((new.marker.length_mm + 2 * new.end_allowance_mm) / 1000 + 0.01, 2)))
    for number, lot in enumerate("AB"):
        roll_of(only_cloth(lay), f"R{number}", str(2 * ply_m), shade_lot=lot)
    roll_batch.func(batch.pk)
    given = LayRoll.objects.filter(lay_cloth__lay=new)
    assert len({row.roll.shade_lot for row in given if row.roll}) == 1


def test_a_rest_keeps_the_part_a_lot_gives_until_the_others_come(db: None) -> None:
    """Formerly the plies that had a roll were counted against themselves, and the others never fitted."""
    batch = rest_laid(1)
    lay, new = rest_of(batch)
    if only_cloth(new).spreads == 1:
        split_spreads(new)
    wanted = only_cloth(new).spreads
    each = Decimal(str(round((new.marker.length_mm + 2 * new.end_allowance_mm) / 1000 + 0.01, 2)))
    roll_of(only_cloth(lay), "R1", str(each), shade_lot="A")
    roll_batch.func(batch.pk)
    rows = LayRoll.objects.filter(lay_cloth__lay=new).order_by("position")
    assert list(rows.values_list("roll__number", "spreads")) == [(None, wanted), ("R1", 1)]
    assert only_cloth(new).spreads == wanted, "its bundles have plies of all of them"
    roll_of(only_cloth(lay), "R2", str(each * (wanted - 1)), shade_lot="A")
    roll_batch.func(batch.pk)
    assert sorted(rows.values_list("roll__number", "spreads")) == [("R1", 1), ("R2", wanted - 1)]
    assert {bundle.shade_lot for bundle in batch.bundles.filter(lay=new)} == {"A"}


def put_longer(lay: Lay, length_mm: float) -> None:
    """The marker of a lay as if it had come out so long, also in what is stored of it."""
    row = Marker.objects.get(pk=lay.marker_id)
    marker = replace(first_marker(job_from_json(row.job)), length_mm=length_mm)
    Marker.objects.filter(pk=row.pk).update(state=Marker.State.READY, **marker_fields(marker))


def test_a_rest_that_cannot_be_planned_changes_nothing(batch: Batch, beside: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise CannotPlan([PlanProblem(None, "the table is gone")])

    lay = jersey_lay(batch)
    tell(lay, 3)
    before = snapshot(batch)
    with beside.context() as patch:
        patch.setattr(rest, "plan_lays", refuse)
        planned = rest.replan_rest(lay, None, NOON)
    lay.refresh_from_db()
    assert "the table is gone" in planned.problem
    assert (lay.cut_at, snapshot(batch), lay.rests.count()) == (None, before, 0)
    # Where one came out too long and nothing shorter is found it stays, and says so.
    planned = rest.replan_rest(lay, None, NOON)
    put_longer(planned.lays[0], 9000.0)
    beside.setattr(rest, "plan_lays", refuse)
    assert roll_batch.func(batch.pk).endswith("spreads short")
    assert [one.pk for one in lay.rests.all()] == [one.pk for one in planned.lays]
    said = Marker.objects.get(pk=planned.lays[0].marker_id).message
    assert said == "longer than the table, and nothing shorter was found"


def test_what_is_told_while_the_rest_is_planned_comes_first(batch: Batch, beside: pytest.MonkeyPatch) -> None:
    lay = jersey_lay(batch)
    tell(lay, 2)
    plan = rest.plan_lays

    def tell_meanwhile(*given: object, **more: object) -> object:
        tell(lay, 1)
        return plan(*given, **more)  # type: ignore[arg-type]

    beside.setattr(rest, "plan_lays", tell_meanwhile)
    assert "meanwhile" in rest.replan_rest(lay, None, NOON).problem
    lay.refresh_from_db()
    assert (lay.cut_at, only_cloth(lay).cut_spreads, batch.lays.count()) == (None, 3, 2)
