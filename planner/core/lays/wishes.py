"""What the maker wants of a cut plan, and what the plan says of itself. Plain data, no reckoning.

Lengths mm, minutes, money Decimal in the workroom's currency. A kind is a style number with a size.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any, Literal

from planner.core.cut_plan.known import Sections
from planner.core.cut_plan.model import PlannedSection
from planner.core.lays.made_with import MadeWith, made_with_from_json
from planner.core.lays.model import Mode, PlannedLay
from planner.core.spec import ClothKey, Garment, make_options

Kind = tuple[str, str]
Aim = Literal["money", "fewest_lays", "least_cloth"]
#: "counting": too few garments fit a marker and too few plies the tool; "proven": every plan was looked at, none has
#: fewer; "one": there is only one lay; "dearer": fewer can be had, see the other outcomes; "open": nobody knows.
WhyNot = Literal["counting", "proven", "one", "dearer", "open"]
#: What a wish is about: kinds always or never in one marker, the maker's own limit of plies, lays left as they are.
WishName = Literal["together", "apart", "plies", "keep"]
#: Rules that may stand against a plan with a lay less: lays kept, kinds apart or together, the maker's own limit of
#: plies, what the tool cuts, the table, the rolls, exactly as many garments as are wanted; that colours cut to other
#: pieces share no lay; and that one lay cuts every colour in the same proportions.
Rule = Literal[
    "keep",
    "apart",
    "together",
    "own_plies",
    "plies",
    "table",
    "rolls",
    "exact",
    "colours",
    "same_in_all_colours",
]


@dataclass(frozen=True, slots=True)
class Wishes:
    """Wishes for the lays of one fabric.

    `most_plies` is the maker's own limit, never more than her tool cuts. Of kinds that belong `together` every marker
    holds all or none; of kinds kept `apart` none holds two. `keep` are lays to leave as they are. `from_stock`: no ply
    is to be longer than the longest piece that lies in stock of its colour, where that can be.
    """

    aim: Aim = "money"
    most_plies: int | None = None
    together: tuple[frozenset[Kind], ...] = ()
    apart: tuple[frozenset[Kind], ...] = ()
    keep: tuple[PlannedLay, ...] = ()
    from_stock: bool = False


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a plan of one fabric takes: lays, spreads, cloth on the table, minutes at it, and both in money.

    `is_proven`: no plan is better by its own aim. The lengths of `nested` lays were nested, those of the others are
    estimates. `spreads` counts how often cloth is spread: twice for a pair face to face. `unpriced` is what cloth
    without a price counts where plans are compared; it is not in `cost`.
    """

    aim: str
    lays: int
    spreads: int
    cloth_mm: float
    minutes: float
    cost: Decimal
    is_proven: bool
    nested: int = 0
    unpriced: Decimal = Decimal(0)

    @property
    def weighs(self) -> Decimal:
        """What plans are compared by: what it costs, cloth without a price too."""
        return self.cost + self.unpriced


@dataclass(frozen=True, slots=True)
class PriceOfWish:
    """What one wish costs: the best outcome found without it.

    Where `without` is proven, the price is exactly what it is better by. Else the wish costs at least that much, and
    where it is no better nobody knows. Where `without` rests on estimates, `sure` is the best outcome of which all lays
    were nested.
    """

    wish: WishName
    kinds: tuple[Kind, ...]
    without: Outcome
    sure: Outcome | None = None


@dataclass(frozen=True, slots=True)
class Reason:
    """A rule without which there would be a plan with a lay less, all others being kept: such a plan was found.

    `would` instead of `has` would allow it: plies, or mm of table with both ends; 0 where the rule is no matter of more
    or less. `kinds`: those of the wish, or what the plan would cut beyond the demand, one by one; `with_style` where
    their styles are to be named, for there are several. `colours`: those that share no lay, where they are two. `lays`:
    how many lays each group of such colours has, where one has several; `alone` is then the rule that keeps the colours
    `of` one group from having a lay less.
    """

    rule: Rule
    has: float = 0.0
    would: float = 0.0
    kinds: tuple[Kind, ...] = ()
    with_style: bool = False
    colours: tuple[str, ...] = ()
    lays: tuple[int, ...] = ()
    alone: Reason | None = None
    of: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SingleLay:
    """A lay of one size alone: `per_marker` such garments of this cloth in a marker, `spreads` of it in each colour.

    `key` is that of the marker, `pieces` how many it holds. As long as nobody has nested it, it is thought to be
    `estimated_mm` long, without its ends; `nested_mm` where it was nested when the plan was last told.
    """

    garment: Garment
    cloth: ClothKey
    mode: Mode
    per_marker: int
    spreads: tuple[tuple[ClothKey, int], ...]
    key: str
    pieces: int
    estimated_mm: float
    nested_mm: float | None = None


