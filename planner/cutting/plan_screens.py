"""What the page of a batch shows of its cut plans: why, what else could be had, what the maker chose, what it costs."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from planner.core.lays.wishes import PlanFacts
from planner.core.listed import lays_listed
from planner.core.spec import Workshop
from planner.cutting.cut_plans import facts_of, tool_plies
from planner.cutting.figures_since import figures_in_words
from planner.cutting.kinds_shown import kinds_cut, value_of
from planner.cutting.models import CutPlan, Lay
from planner.cutting.narrow_cloth import wider_than_cloth
from planner.cutting.offers_shown import ChoiceRow, Offer, Prices, choice_row, offers_of
from planner.cutting.other_plans import (
    differences,
    estimated_in_words,
)
from planner.cutting.plan_now import are_others, is_begun, may_be_planned_anew, now_in_words
from planner.cutting.plan_progress import PlanProgress, nested_for_others, progress_of
from planner.cutting.plan_words import kinds_in_words, lays_in_words
from planner.cutting.reading import BatchPlan
from planner.cutting.singles_shown import Singles, singles_shown
from planner.cutting.stock_words import as_rolls_are, buys_instead_in_words, stock_in_words
from planner.cutting.stored import PlannedBatch
from planner.cutting.unpriced import plan_unpriced_in_words
from planner.cutting.why import (
    AIM_WORDS,
    as_it_is_cut,
    is_to_follow,
    outcome_in_words,
    plan_sentences,
    sentences_so_far,
    so_far_in_words,
)


class ByField(dict[str, str]):
    """Words by field, "" where a field has none: of a key that is missing templates take long to find it out."""

    def __missing__(self, field: str) -> str:
        return ""


@dataclass(frozen=True)
class PlanPanel:
    """The region of one fabric. `now` says what is cut and what is left to cut, "" before anything is.

    `follows`: what it is held against is being nested still, so that what it saves will be told anew. `since`: what a
    better plan comes to that is known by now, "" for none. `errors` and
    `typed` are by field, of a choice that could not be taken.
    """

    pk: int
    fabric: str
    state: str
    is_settled: bool
    total: str
    now: str
    aim: str
    sentences: tuple[str, ...]
    offers: tuple[Offer, ...]
    choices: tuple[ChoiceRow, ...]
    kinds: tuple[tuple[str, str], ...]
    most_plies: int | None
    plies_price: str
    most_possible: int
    kept: str
    kept_price: str
    can_change: bool
    follows: bool = False
    #: The lays of single sizes that it is held against, once it stands.
    singles: Singles | None = None
    since: str = ""
    #: Whether that is for the pieces in stock now, and not for lays nested since.
    since_stock: bool = False
    #: Figures of the workroom that are others since, with which it was planned; "" for none.
    made_with: str = ""
    #: That its cloth had no price, so that no sum of money here holds it; "" where it had.
    unpriced: str = ""
    #: Lays that nobody has begun may be planned anew while others of the batch are being cut.
    can_plan_anew: bool = False
    #: Not among what the panel is told apart by: it moves while nothing else does, in a region of its own.
    progress: PlanProgress | None = field(default=None, repr=False)
    is_open: bool = False
    errors: Mapping[str, str] = field(default_factory=ByField)
    typed: Mapping[str, str] = field(default_factory=ByField)

    @property
    def first_kind(self) -> str:
        """The first of two sizes as its value: what was typed, else none in particular."""
        return self.typed.get("first", "")

    @property
    def second_kind(self) -> str:
        """The second of them; before anything was typed not the first there is, for two unlike ones are wanted."""
        return self.typed.get("second") or (self.kinds[1][0] if len(self.kinds) > 1 else "")

    @property
    def kinds_error(self) -> str:
        """What is wrong with sizes kept together or apart."""
        return self.errors.get("together", "") or self.errors.get("apart", "")


@dataclass(frozen=True)
class Refused:
    """A choice that could not be taken: of which plan, in which field, why, and what was typed."""

    plan_pk: int
    field: str
    problem: str
    typed: Mapping[str, str]


def says(panels: Iterable[PlanPanel], refused: Refused) -> bool:
    """Whether one of the panels says why the choice was refused: its plan is there, and so is the field."""
    always = {"since", "choices"}
    return any(one.pk == refused.plan_pk and (one.can_change or refused.field in always) for one in panels)


def plan_panels(
    read: PlannedBatch,
    display: str,
    currency: str,
    *,
    is_maker: bool,
    refused: Refused | None = None,
    open_pk: int | None = None,
    now: datetime | None = None,
) -> tuple[PlanPanel, ...]:
    """One panel for each fabric of the batch; money and changes are the maker's. Of the time it is `now` depends for
    how long the nesting still goes on."""
    free = is_maker and read.batch.state == "planned" and not any(is_begun(lay) for lay in read.lays)
    anew = plans_for_anew(read).values() if is_maker else ()
    progress = progress_of(read, display, now, nested_for_others(read))
    return tuple(
        replace(
            _panel(one, read, display, currency if is_maker else "", refused, open_pk, can_change=free),
            progress=progress[one.plan.pk],
            can_plan_anew=one.plan.pk in anew,
        )
        for one in read.plans
    )


def plans_for_anew(read: PlannedBatch) -> dict[int, int]:
    """Lays (pk) that may be planned anew while others of their batch are being cut, with their plans (pk)."""
    if read.batch.state != "cutting":
        return {}
    plans = {one.plan.fabric_id: one.plan.pk for one in read.plans}
    return {
        lay.pk: plans[lay.fabric_id]
        for lay in read.lays
        if may_be_planned_anew(lay) and lay.fabric_id in plans
    }


def stamp_of(panels: Iterable[PlanPanel]) -> str:
    """Changes when what the panels show does."""
    return hashlib.sha256(repr(tuple(panels)).encode()).hexdigest()[:16]


def _panel(
    one: BatchPlan,
    read: PlannedBatch,
    display: str,
    currency: str,
    refused: Refused | None,
    open_pk: int | None,
    *,
    can_change: bool,
) -> PlanPanel:
    plan, facts = one.plan, facts_of(one.plan)
    lays = _lays_of(one, read)
    kinds = kinds_cut(lays)
    with_style = len({style for style, _ in kinds}) > 1
    wrong = refused if refused is not None and refused.plan_pk == plan.pk else None
    kept = [lay.number for lay in lays if lay.is_kept]
    settled = plan.state == CutPlan.State.SETTLED
    facts = as_rolls_are(facts, lays) if facts is not None else None
    now = now_in_words(lays, display)
    anew = read.batch.state == "cutting" and are_others(lays, (facts_of(each.plan) for each in read.plans))
    if (now or anew) and facts is not None:
        facts = as_it_is_cut(facts)
    most = tool_plies(plan.fabric.name, read.shop)
    # Until the plan stands its prices would swing with every lay that is nested.
    prices = Prices(facts if settled else None, display, currency, PRICED_LATER if not settled else "")
    return PlanPanel(
        pk=plan.pk,
        fabric=plan.fabric.name,
        state=ANEW_STATE if anew else _state(plan, facts, lays, is_begun=bool(now)),
        is_settled=settled,
        total=_total(one, facts, read, display, currency, is_begun=bool(now) or anew),
        now=now,
        aim=AIM_WORDS[plan.aim],
        sentences=_sentences(plan, facts, lays, display, currency, follows=not now),
        follows=settled and not now and facts is not None and is_to_follow(facts),
        singles=singles_shown(facts, read.shop, display, currency) if settled and not now else None,
        made_with=_made_with(facts, plan.fabric.name, lays, read.shop, display) if settled else "",
        unpriced=plan_unpriced_in_words(facts, plan.fabric.name, display, currency),
        since=_since(facts, display, currency) if settled and can_change else "",
        since_stock=facts is not None and facts.since_buys_mm is not None,
        offers=offers_of(plan, facts, display, currency),
        choices=tuple(choice_row(c, kinds, prices) for c in one.choices),
        kinds=tuple((value_of(kind), kinds_in_words([kind], with_style=with_style)) for kind in kinds),
        most_plies=plan.most_plies,
        plies_price=prices.of("plies") if (plan.most_plies or most) < most else "",
        most_possible=most,
        kept=_kept_in_words(kept),
        kept_price=prices.of("keep") if kept else "",
        can_change=can_change,
        is_open=(wrong is not None and wrong.field != "since") or open_pk == plan.pk,
        errors=ByField({wrong.field: wrong.problem} if wrong else {}),
        typed=ByField(wrong.typed if wrong else {}),
    )


def _made_with(
    facts: PlanFacts | None, fabric: str, lays: Sequence[Lay], shop: Workshop, display: str
) -> str:
    """With which other figures it was planned; of an earlier version's plan that its lays are wider than the cloth."""
    wide = "Planned when the cloth was wider" if wider_than_cloth(lays, shop.cloths) else ""
    return figures_in_words(facts, fabric, shop, display) or wide


