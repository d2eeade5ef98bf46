"""The maker's own choices for a cut plan: another aim, most plies, sizes kept together or apart, lays left as they are.

Each is tried first. What cannot be planned is refused with the reason, and the plan stays.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from django.contrib.auth.models import User
from django.db import transaction

from planner.core.lays.cut_plans import FabricPlan
from planner.core.lays.problems import CannotPlan
from planner.core.lays.wishes import Kind
from planner.core.listed import listed
from planner.cutting.actions.laying import Ready, lock, nesting_seconds, put_lays, ready_lays
from planner.cutting.actions.planning import refresh_needs
from planner.cutting.actions.situation import Situation, read_situation, stamp_of, wanted_of
from planner.cutting.cut_plans import (
    aim_by_anew,
    colours_by_kind,
    decide,
    facts_of,
    first_state,
    is_from_stock,
    kinds_of,
    lengths_for,
    store_facts,
    tool_plies,
    wishes_of,
    with_plans,
)
from planner.cutting.free_pieces import free_pieces
from planner.cutting.models import Batch, CutPlan, Lay, PlanChoice
from planner.cutting.plan_words import kinds_in_words
from planner.cutting.promised_to_buy import with_promise
from planner.cutting.reading import BatchPlan
from planner.cutting.stored import StoredLay
from planner.cutting.tasks import queue_settling
from planner.cutting.wording import count_of_plies
from planner.materials.models import Workroom

#: A choice is tried for so long before it is taken (s); the worker improves on it afterwards.
TRY_SECONDS = 1.5
NO_STOCK = "Nothing that lies in stock is long enough any more for a ply of each size. See What to buy."
CUT_ALREADY = "Part of this batch is cut, so its plan stays as it is."
CHANGED = "The plan was changed just now. Look at it again and choose once more."
TAKEN_BACK = "The plan of this batch was taken back meanwhile. Nothing was changed."
CANCELLED = "This batch was cancelled meanwhile. Nothing was changed."


@dataclass(frozen=True)
class Chosen:
    """What came of a choice. With a problem nothing was changed; `field` says where it was made, `meanwhile` that the
    plan is not as it was seen.
    """

    problem: str = ""
    field: str = ""
    meanwhile: bool = False


def no_choice_any_more(batch: Batch, field: str) -> Chosen:
    """Why nothing of a batch can be chosen that was planned when somebody looked."""
    state = Batch.objects.values_list("state", flat=True).get(pk=batch.pk)
    dropped = {Batch.State.GATHERING: TAKEN_BACK, Batch.State.CANCELLED: CANCELLED}
    return Chosen(dropped.get(Batch.State(state), CUT_ALREADY), field, meanwhile=True)


@dataclass(frozen=True)
class NewChoices:
    """A plan as it would be with the change."""

    aim: str
    aim_by: str
    most_plies: int | None
    choices: tuple[PlanChoice, ...]


def _beside(plan: CutPlan, most_plies: int | None, choices: tuple[PlanChoice, ...]) -> NewChoices:
    """Another wish, with the aim there is; where that was given up for what lies in stock, it is open again."""
    return NewChoices(plan.aim, aim_by_anew(plan), most_plies, choices)


def choose_aim(batch: Batch, plan_pk: int, aim: str) -> Chosen:
    """Plans for the least money, the fewest lays, the least cloth, or from plies that fit what lies in stock."""
    if aim not in CutPlan.Aim.values:
        return Chosen("Choose one of the plans offered.", "aim")
    by = CutPlan.AimBy.MAKER.value
    return _choose(
        batch, plan_pk, "aim", lambda one, _: NewChoices(aim, by, one.plan.most_plies, one.choices)
    )


def choose_most_plies(batch: Batch, plan_pk: int, plies: int | None) -> Chosen:
    """Limits the layers of a lay, to no more than the tool cuts; None is what it cuts."""
    if plies is not None and plies < 1:
        return Chosen("At least one ply is needed.", "plies")

    def change(one: BatchPlan, seen: Situation) -> NewChoices | str:
        most = tool_plies(one.plan.fabric.name, seen.shop)
        if plies is not None and plies > most:
            return f"Your tool cuts {count_of_plies(most)} of this cloth (Workroom)."
        return _beside(one.plan, plies, one.choices)

    return _choose(batch, plan_pk, "plies", change)


def choose_kinds(batch: Batch, plan_pk: int, kind: str, kinds: Sequence[Kind], person: User | None) -> Chosen:
    """Keeps sizes together in every marker, or apart in all of them."""
    wanted = frozenset(kinds)
    if len(wanted) < 2:
        return Chosen("Choose two different sizes.", kind)
    new = PlanChoice(kind=kind, kinds=[list(one) for one in sorted(wanted)], chosen_by=person)

    def change(one: BatchPlan, seen: Situation) -> NewChoices | str:
        if without_effect := _no_shared_colour(wanted, seen.lays_of(one.plan)):
            return without_effect
        for old in one.choices:
            if len(kinds_of(old) & wanted) >= 2:
                if old.kind == kind:
                    return "This is chosen already."
                return f"They are {old.get_kind_display()} by another choice. Take that back first."
        return _beside(one.plan, one.plan.most_plies, (*one.choices, new))

    return _choose(batch, plan_pk, kind, change)


def _no_shared_colour(wanted: Collection[Kind], lays: Iterable[StoredLay]) -> str:
    """Why a choice for these sizes would change nothing; "" where it may.

    A ply holds only what is wanted in its colour, so sizes of which no colour is wanted in both never lie on one.
    """
    planned = [lay.planned for lay in lays]
    colours = colours_by_kind(planned)
    found = {kind: colours.get(kind, set()) for kind in sorted(wanted)}
    if not all(found.values()) or set.intersection(*found.values()):
        return ""
    with_style = len({style for style, _ in colours}) > 1
    each = (
        f"{kinds_in_words([kind], with_style=with_style)} is cut only from {listed(sorted(of_kind))}"
        for kind, of_kind in found.items()
    )
    return f"That would change nothing, for no ply holds both: {' and '.join(each)}."


def take_choice_back(batch: Batch, plan_pk: int, choice_pk: int) -> Chosen:
    """Does without a choice; one that is gone already changes nothing."""

    def change(one: BatchPlan, _: Situation) -> NewChoices:
        left = tuple(choice for choice in one.choices if choice.pk != choice_pk)
        return _beside(one.plan, one.plan.most_plies, left)

    return _choose(batch, plan_pk, "choices", change)


@transaction.atomic
def keep_lay(lay: Lay, *, is_kept: bool) -> Chosen:
    """Leaves a lay as it is whatever else is planned anew, or gives it free again."""
    batch = lock(lay.batch)
    if batch.lays.begun().exists() or batch.state != Batch.State.PLANNED:
        return no_choice_any_more(batch, "keep")
    if not Lay.objects.filter(pk=lay.pk, batch=batch).update(is_kept=is_kept):
        return Chosen(CHANGED, "keep", meanwhile=True)
    if not is_kept:
        # With it free a better plan may be had.
        batch.cut_plans.filter(fabric=lay.cloths.all()[0].fabric_colour.fabric_id).update(
            state=CutPlan.State.QUICK, rounds=0
        )
        queue_settling(batch.pk)
    return Chosen()


def _choose(batch: Batch, plan_pk: int, field: str, change) -> Chosen:  # type: ignore[no-untyped-def]
    """Tries a change; takes it where it can be planned and nobody changed the plan meanwhile."""
    seen = read_situation(batch)
    if seen is None or batch.lays.begun().exists():
        return no_choice_any_more(batch, field)
    one = next((one for one in seen.plans if one.plan.pk == plan_pk), None)
    if one is None:
        return Chosen(CHANGED, field, meanwhile=True)
    new = change(one, seen)
    if isinstance(new, str):
        return Chosen(new, field)
    try:
        found = _tried(seen, one, new)
    except CannotPlan as refusal:
        return Chosen(refusal.told_in(Workroom.the().display), field)
    if found is None:
        return Chosen("Nothing is cut from this cloth.", field)
    if field == "aim" and new.aim == CutPlan.Aim.FROM_STOCK and not is_from_stock(found.facts):
        return Chosen(NO_STOCK, field)
    if new.aim == CutPlan.Aim.FROM_STOCK:
        found = replace(found, facts=with_promise(found.facts, _promised_mm(one, field, found)))
    wanted = [lay.planned for lay in seen.lays if lay.planned.fabric != one.plan.fabric.name]
    ready = ready_lays([*wanted, *found.lays], seen.lays, seconds=nesting_seconds(0))
    return _take(seen, one, new, found, ready, field)


def _promised_mm(one: BatchPlan, field: str, found: FabricPlan) -> float | None:
    """What the page offered that a plan from stock would buy; by the choice tried where it offered nothing."""
    told = facts_of(one.plan)
    offered = told.stock if told is not None and field == "aim" else None
    if offered is not None and offered.other is not None and not offered.is_aim:
        return offered.other_buys_mm
    return found.facts.stock.buys_mm if found.facts.stock else None


def _tried(seen: Situation, one: BatchPlan, new: NewChoices) -> FabricPlan | None:
    """The plan of this fabric with the change. Raises CannotPlan where there is none."""
    kept = [lay.planned for lay in seen.lays_of(one.plan) if lay.row.is_kept]
    wanted = CutPlan(aim=new.aim, most_plies=new.most_plies)
    name = one.plan.fabric.name
    found = decide(
        wanted_of(seen.demand, all_fabrics=False), seen.shop,
        wishes={name: wishes_of(wanted, new.choices, kept)},
        lengths=with_plans(lengths_for([name]), [one.plan]), only=[name], seconds=TRY_SECONDS, compare=True,
        stock=free_pieces(seen.batch, (lay.planned for lay in seen.lays), [name], seen.shop),
    )  # fmt: skip
    return found[0] if found else None


@transaction.atomic
def _take(
    seen: Situation, one: BatchPlan, new: NewChoices, found: FabricPlan, ready: Ready, field: str
) -> Chosen:
    batch = lock(seen.batch)
    if stamp_of(batch) != seen.stamp:
        return Chosen(CHANGED, field, meanwhile=True)
    plan = one.plan
    plan.aim, plan.aim_by, plan.most_plies, plan.rounds = new.aim, new.aim_by, new.most_plies, 0
    plan.state = first_state(found.facts)
    store_facts(plan, found.facts)
    plan.save()
    stays = {choice.pk for choice in new.choices if choice.pk}
    plan.choices.exclude(pk__in=stays).delete()
    for choice in new.choices:
        if not choice.pk:
            choice.plan = plan
            choice.save()
    put_lays(batch, ready, seen.shop)
    refresh_needs(batch)
    queue_settling(batch.pk)
    return Chosen()