@dataclass(frozen=True, slots=True)
class FromStock:
    """What a plan buys (mm) for plies that nothing in stock is long enough for, while so much there stays unused.

    `other` is the best plan of plies that fit there, where it buys less: `other_buys_mm`. None where none does, or
    (`is_open`) nobody knows. `is_aim`: this plan is made from stock itself, and `other` is the one without looking at
    it, whatever that buys; None where there was no time for it.
    `is_too_long` where what lies there is no longer what its plies were made for: one is longer than all of it. What
    is unused is without flaws: of these so much (`flaws_mm`) lies there too.
    `promised_mm` is what it was to buy when it was chosen. What this plan and the other one spend is money, for what is
    bought and for the work at the table; `weighs` and `other_weighs` are the same with a price for cloth that has none,
    as where plans are compared. None where nobody reckoned it.
    """

    buys_mm: float
    unused_mm: float
    other: Outcome | None = None
    other_buys_mm: float = 0.0
    is_open: bool = False
    is_aim: bool = False
    is_too_long: bool = False
    flaws_mm: float = 0.0
    promised_mm: float | None = None
    spends: Decimal | None = None
    other_spends: Decimal | None = None
    weighs: Decimal | None = None
    other_weighs: Decimal | None = None

    @property
    def other_saves(self) -> Decimal | None:
        """How much cheaper the other plan is today; negative where it is dearer, None where nobody knows."""
        if self.other is None or self.weighs is None or self.other_weighs is None:
            return None
        return self.weighs - self.other_weighs


@dataclass(frozen=True, slots=True)
class PlanFacts:
    """What the plan of a fabric says of itself.

    `single` is every size in lays of its own, reckoned from `single_lays`; `singles_done` once as many of these have
    been nested as ever will be. `others` are what the other aims would come to, even where that is the same; an aim
    that is missing was not looked at, for want of time. `fewer` says why there are not fewer lays than `best.lays`. It
    rests on `garments` (how many are wanted in all), `most_garments` (that one marker on the table can hold) and
    `most_layers` (that the tool cuts). `reason` is the rule that comes nearest to allowing a lay less; None where no
    single rule does, or there was no time to look. `nested` of `best.lays` lays have lengths that were nested, the
    others are estimates. `gap_share` is how far the plan can be from the best, None where it is the best.

    `plans` are those found for this demand so far, this one first, whatever question they were found for: other
    searches begin from them. `since` is the outcome of a better plan that lays nested after this one was settled made
    known. Where it is the pieces now in stock that did, for a plan made from stock, `since_buys_mm` is what that better
    plan would buy. While the plan is made once more for their sake, `before` is the plan that stood: none that is worse
    takes its place in the end. `stock` is told where the plan buys cloth for want of long pieces, or was made from
    stock. `made_with` are the workroom's figures it was made with, None where nobody noted them.
    """

    best: Outcome
    single: Outcome
    others: tuple[Outcome, ...]
    fewer: WhyNot
    garments: int
    most_garments: int
    most_layers: int
    prices: tuple[PriceOfWish, ...]
    nested: int
    gap_share: float | None
    least_lays: int
    method: str
    how_lengths: str
    reason: Reason | None = None
    single_lays: tuple[SingleLay, ...] = ()
    singles_done: bool = False
    plans: tuple[Sections, ...] = ()
    since: Outcome | None = None
    since_buys_mm: float | None = None
    before: Sections = ()
    stock: FromStock | None = None
    made_with: MadeWith | None = None


def facts_to_json(facts: PlanFacts) -> dict[str, Any]:
    """The facts as data for `json.dump`; money as text."""
    return {
        **asdict(facts),
        "best": _outcome(facts.best),
        "single": _outcome(facts.single),
        "others": [_outcome(one) for one in facts.others],
        "prices": [
            {
                "wish": one.wish,
                "kinds": [list(kind) for kind in one.kinds],
                "without": _outcome(one.without),
                "sure": None if one.sure is None else _outcome(one.sure),
            }
            for one in facts.prices
        ],
        "reason": None if facts.reason is None else asdict(facts.reason),
        "single_lays": [_single(one) for one in facts.single_lays],
        "plans": plans_to_json(facts.plans),
        "since": None if facts.since is None else _outcome(facts.since),
        "before": _sections(facts.before),
        "stock": None if facts.stock is None else _stock(facts.stock),
    }