#: There is always a line of it, so that nothing jumps when the plan is settled.
_STATES = {
    CutPlan.State.QUICK: "a first plan; a better one is being looked for",
    CutPlan.State.NESTING: "not settled yet: its lays are still being nested; real lengths may change the plan and its"
    " sums",
    CutPlan.State.SETTLED: "settled: its lays are nested and this plan stands",
}
RECKONED_BEFORE = (
    "settled: this plan stands; what is told of it here was reckoned before its lays were nested"
)
CUT_STATE = "cutting has begun; what is told of the plan below is as it was planned"
ANEW_STATE = (
    "some lays were planned anew since cutting began; what is told of the plan below is of the one before"
)
ALL_LAID = "not settled yet: its lays are nested, but real lengths may still change the plan and its sums"
ONE_LAID = "not settled yet: its lay is nested, but its real length may still change the plan and its sums"
PRICED_LATER = "its price is told once the plan is settled"


def _state(plan: CutPlan, facts: PlanFacts | None, lays: Sequence[Lay], *, is_begun: bool) -> str:
    """Where the plan stands; where its sums could not be reckoned anew in the end, they are called what they are."""
    if is_begun:
        return CUT_STATE
    state = CutPlan.State(plan.state)
    if state == CutPlan.State.SETTLED and facts is not None and facts.nested < facts.best.lays:
        return RECKONED_BEFORE
    if state == CutPlan.State.NESTING and lays and all(lay.marker.is_laid for lay in lays):
        return ALL_LAID if len(lays) > 1 else ONE_LAID
    return _STATES[state]


