"""Seams that the pieces of a style probably have, from the names, lengths and counts of their edges.

Fronts meet backs at shoulder and side, sleeve heads go into armholes, bands and facings onto openings, what is left is
hemmed. How often a seam occurs and how many edges it takes follow from how often its edges occur; how its second
side is made to fit, from their measured lengths. Habits of the trade (common practice), offered to be confirmed: what
the names do not tell, or the lengths speak against, is left out. The rules stand in
:mod:`propose_rules` and :mod:`propose_strips`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from statistics import fmean

from planner.core import propose_rules as rules
from planner.core import propose_strips as strips
from planner.core.propose_offers import Join, Offer, Rule, Step
from planner.core.seam_counts import counted
from planner.core.spec import EdgeRef, Fullness, Option, PieceSpec, SeamSpec, StyleSpec
from planner.core.walk import SeamWalk, walk_seam, walk_seams

LONGEST_NAME = 60
#: Side 2 is longer than side 1 by more than this share: it is gathered, not eased (common practice).
MOST_EASE = 0.12
#: A sleeve head is seldom gathered by less: such a seam is looked at first, the draft may be wrong (common practice).
LEAST_GATHERED = 0.3
#: Options are chosen in more ways than this: nothing is worked out for the seam.
MOST_WAYS = 600

#: In this order: later rules see which edges earlier ones have taken.
RULES: tuple[Rule, ...] = (
    rules.shoulders, rules.sides, rules.centres, rules.yokes, rules.sleeves, rules.necks, strips.bands,
    strips.openings_to_measure, strips.band_joins, rules.pockets, rules.hems,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class ProposedSeam:
    """A seam as it is probably sewn; `seam.operation` is the name of `step`.

    `reason` says what it was told from. `walks` measure it, once for each choice of options that changes it. `sure` is
    False where it had better be looked at: it does not fit in some size, or another piece would fit there too.
    """

    kind: str
    seam: SeamSpec
    step: Step
    reason: str
    walks: tuple[SeamWalk, ...]
    sure: bool = True

    @property
    def key(self) -> str:
        """What tells it from other proposals: the edges it joins."""
        return "; ".join(
            f"{ref.side} {ref.takes} {ref.piece}: {ref.edge}"
            for ref in sorted(self.seam.edges, key=lambda ref: (ref.side, ref.piece, ref.edge))
        )

    @property
    def fits(self) -> bool:
        """Whether its sides fit in every size and way."""
        return all(walk.ok for walk in self.walks)


def propose_seams(style: StyleSpec) -> tuple[ProposedSeam, ...]:
    """The seams the style has not yet but probably should, in sewing order."""
    found: list[ProposedSeam] = []
    taken = {(ref.piece, ref.edge) for seam in style.seams for ref in seam.edges}
    for rule in RULES:
        for offer in rule(style.pieces, frozenset(taken)):
            for proposed in _from_offer(offer, style):
                found.append(proposed)
                taken |= {(ref.piece, ref.edge) for ref in proposed.seam.edges}
    return tuple(_well_named(_rivals(sorted(found, key=lambda one: one.step.place)), style))


# --- from an offer to seams -------------------------------------------------------------------------------


def _from_offer(offer: Offer, style: StyleSpec) -> Iterator[ProposedSeam]:
    """The seams of one offer: one for all garments, or one for each option that has its own edges."""
    joins = _joins(offer, style)
    if offer.measures is not None:
        joins = [join for join in joins if not _is_measured(join, offer.measures, style)]
        groups = [(offer.measures.option, joins)] if joins else []
    else:
        groups = _by_option([join for join in joins if not _is_there(join, style)])
    for option, group in groups:
        proposed = _proposed(offer, option, group, style, several=len(groups) > 1)
        if proposed is not None:
            yield proposed


def _joins(offer: Offer, style: StyleSpec) -> list[Join]:
    """What the offer joins, for each choice of options that leaves it other edges."""
    details = dict.fromkeys(p.piece.option[0] for p in offer.places if p.piece.option is not None)
    choices = [[(detail, option) for option in style.details.get(detail, ())] for detail in details]
    found: dict[Join, None] = {}
    for number, chosen in enumerate(product(*choices)):
        if number >= MOST_WAYS:
            return []
        if style.clashes_in(chosen):
            continue
        there = [p for p in offer.places if p.piece.option is None or p.piece.option in chosen]
        join = offer.join(there)
        if join is not None:
            found[join] = None
    return list(found)


def _is_there(join: Join, style: StyleSpec) -> bool:
    """Whether seams of the style join these edges already."""
    used = {(ref.piece, ref.edge) for seam in style.seams for ref in seam.edges}
    one, two = ({edge.key for edge in side} for side in (join.first, join.second))
    if not two or len({edge.piece.name for edge in join.edges}) == 1:
        return bool(used & (one | two)) if two else one <= used
    met: set[tuple[str, str]] = set()
    for seam in style.seams:
        for mine, theirs in ((one, two), (two, one)):
            here = ({(ref.piece, ref.edge) for ref in seam.side(number)} for number in (1, 2))
            first, second = here
            if first & mine and second & theirs:
                met |= (first & mine) | (second & theirs)
    return one | two <= met


def _is_measured(join: Join, band: PieceSpec, style: StyleSpec) -> bool:
    """Whether a seam of the garments that have the band goes along this opening already."""
    opening = {edge.key for edge in join.first}
    sides = (seam.side(1) for seam in style.seams if seam.option in (None, band.option))
    return any({(ref.piece, ref.edge) for ref in side} == opening for side in sides)


def _by_option(joins: Sequence[Join]) -> list[tuple[Option | None, list[Join]]]:
    """Joins that become one seam, with the option that it belongs to.

    Where each has edges of at most one option, each is a seam of that option: a closed and a split back. Else the edges
    of the options are alternatives in one seam: any front with any back.
    """
    if not joins:
        return []
    of_each = [join.options for join in joins]
    common = frozenset.intersection(*of_each)
    nested = any(a is not b and a.keys < b.keys for a in joins for b in joins)
    if len(joins) > 1 and not common and not nested and all(len(options) <= 1 for options in of_each):
        return [(next(iter(options), None), [join]) for options, join in zip(of_each, joins, strict=True)]
    own = {o for join in joins for edge in join.second if (o := edge.piece.option) is not None} & common
    return [(min(own or common) if common else None, list(joins))]


def _proposed(
    offer: Offer, option: Option | None, joins: Sequence[Join], style: StyleSpec, *, several: bool
) -> ProposedSeam | None:
    edges = _refs(joins, halves=offer.layers)
    if edges is None:
        return None
    times, refs = edges
    name = f"{offer.name}, {option[1]}" if several and option is not None else offer.name
    seam = SeamSpec(name, option, refs, times, offer.step.name)
    fitted = _fitted(offer, seam, style)
    if fitted is None:
        return None
    seam, walks = fitted
    proposed = ProposedSeam(offer.kind, seam, offer.step, offer.reason, walks, offer.sure)
    if offer.kind == "sleeve" and seam.fullness == "gathered" and seam.ratio < 1 + LEAST_GATHERED:
        longer = f"the head is {(seam.ratio - 1) * 100:.0f} % longer than the armhole: is it gathered?"
        return replace(proposed, sure=False, reason=f"{offer.reason}; {longer}")
    return proposed if proposed.fits else replace(proposed, sure=False)


def _refs(joins: Sequence[Join], *, halves: bool) -> tuple[int, tuple[EdgeRef, ...]] | None:
    """(times, edges with what one seam takes of each); None where the joins do not agree, or an edge is missing."""
    times: set[int] = set()
    refs: dict[tuple[int, tuple[str, str]], EdgeRef] = {}
    for join in joins:
        # An edge on both sides is shared between them: two ends of a band make one join.
        shared = {edge.key for edge in join.first} & {edge.key for edge in join.second}
        sides = [(1, edge) for edge in join.first] + [(2, edge) for edge in join.second]
        there = [
            edge.occurs // (2 if edge.key in shared else 1) // (2 if halves and side == 2 else 1)
            for side, edge in sides
        ]
        together = counted(there)
        if together is None:
            return None
        times.add(together.times)
        for (side, edge), takes in zip(sides, together.takes, strict=True):
            ref = EdgeRef(edge.piece.name, edge.name, side, takes)
            if refs.setdefault((side, edge.key), ref) != ref:
                return None
    if len(times) != 1:
        return None
    return times.pop(), tuple(sorted(refs.values(), key=lambda ref: ref.side))


def _fitted(offer: Offer, seam: SeamSpec, style: StyleSpec) -> tuple[SeamSpec, tuple[SeamWalk, ...]] | None:
    """The seam made to fit as its measured lengths say; None where they speak against it, or nothing is measured."""
    walks = _walks(seam, style)
    measured = [size for walk in walks for size in walk.sizes]
    if not measured:
        return None
    if not seam.side(2):
        return seam, walks
    ratio = fmean(size.ratio_found for size in measured)
    if not offer.share[0] <= ratio <= offer.share[1]:
        return None
    if all(walk.ok for walk in walks):
        return seam, walks
    fullness = _fullness(ratio)
    if not fullness:
        return seam, walks
    made = replace(seam, ratio=round(ratio, 3), fullness=fullness)
    if made.ratio == 1.0:
        return seam, walks
    return made, _walks(made, style)


def _walks(seam: SeamSpec, style: StyleSpec) -> tuple[SeamWalk, ...]:
    """The walks of a seam; of one without options a single one, which is much cheaper."""
    pieces = {piece.name: piece for piece in style.pieces}
    if seam.option is None and all(pieces[ref.piece].option is None for ref in seam.edges):
        return (walk_seam(seam, style, ()),)
    return walk_seams(replace(style, seams=(seam,)))


def _fullness(ratio: float) -> Fullness:
    if ratio < 1:
        return "stretched"
    return "eased" if ratio <= 1 + MOST_EASE else "gathered"


# --- all together -----------------------------------------------------------------------------------------


def _rivals(found: Sequence[ProposedSeam]) -> Iterator[ProposedSeam]:
    """Where two pieces are offered for the same opening of the same garments, neither is sure."""
    for one in found:
        others = [
            other
            for other in found
            if other is not one
            and one.kind == other.kind
            and one.kind in ("sleeve", "band", "cuff")
            and other.seam.option == one.seam.option
            and _first(one) == _first(other)
        ]
        if not others:
            yield one
            continue
        names = " and ".join(dict.fromkeys(ref.piece for other in others for ref in other.seam.side(2)))
        yield replace(
            one, sure=False, reason=f"{one.reason}; {names} would fit there too: is each an option?"
        )


def _first(one: ProposedSeam) -> set[tuple[str, str]]:
    return {(ref.piece, ref.edge) for ref in one.seam.side(1)}


def _well_named(found: Iterable[ProposedSeam], style: StyleSpec) -> Iterator[ProposedSeam]:
    """Each with a name that no other seam has, and that is not too long."""
    seen = {seam.name.lower() for seam in style.seams}
    for one in found:
        name, number = one.seam.name[:LONGEST_NAME].strip(), 2
        while name.lower() in seen:
            name = f"{one.seam.name[: LONGEST_NAME - 4].strip()} {number}"
            number += 1
        seen.add(name.lower())
        yield replace(one, seam=replace(one.seam, name=name))


def option_of(proposed: Iterable[ProposedSeam]) -> Option | None:
    """The option of an operation that sews these: that of all of them, None where they are of several or of none."""
    options = {one.seam.option for one in proposed}
    return options.pop() if len(options) == 1 else None
