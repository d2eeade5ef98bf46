"""Why a fabric is laid as it is, what other plans would cost and what a wish costs, in the maker's words."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace

from planner.core.lays.wishes import Outcome, PlanFacts, Reason
from planner.core.listed import listed
from planner.core.units import format_length, format_money
from planner.cutting.cut_plans import is_from_stock
from planner.cutting.plan_words import (
    garments_in_words,
    kinds_in_words,
    lays_in_words,
    length_in_words,
    minutes_in_words,
    percent,
)
from planner.cutting.wording import count_of_plies, to_spread_in_words

#: How a plan is made where the solver is missing or does not run.
PLAIN = "without_solver"
#: From here on nobody knows how far a plan is from the best.
UNKNOWN_GAP = 0.995
#: Said of an aim that comes to what there is already, and of fewest lays where they are the fewest.
SAME_PLAN = "the same plan"
FEWEST_ALREADY, FEWEST_FOUND = "this plan has the fewest already", "this plan has as few as were found"
NOTHING_TO_TAKE = frozenset({SAME_PLAN, FEWEST_ALREADY, FEWEST_FOUND})
#: Estimates compare badly with what is nested: what is saved would be told too high first, and less then.
SAVING_LATER = "What it saves and how good it is are told once the plan is settled."
#: What was proven before its lays were nested holds no longer where they came out otherwise.
GOOD_LATER = "How good it is will be told once the plan is settled."
#: Less cloth or time than this is not worth a word (mm, minutes).
NOTHING_MM, NOTHING_MINUTES = 5.0, 0.5

AIM_WORDS = {
    "money": "Least money",
    "fewest_lays": "Fewest lays",
    "least_cloth": "Least cloth",
    "from_stock": "From stock",
}
#: The proof weighs real lengths where there are some; lays that nobody nested may come out shorter than it thinks.
OTHERS = "if other lays come out as estimated"
_SHORTER = f"{OTHERS}, and less still if some come out shorter"
_PROVEN = {
    "money": f"Proven: no plan costs less, {OTHERS}.",
    "fewest_lays": f"Proven: no plan has fewer lays, and none with as many takes less cloth, {OTHERS}.",
    "least_cloth": f"Proven: no plan takes less cloth, {OTHERS}.",
    "from_stock": f"Proven: no plan of plies that fit what lies in stock costs less, {OTHERS}.",
}
#: What a better plan comes to is told beside the button that has it planned.
SINCE = "lays were nested since this one was settled"
NOT_THE_BEST = f"A better plan is known by now, for {SINCE}."
BUYS_LESS = "By what lies in stock now another plan would buy less."
MAY_BE_BETTER = f"A better plan may be had by now, as far as estimates tell, for {SINCE}."
_COULD = {
    "money": f"Best found; the best possible could cost at most {{share}} less, {_SHORTER}.",
    "fewest_lays": f"Best found; a plan with fewer lays or less cloth may exist, at most {{share}} less, {_SHORTER}.",
    "least_cloth": f"Best found; the best possible could take at most {{share}} less cloth, {_SHORTER}.",
    "from_stock": "Best found of plies that fit what lies in stock; the best possible could cost at most {share} less,"
    f" {_SHORTER}.",
}


def plan_sentences(
    facts: PlanFacts, display: str, currency: str = "", *, follows: bool = False
) -> tuple[str, ...]:
    """What a plan says of itself: what it saves, why it is not fewer lays, how good it is, what its lengths rest on.

    Money is told where a currency is given: not everybody who cuts may see what things cost. `follows`: single sizes
    that are only estimated are being nested, and the saving is told anew then.
    """
    sentences = (
        against_single(facts, display, currency, follows=follows),
        why_not_fewer(facts, display),
        how_good(facts),
        how_made(facts),
        lengths_in_words(facts),
    )
    return tuple(text for text in sentences if text)


def sentences_so_far(facts: PlanFacts, nested: int, display: str) -> tuple[str, ...]:
    """What a plan says of itself that does not stand yet; so many of its lays are `nested` by now."""
    sentences = (
        SAVING_LATER if against_single(facts, display, "") else GOOD_LATER,
        why_not_fewer(facts, display),
        how_made(facts),
        lengths_in_words(replace(facts, nested=nested)),
    )
    return tuple(text for text in sentences if text)


def plans_in_words(
    facts: Mapping[str, PlanFacts], display: str, currency: str = "", *, follows: bool = False
) -> tuple[str, ...]:
    """What the plan of each fabric says of itself, the fabric's name before every sentence; see `plan_sentences`."""
    return tuple(
        f"{fabric}: {sentence}"
        for fabric, of_plan in facts.items()
        for sentence in plan_sentences(of_plan, display, currency, follows=follows)
    )


def outcome_in_words(one: Outcome, display: str, currency: str) -> str:
    """ "2 lays, 5 spreads, 7.8 m of cloth, 52 minutes at the table: 131.20 EUR in all"."""
    money = f": {format_money(one.cost, currency)} in all" if currency else ""
    time = minutes_in_words(one.minutes)
    return f"{_lays_and_cloth(one, one.cloth_mm, display)}, {time} at the table{money}"