def _total(
    one: BatchPlan,
    facts: PlanFacts | None,
    read: PlannedBatch,
    display: str,
    currency: str,
    *,
    is_begun: bool,
) -> str:
    """What the plan comes to. Until it stands its cloth is that of the needs, that both tell the same metres."""
    if facts is None:
        return ""
    words = outcome_in_words(facts.best, display, currency)
    if is_begun:
        return f"As planned: {words}"
    if one.plan.state == CutPlan.State.SETTLED:
        return words
    needs = (need for need in read.needs.cloths if need.cloth.fabric == one.plan.fabric.name)
    return so_far_in_words(facts.best, sum(need.lay_m for need in needs) * 1000, display)


def _sentences(
    plan: CutPlan,
    facts: PlanFacts | None,
    lays: Sequence[Lay],
    display: str,
    currency: str,
    *,
    follows: bool,
) -> tuple[str, ...]:
    """What the plan says of itself. `follows`: single sizes are nested, and cloth can be bought, as long as nothing is
    cut."""
    if facts is None:
        return ()
    if plan.state == CutPlan.State.SETTLED:
        is_chosen = plan.aim_by == CutPlan.AimBy.MAKER
        buys = stock_in_words(facts, display, currency, is_chosen=is_chosen) if follows else ""  # type: ignore[arg-type]
        told = plan_sentences(facts, display, currency, follows=follows)
        return (buys, *told) if buys else told
    return sentences_so_far(facts, sum(lay.marker.is_laid for lay in lays), display)


def _since(facts: PlanFacts | None, display: str, currency: str) -> str:
    """What the plan comes to that lays nested since make known, or pieces in stock now, against the one that stands; ""
    where there is none."""
    if facts is None or facts.since is None:
        return ""
    stock, buys_mm = facts.stock, facts.since_buys_mm
    guess = estimated_in_words(facts.since)
    lays, *others = [
        lays_in_words(facts.since.lays),
        *differences(facts.since, facts.best, display, currency),
    ]
    if buys_mm is not None and stock is not None:
        others.insert(0, buys_instead_in_words(buys_mm, stock.buys_mm, display))  # type: ignore[arg-type]
    words = ", ".join([lays, *others])
    return f"{words}; {guess}" if guess else words


def _lays_of(one: BatchPlan, read: PlannedBatch) -> list[Lay]:
    return [lay for lay in read.lays if lay.fabric_id == one.plan.fabric_id]


def _kept_in_words(numbers: Sequence[int]) -> str:
    if not numbers:
        return ""
    stay = "stays as it is" if len(numbers) == 1 else "stay as they are"
    return f"{lays_listed(numbers).capitalize()} {stay}"
