"""What the page of a batch shows of its cut plans: why, what else could be had, what the maker chose, what it costs."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from planner.core.lays.wishes import Kind, PlanFacts
from planner.cutting.cut_plans import facts_of, kinds_of
from planner.cutting.models import CutPlan, Lay, PlanChoice
from planner.cutting.reading import BatchPlan
from planner.cutting.stored import PlannedBatch
from planner.cutting.why import (
    AIM_WORDS,
    kinds_in_words,
    other_in_words,
    outcome_in_words,
    plan_sentences,
    price_in_words,
)

#: Between style and size in the value of a choice on the page.
SEPARATOR = "|"


@dataclass(frozen=True)
class Offer:
    """Another plan that can be taken."""

    aim: str
    label: str
    words: str


@dataclass(frozen=True)
class ChoiceRow:
    """Something the maker chose, with its price."""

    pk: int
    words: str
    price: str


@dataclass(frozen=True)
class PlanPanel:
    """The region of one fabric. `errors` and `typed` are by field, of a choice that could not be taken."""

    pk: int
    fabric: str
    state: str
    is_settled: bool
    total: str
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
    is_open: bool = False
    errors: Mapping[str, str] = field(default_factory=dict)
    typed: Mapping[str, str] = field(default_factory=dict)

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


def plan_panels(
    read: PlannedBatch,
    display: str,
    currency: str,
    *,
    is_maker: bool,
    refused: Refused | None = None,
    open_pk: int | None = None,
) -> tuple[PlanPanel, ...]:
    """One panel for each fabric of the batch; money and changes are the maker's."""
    free = is_maker and read.batch.state == "planned" and not any(_is_begun(lay) for lay in read.lays)
    return tuple(
        _panel(one, read, display, currency if is_maker else "", refused, open_pk, can_change=free)
        for one in read.plans
    )


def stamp_of(panels: Iterable[PlanPanel]) -> str:
    """Changes when what the panels show does."""
    return hashlib.sha256(repr(tuple(panels)).encode()).hexdigest()[:16]


def _is_begun(lay: Lay) -> bool:
    return lay.cut_at is not None or any(cloth.cut_spreads for cloth in lay.cloths.all())


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
    lays = [lay for lay in read.lays if _fabric(lay) == plan.fabric_id]
    kinds = kinds_cut(lays)
    with_style = len({style for style, _ in kinds}) > 1
    wrong = refused if refused is not None and refused.plan_pk == plan.pk else None
    kept = [lay.number for lay in lays if lay.is_kept]
    return PlanPanel(
        pk=plan.pk,
        fabric=plan.fabric.name,
        state=_STATES[CutPlan.State(plan.state)],
        is_settled=plan.state == CutPlan.State.SETTLED,
        total=outcome_in_words(facts.best, display, currency) if facts else "",
        aim=AIM_WORDS[plan.aim],
        sentences=plan_sentences(facts, display, currency) if facts else (),
        offers=_offers(plan, facts, display, currency),
        choices=tuple(_choice(c, kinds, facts, display, currency) for c in one.choices),
        kinds=tuple((value_of(kind), kinds_in_words([kind], with_style=with_style)) for kind in kinds),
        most_plies=plan.most_plies,
        plies_price=_price("plies", frozenset(), facts, display, currency) if plan.most_plies else "",
        most_possible=facts.most_layers if facts else read.shop.most_plies,
        kept=_kept_in_words(kept),
        kept_price=_price("keep", frozenset(), facts, display, currency) if kept else "",
        can_change=can_change,
        is_open=wrong is not None or open_pk == plan.pk,
        errors={wrong.field: wrong.problem} if wrong else {},
        typed=wrong.typed if wrong else {},
    )


_STATES = {
    CutPlan.State.QUICK: "a first plan; a better one is being looked for",
    CutPlan.State.NESTING: "its lays are being nested; real lengths may change the plan",
    CutPlan.State.SETTLED: "",
}


def _fabric(lay: Lay) -> int | None:
    cloths = lay.cloths.all()
    return cloths[0].fabric_colour.fabric_id if cloths else None


def kinds_cut(lays: Sequence[Lay]) -> list[Kind]:
    """Styles and sizes that the lays cut, in order."""
    held = {
        (g.style.number, g.size.position, g.size.name)
        for lay in lays
        for cloth in lay.cloths.all()
        for g in cloth.garments.all()
    }
    return [(style, size) for style, _, size in sorted(held)]


def value_of(kind: Kind) -> str:
    """A kind as the value of a choice on the page."""
    return SEPARATOR.join(kind)


def kind_of(value: str) -> Kind | None:
    """Reads what :func:`value_of` wrote; None where it is none."""
    style, found, size = value.partition(SEPARATOR)
    return (style, size) if found and style and size else None


def _offers(plan: CutPlan, facts: PlanFacts | None, display: str, currency: str) -> tuple[Offer, ...]:
    if facts is None:
        return ()
    found = []
    for other in facts.others:
        same = (other.lays, round(other.cloth_mm), round(other.minutes)) == (
            facts.best.lays,
            round(facts.best.cloth_mm),
            round(facts.best.minutes),
        )
        if other.aim == plan.aim or (same and plan.aim == CutPlan.Aim.MONEY):
            continue
        words = "the same plan" if same else other_in_words(other, facts.best, display, currency)
        if not same and other.nested < other.lays:
            words += "; as estimated"
        found.append(Offer(other.aim, AIM_WORDS[other.aim], words))
    return tuple(found)


def _choice(
    choice: PlanChoice, in_order: Sequence[Kind], facts: PlanFacts | None, display: str, currency: str
) -> ChoiceRow:
    chosen = kinds_of(choice)
    kinds = [kind for kind in in_order if kind in chosen] + sorted(chosen - set(in_order))
    with_style = len({style for style, _ in in_order}) > 1
    words = f"{kinds_in_words(kinds, with_style=with_style)} {choice.get_kind_display()}"
    return ChoiceRow(choice.pk, words, _price(choice.kind, chosen, facts, display, currency))


def _price(wish: str, kinds: frozenset[Kind], facts: PlanFacts | None, display: str, currency: str) -> str:
    """What a wish costs, where that is known."""
    for price in facts.prices if facts else ():
        if price.wish == wish and (not kinds or frozenset(price.kinds) == kinds):
            return price_in_words(price, facts.best, display, currency)  # type: ignore[union-attr]
    return ""


def _kept_in_words(numbers: Sequence[int]) -> str:
    if not numbers:
        return ""
    names = [str(n) for n in numbers]
    listed = " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
    return f"Lay {listed} stays as it is" if len(names) == 1 else f"Lays {listed} stay as they are"
