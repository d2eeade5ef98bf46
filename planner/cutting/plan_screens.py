"""What the page of a batch shows of its cut plans: why, what else could be had, what the maker chose, what it costs."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from planner.cutting.offers_shown import ChoiceRow, Offer, offers_of
from planner.cutting.plan_now import is_begun, may_be_planned_anew
from planner.cutting.plan_progress import PlanProgress, nested_for_others, progress_of
from planner.cutting.plan_shown import PlanShown
from planner.cutting.singles_shown import Singles
from planner.cutting.stored import PlannedBatch
from planner.cutting.why import AIM_WORDS


class ByField(dict[str, str]):
    """Words by field, "" where a field has none; templates are slow to find out that a key is missing."""

    def __missing__(self, field: str) -> str:
        return ""


@dataclass(frozen=True)
class PlanPanel:
    """The region of one fabric's plan; its words are those of :class:`PlanShown`.

    `errors` and `typed` are by field, of a choice that could not be taken.
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
    """One panel for each fabric of the batch; money and changes are the maker's.

    `now` is the present time, from which it is told how long nesting will still take.
    """
    free = is_maker and read.batch.state == "planned" and not any(is_begun(lay) for lay in read.lays)
    anew = plans_for_anew(read).values() if is_maker else ()
    progress = progress_of(read, display, now, nested_for_others(read))
    return tuple(
        replace(
            _panel(
                PlanShown(one, read, display, currency if is_maker else ""), refused, open_pk, can_change=free
            ),
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


def _panel(shown: PlanShown, refused: Refused | None, open_pk: int | None, *, can_change: bool) -> PlanPanel:
    plan, facts = shown.plan, shown.facts
    wrong = refused if refused is not None and refused.plan_pk == plan.pk else None
    return PlanPanel(
        pk=plan.pk,
        fabric=shown.fabric,
        state=shown.state,
        is_settled=shown.is_settled,
        total=shown.total,
        now=shown.now,
        aim=AIM_WORDS[plan.aim],
        sentences=shown.sentences,
        offers=offers_of(plan, facts, shown.display, shown.currency),
        choices=shown.choices,
        kinds=shown.kinds,
        most_plies=plan.most_plies,
        plies_price=shown.plies_price,
        most_possible=shown.most_possible,
        kept=shown.kept,
        kept_price=shown.kept_price,
        can_change=can_change,
        follows=shown.follows,
        singles=shown.singles,
        since=shown.since if can_change else "",
        since_stock=facts is not None and facts.since_buys_mm is not None,
        made_with=shown.made_with,
        unpriced=shown.unpriced,
        is_open=(wrong is not None and wrong.field != "since") or open_pk == plan.pk,
        errors=ByField({wrong.field: wrong.problem} if wrong else {}),
        typed=ByField(wrong.typed if wrong else {}),
    )