def so_far_in_words(one: Outcome, cloth_mm: float, display: str) -> str:
    """ "So far: 2 lays, 5 spreads, 7.8 m of cloth": no more of a plan that does not stand yet, and its cloth as far as
    it is known where its needs are reckoned."""
    return f"So far: {_lays_and_cloth(one, cloth_mm, display)}"


def _lays_and_cloth(one: Outcome, cloth_mm: float, display: str) -> str:
    spreads = f"{one.spreads} {'spread' if one.spreads == 1 else 'spreads'}"
    return f"{lays_in_words(one.lays)}, {spreads}, {to_spread_in_words(cloth_mm / 1000, display)} of cloth"


def against_single(facts: PlanFacts, display: str, currency: str, *, follows: bool = False) -> str:
    """What it saves against every size in lays of its own, and whether those were nested like its own lays.

    "2 lays instead of 5 of single sizes, nested too: saves 1.9 m (14 %) and 40 minutes, 34.80 EUR in all." Where those
    are estimates it saves "about" so much.
    """
    best, single = facts.best, facts.single
    if (best.lays, best.spreads, round(best.cloth_mm)) == (
        single.lays,
        single.spreads,
        round(single.cloth_mm),
    ):
        return ""
    head = f"{lays_in_words(best.lays)} instead of {single.lays} of single sizes"
    if single.lays == best.lays:
        head = f"{lays_in_words(best.lays)}, as many as with single sizes"
    if follows and best.nested == best.lays and is_to_follow(facts):
        return f"{head}; what it saves is told once those are nested too."
    about = ""
    if best.nested == best.lays:
        head += _how_single(facts)
        about = "about " if single.nested < single.lays else ""
    saved, minutes = single.cloth_mm - best.cloth_mm, single.minutes - best.minutes
    gains, losses = [], []
    if abs(saved) >= NOTHING_MM:
        share = abs(saved) / single.cloth_mm if single.cloth_mm else 0.0
        cloth = f"{length_in_words(abs(saved), display)} ({percent(share)})"
        (gains if saved > 0 else losses).append(cloth if saved > 0 else f"{cloth} more cloth")
    if abs(minutes) >= NOTHING_MINUTES:
        time = minutes_in_words(abs(minutes))
        (gains if minutes > 0 else losses).append(time if minutes > 0 else f"{time} more")
    money = single.cost - best.cost
    told = format_money(money, currency) if currency and money > 0 else ""
    if not gains:
        return f"{head}."
    if losses:
        ends = f", {told} less in all" if told else ""
        return f"{head}: saves {about}{' and '.join(gains)} for {' and '.join(losses)}{ends}."
    ends = f", {told} in all" if told else ""
    return f"{head}: saves {about}{' and '.join(gains)}{ends}."


def _how_single(facts: PlanFacts) -> str:
    """What the single sizes rest on that a nested plan is held against: like should be held against like."""
    single = facts.single
    if single.nested >= single.lays:
        return ", nested too" if facts.single_lays else ""
    if single.nested:
        return f" ({single.nested} of those nested too, the others estimated)"
    return " (those as estimated)"


def as_it_is_cut(facts: PlanFacts) -> PlanFacts:
    """What a plan says of itself once cutting has begun: it stays then, whatever better one is known."""
    return replace(facts, since=None)


def is_to_follow(facts: PlanFacts) -> bool:
    """Whether single sizes that the plan is held against are still to be nested."""
    return bool(facts.single_lays) and not facts.singles_done and facts.single.nested < facts.single.lays


def why_not_fewer(facts: PlanFacts, display: str = "metric") -> str:
    """Why there are not fewer lays: the rule that stands against it, with its numbers, where one by itself does.

    A wish of the maker is told before all else, for she can take it back.
    """
    fewer = facts.best.lays - 1
    known = facts.since is not None and facts.since.lays <= fewer
    if facts.fewer == "one" or fewer < 1 or known:
        return ""
    if facts.fewer in ("counting", "proven") and facts.reason is not None:
        return f"It cannot be done in {fewer}{reason_in_words(facts.reason, display)}{_if(facts)}."
    if facts.fewer == "counting":
        needed = math.ceil(facts.garments / (fewer * facts.most_layers))
        which = "the marker" if fewer == 1 else "a marker"
        plies = count_of_plies(facts.most_layers)
        return (
            f"It cannot be done in {fewer}: with at most {plies} {which} would need {garments_in_words(needed)}, and "
            f"the table takes {facts.most_garments}{_if(facts)}."
        )
    if facts.fewer == "dearer":
        least = min((other.lays for other in facts.others if other.lays <= fewer), default=fewer)
        more = "takes more cloth" if facts.best.aim == "least_cloth" else "costs more"
        if is_from_stock(facts):
            more = "takes plies longer than what lies in stock, or costs more"
        return f"It could be done in {least}, but that {more}."
    if facts.fewer == "proven":
        lays = "every lay that could be cut leaves garments over or cuts too many"
        if fewer > 1:
            lays = f"any {fewer} lays that could be cut leave garments over or cut too many"
        chosen = " with all that you chose" if facts.prices else ""
        return f"It cannot be done in {fewer}{chosen}: {lays}{_if(facts)}."
    if 0 < facts.least_lays < facts.best.lays:
        if facts.least_lays > 1:
            return f"Whether fewer lays would do is not known; at least {facts.least_lays} are needed."
        return f"Whether {'1 lay' if fewer == 1 else 'fewer lays'} would do is not known."
    return ""