def facts_from_json(data: Mapping[str, Any]) -> PlanFacts:
    """Reads what :func:`facts_to_json` wrote, also by versions that knew less.

    Raises KeyError where a field is missing.
    """
    return PlanFacts(
        **{
            **data,
            "best": _read_outcome(data["best"]),
            "single": _read_outcome(data["single"]),
            "others": tuple(_read_outcome(one) for one in data["others"]),
            "prices": tuple(
                PriceOfWish(
                    one["wish"],
                    tuple((s, z) for s, z in one["kinds"]),
                    _read_outcome(one["without"]),
                    _read_outcome(one["sure"]) if one.get("sure") else None,
                )
                for one in data["prices"]
            ),
            "reason": _read_reason(data["reason"]) if data.get("reason") else None,
            "single_lays": tuple(_read_single(one) for one in data.get("single_lays", ())),
            "plans": plans_from_json(data.get("plans", ())),
            "since": _read_outcome(data["since"]) if data.get("since") else None,
            "before": tuple(map(_read_section, data.get("before", ()))),
            "stock": _read_stock(data["stock"]) if data.get("stock") else None,
            "made_with": made_with_from_json(data["made_with"]) if data.get("made_with") else None,
        }
    )


def plans_to_json(plans: Iterable[Sections]) -> list[Any]:
    """Plans as data for `json.dump`."""
    return [_sections(plan) for plan in plans]


def plans_from_json(data: Iterable[Any]) -> tuple[Sections, ...]:
    """Plans from their data. Raises TypeError or ValueError where it is none."""
    return tuple(tuple(map(_read_section, plan)) for plan in data)


def _outcome(one: Outcome) -> dict[str, Any]:
    return {**asdict(one), "cost": str(one.cost), "unpriced": str(one.unpriced)}


def _read_outcome(data: Mapping[str, Any]) -> Outcome:
    return Outcome(**{**data, "cost": Decimal(data["cost"]), "unpriced": Decimal(data.get("unpriced", 0))})


#: The fields of :class:`FromStock` that are money.
_SUMS = ("spends", "other_spends", "weighs", "other_weighs")


def _stock(one: FromStock) -> dict[str, Any]:
    sums = ((name, getattr(one, name)) for name in _SUMS)
    money = {name: None if money is None else str(money) for name, money in sums}
    return {**asdict(one), **money, "other": None if one.other is None else _outcome(one.other)}


def _read_stock(data: Mapping[str, Any]) -> FromStock:
    money = {name: Decimal(data[name]) if data.get(name) else None for name in _SUMS}
    other = _read_outcome(data["other"]) if data["other"] else None
    return FromStock(**{**data, **money, "other": other})


def _read_reason(data: Mapping[str, Any]) -> Reason:
    kinds = tuple((style, size) for style, size in data["kinds"])
    more = {name: tuple(data.get(name, ())) for name in ("colours", "lays", "of")}
    alone = _read_reason(data["alone"]) if data.get("alone") else None
    return Reason(**{**data, **more, "kinds": kinds, "alone": alone})


def _sections(plan: Sections) -> list[list[Any]]:
    return [[one.counts, one.way, one.spreads] for one in plan]


def _read_section(data: Sequence[Any]) -> PlannedSection:
    counts, way, spreads = data
    return PlannedSection(tuple(counts), way, tuple(spreads))


def _single(one: SingleLay) -> dict[str, Any]:
    spreads = [[cloth.fabric, cloth.colour, count] for cloth, count in one.spreads]
    return {**asdict(one), "spreads": spreads}


def _read_single(data: Mapping[str, Any]) -> SingleLay:
    garment = {**data["garment"], "options": make_options((d, o) for d, o in data["garment"]["options"])}
    spreads = tuple((ClothKey(fabric, colour), count) for fabric, colour, count in data["spreads"])
    cloth = ClothKey(**data["cloth"])
    return SingleLay(**{**data, "garment": Garment(**garment), "cloth": cloth, "spreads": spreads})
