"""Bands, cuffs, bindings, casings and tapes: onto which openings they are sewn, and how their ends are joined.

Habits of the trade (common practice), without a published source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from planner.core.propose_offers import (
    ALSO_CALLED,
    BOTTOMS,
    COVER,
    OVERLOCK,
    SEWING,
    TOPS,
    Edge,
    Join,
    Offer,
    Place,
    Step,
    Taken,
    alone,
    both,
    having,
    onto,
    opening,
    places_of,
)  # fmt: skip
from planner.core.spec import PieceSpec

#: Strips that close no ring.
_OPEN_STRIPS = frozenset({"tape", "tie", "strap", "loop", "belt", "placket", "stay"})


# --- strips -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Strip:
    """A band, cuff, binding, casing or tape with the edge that is sewn to an opening."""

    place: Place
    edge: Edge
    where: str


#: Openings by what a strip, or its edge, is called after: words, the opening's name.
_STRIP_WORDS = (
    (("cuff", "sleeve", "wrist"), "cuff edge"), (("neck", "neckline", "neckband"), "neckline"),
    (("waist", "waistband"), "waist"), (("armhole",), "armhole"), (("hem", "hemband"), "hem"),
    (("front",), "front edge"),
)  # fmt: skip


def _strips(pieces: Sequence[PieceSpec]) -> list[_Strip]:
    found = []
    for place in places_of(pieces, "strip"):
        for words, where in _STRIP_WORDS:
            edge = place.edge(*ALSO_CALLED.get(where, (where,)))
            if edge is None and place.words & set(words):
                long = place.edge("long edge")
                # Both long sides of a straight strip have that name; one of them is sewn on.
                edge = None if long is None else Edge(long.piece, long.name, long.occurs // 2)
            if edge is not None:
                found.append(_Strip(place, edge, where))
                break
    return found


def bands(pieces: Sequence[PieceSpec], taken: Taken) -> Iterator[Offer]:
    """Bands, bindings, casings and tapes onto the openings they are called after; cuffs onto sleeves."""
    body = places_of(pieces, *TOPS, *BOTTOMS)
    for strip in _strips(pieces):
        if strip.where == "cuff edge":
            yield from _cuff(strip, places_of(pieces, "sleeve"))
            continue
        kinds = (*TOPS, *BOTTOMS) if strip.where in ("hem", "waist") else TOPS
        names = ("front edge", "neckline") if strip.where == "front edge" else (strip.where,)
        half = strip.place.half if strip.where == "neckline" else ""
        where = f"{half} {strip.where}".strip() if half else f"whole {strip.where}"
        yield Offer(
            "band", strip.place.piece.name, _band_step(strip), f"{strip.place.piece.name} to the {where}",
            (*body, strip.place), onto(opening(kinds, names, half), strip.edge), (0.55, 1.1),
        )  # fmt: skip


def openings_to_measure(pieces: Sequence[PieceSpec], taken: Taken) -> Iterator[Offer]:
    """Openings that a band without outlines is called after: how long it is cut follows from the seam along them."""
    for strip in places_of(pieces, "strip"):
        where = next((where for words, where in _STRIP_WORDS if strip.words & set(words)), "")
        if not strip.piece.is_band or strip.edge_names or where in ("", "front edge"):
            continue
        name = strip.piece.name
        if where == "cuff edge":
            kinds: tuple[str, ...] = ("sleeve",)
            edges: Callable[[Sequence[Place]], list[Edge]] = _sleeve_ends
            step = Step("set the cuffs", OVERLOCK, "504", 76)
        else:
            kinds = (*TOPS, *BOTTOMS) if where in ("hem", "waist") else TOPS
            edges = opening(kinds, (where,), strip.half if where == "neckline" else "")
            step = _step_of(strip, where)
        yield Offer(
            "opening", name, step, f"the opening that {name} is cut to", places_of(pieces, *kinds),
            alone(edges), measures=strip.piece,
        )  # fmt: skip


def _band_step(strip: _Strip) -> Step:
    return _step_of(strip.place, strip.where)


def _step_of(strip: Place, where: str) -> Step:
    name = strip.piece.name
    place = {"waist": 80, "hem": 82}.get(where, 52)
    if strip.words & {"tape", "stay"}:
        return Step(f"sew on the {name}", SEWING, "301", 56)
    if "binding" in strip.words:
        return Step(f"bind with the {name}", COVER, "406", place)
    return Step(f"set the {name}", OVERLOCK, "504", place)


def _sleeve_ends(there: Sequence[Place]) -> list[Edge]:
    return having(there, "sleeve edge", *ALSO_CALLED["sleeve end"])


def _cuff(strip: _Strip, sleeves: tuple[Place, ...]) -> Iterator[Offer]:
    """A cuff that is stretched to the sleeve's end; where that would be too far, the sleeve is gathered to the cuff."""
    step, name = Step("set the cuffs", OVERLOCK, "504", 76), strip.place.piece.name

    def ends(there: Sequence[Place]) -> list[Edge]:
        named = having((p for p in there if p.kind == "sleeve"), "cuff edge", "sleeve edge")
        found = named or having((p for p in there if p.kind == "sleeve"), *ALSO_CALLED["sleeve end"])
        return found if len(found) == 1 else []

    def gathered(there: Sequence[Place]) -> Join | None:
        found = ends(there)
        here = any(p.piece.name == name for p in there)
        return Join((strip.edge,), tuple(found)) if found and here else None

    places = (*sleeves, strip.place)
    yield Offer(
        "cuff", name, step, "cuff to the end of the sleeve", places, onto(ends, strip.edge), (0.65, 1.05)
    )
    yield Offer("cuff", name, step, "the sleeve’s end to the cuff", places, gathered, (1.55, 4.0))


def band_joins(pieces: Sequence[PieceSpec], taken: Taken) -> Iterator[Offer]:
    """The ends of bands that go all the way round, joined into a ring; two halves of one joined at the centre."""
    opens = any(place.edge("front edge") for place in places_of(pieces, *TOPS))
    for strip in _strips(pieces):
        place = strip.place
        if (
            place.words & _OPEN_STRIPS
            or strip.edge.key not in taken
            or (place.half and strip.where == "neckline")
        ):
            continue
        halves = place.piece.count > 1 and strip.where not in ("cuff edge", "armhole")
        one, back = place.edge("join"), place.edge("join back")
        end = place.edge("end", "ends")
        if opens and strip.where not in ("cuff edge", "armhole") and not halves:
            continue  # it ends at the front edges
        if one and back:
            # Two halves that do not meet at the front have one join between them.
            join = both(one) if halves and opens else both(one, back)
        elif end and end.occurs % 2 == 0 and not (halves and opens):
            join = both(end)
        else:
            continue
        rank = {"cuff edge": 74, "waist": 78, "hem": 78}.get(strip.where, 50)
        name = place.piece.name
        cuffs = strip.where == "cuff edge"
        step = Step("close the cuffs" if cuffs else f"close the {name}", OVERLOCK, "504", rank)
        reason = "its two halves meet in one join" if halves and opens else "its ends are joined into a ring"
        yield Offer("join", f"{name} join", step, reason, (place,), join)