def _if(facts: PlanFacts) -> str:
    """The proof holds lengths against the table that nobody nested, unless the numbers wanted are all that counts."""
    reason = facts.reason
    if reason is not None and reason.rule in ("colours", "same_in_all_colours") and not reason.lays:
        return ""
    all_fit = facts.fewer == "counting" and facts.most_garments >= facts.garments
    return "" if all_fit else f", {OTHERS}"


def reason_in_words(reason: Reason, display: str) -> str:
    """What follows "It cannot be done in 3": the rule, and where it would be possible."""
    has, would = round(reason.has), round(reason.would)
    kinds = kinds_in_words(reason.kinds, with_style=reason.with_style) if reason.kinds else ""
    if reason.rule == "keep":
        return " with the lays you keep; without keeping them it could"
    if reason.rule == "apart":
        return f" with {kinds} never together; without that it could"
    if reason.rule == "together":
        return f" with {kinds} always together; without that it could"
    if reason.rule == "own_plies":
        return f" with at most {count_of_plies(has)}, as you chose; with {would} it could"
    if reason.rule == "plies":
        return f" with {count_of_plies(has)}, the most your tool cuts; with {would} it could"
    if reason.rule == "table":
        longer = format_length(math.ceil(reason.would / 10) * 10, display=display, kind="cloth")  # type: ignore[arg-type]
        return f" on a table of {length_in_words(reason.has, display)}; on one of {longer} it could"
    if reason.rule == "rolls":
        return f" from rolls that give {length_in_words(reason.has, display)}; from longer ones it could"
    if reason.rule == "exact":
        return f" with just the garments wanted; with {_counted(reason)} more it could"
    if reason.rule == "colours":
        which = " and ".join(reason.colours) or "some colours"
        return f": {which} are cut to different pieces and cannot share a lay{_of_each(reason, display)}"
    return ": one lay cuts the same sizes from every colour, and here each colour needs others"


def _of_each(reason: Reason, display: str) -> str:
    """How many lays each colour needs, and why it does not do with one less: "; each needs 2: ink cannot be cut in 1 on
    a table of 4.2 m; on one of 5.3 m it could". "" where each needs one alone."""
    if not reason.lays:
        return ""
    names = reason.colours if len(reason.colours) == len(reason.lays) else ()
    if len(set(reason.lays)) == 1:
        needs = f"each needs {reason.lays[0]}"
    elif names:
        needs = listed([f"{name} needs {n}" for name, n in zip(names, reason.lays, strict=True)])
    else:
        needs = f"by themselves they need {listed([str(n) for n in reason.lays])}"
    if reason.alone is None:
        return f", and {needs}"
    fewer = max(reason.lays) - 1
    return (
        f", and {needs}: {listed(reason.of)} cannot be cut in {fewer}{reason_in_words(reason.alone, display)}"
    )


def _counted(reason: Reason) -> str:
    """ "1 × S and 2 × M", with the style's number where there are several."""
    counts = Counter(reason.kinds)
    words = [f"{n} × {kinds_in_words([kind], with_style=reason.with_style)}" for kind, n in counts.items()]
    return listed(words)


def how_good(facts: PlanFacts) -> str:
    """Proven, or how far it can be from the best; or that a better plan is known by now."""
    if facts.since_buys_mm is not None:
        return BUYS_LESS
    if facts.since is not None:
        return NOT_THE_BEST if facts.since.nested >= facts.since.lays else MAY_BE_BETTER
    aim = "from_stock" if is_from_stock(facts) else facts.best.aim
    if facts.gap_share is None:
        return _PROVEN.get(aim, _PROVEN["money"])
    if facts.gap_share >= UNKNOWN_GAP:
        return "How far it is from the best is not known."
    return _COULD.get(aim, _COULD["money"]).format(share=percent(facts.gap_share, least=True))


def how_made(facts: PlanFacts) -> str:
    """Said where the plan was not made as it should be."""
    if facts.method == PLAIN:
        return (
            "This is a simple plan: the solver that finds better ones is missing on this computer or did not run. "
            "It can be cut as it is."
        )
    return ""


def lengths_in_words(facts: PlanFacts) -> str:
    """Which lengths are nested and which are estimates."""
    lays, nested = facts.best.lays, facts.nested
    how = f", reckoned from {facts.how_lengths}" if facts.how_lengths else ""
    if nested >= lays:
        return "Its own lengths are all nested." if lays > 1 else "Its own length is nested."
    if nested == 0:
        return f"{'All lengths are estimates' if lays > 1 else 'Its length is an estimate'}{how}."
    rest = lays - nested
    others = "the other is an estimate" if rest == 1 else "the others are estimates"
    return f"{nested} of {lays} lengths {'is' if nested == 1 else 'are'} nested, {others}{how}."
