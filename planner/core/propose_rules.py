"""Front to back, yokes, sleeves, facings, collars, pockets and hems: which edges are sewn together.

Habits of the trade (common practice), without a published source. Bands stand in :mod:`propose_strips`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

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
    given,
    having,
    onto,
    opening,
    places_of,
)  # fmt: skip
from planner.core.spec import PieceSpec

# --- front to back ----------------------------------------------------------------------------------------


def _front_to_back(*names: str) -> Callable[[Sequence[Place]], Join | None]:
    """One front edge to one back edge; where a garment has several it cannot be told which."""

    def join(there: Sequence[Place]) -> Join | None:
        front, back = (having(there, *names, half=half) for half in ("front", "back"))
        return Join(tuple(front), tuple(back)) if len(front) == len(back) == 1 else None

    return join


def _alike(places: Iterable[Place]) -> list[tuple[Place, ...]]:
    """Pieces by what their names say besides front and back: bodices with bodices, skirts with skirts.

    All of them together where that would leave a front without a back.
    """
    every = tuple(place for place in places if place.half)
    by_rest: dict[frozenset[str], list[Place]] = {}
    for place in every:
        by_rest.setdefault(place.words - {"front", "back"}, []).append(place)
    groups = [tuple(group) for group in by_rest.values()]
    whole = all({place.half for place in group} == {"front", "back"} for group in groups)
    return groups if whole and len(groups) > 1 and not _options(every) else [every]


def _options(places: Iterable[Place]) -> bool:
    return any(place.piece.option is not None for place in places)


def shoulders(pieces: Sequence[PieceSpec], taken: Taken) -> Iterator[Offer]:
    """Front shoulder to back shoulder; those of facings likewise."""
    body = tuple(place for place in places_of(pieces, *TOPS) if place.edge("shoulder"))
    yield Offer(
        "shoulder", "shoulder", Step("join shoulders", OVERLOCK, "504", 40),
        "front shoulder to back shoulder", body, _front_to_back("shoulder"),
    )  # fmt: skip
    for kind in ("neck facing", "armhole facing", "facing"):
        faced = places_of(pieces, kind)
        yield Offer(
            "facing join", f"{kind} shoulder", Step("join the facings", SEWING, "301", 48),
            "front facing to back facing, where they end at the shoulder", faced,
            _front_to_back("shoulder", "end"),
        )  # fmt: skip


def sides(pieces: Sequence[PieceSpec], taken: Taken) -> Iterator[Offer]:
    """Front side to back side, inseam to inseam."""
    sleeves = bool(places_of(pieces, "sleeve"))
    step = Step("close sides and underarms" if sleeves else "close sides", OVERLOCK, "504", 70)
    sided = [place for place in places_of(pieces, *TOPS, *BOTTOMS) if place.edge("side")]
    for group in _alike(sided):
        yield Offer("side", "side", step, "front side to back side", group, _front_to_back("side"))
    legs = places_of(pieces, *TOPS, *BOTTOMS)
    step = Step("close the inseams", OVERLOCK, "504", 72)
    yield Offer("inseam", "inseam", step, "front inseam to back inseam", legs, _front_to_back("inseam"))


def centres(pieces: Sequence[PieceSpec], taken: Taken) -> Iterator[Offer]:
    """A left and a right half at the centre front or back."""
    for place in places_of(pieces, *TOPS, *BOTTOMS):
        edge = place.edge("centre front", "centre back", "centre")
        if edge is None or not place.piece.pair or edge.key in taken:
            continue
        where = edge.name if " " in edge.name else f"centre {place.half}".strip()
        yield Offer(
            "centre", where, Step(f"close the {where}", OVERLOCK, "504", 20),
            f"left and right half of {place.piece.name} meet there, unless it opens there", (place,),
            both(edge), sure=place.half != "front",
        )  # fmt: skip


# --- onto openings ----------------------------------------------------------------------------------------


def yokes(pieces: Sequence[PieceSpec], taken: Taken) -> Iterator[Offer]:
    """A yoke to the body below it, which may be gathered."""
    yoked = [place for place in places_of(pieces, *TOPS) if place.edge("yoke edge")]
    for half in ("front", "back"):
        here = tuple(place for place in yoked if place.half == half)

        def join(there: Sequence[Place]) -> Join | None:
            first = having((p for p in there if p.kind == "yoke"), "yoke edge")
            second = having((p for p in there if p.kind == "body"), "yoke edge")
            return Join(tuple(first), tuple(second)) if len(first) == len(second) == 1 else None

        step = Step(f"set the {half} yoke", OVERLOCK, "504", 30)
        yield Offer("yoke", f"{half} yoke", step, "the body below to the yoke", here, join, (0.9, 3.5))


def sleeves(pieces: Sequence[PieceSpec], taken: Taken) -> Iterator[Offer]:
    """Sleeve heads into armholes, and the underarms of sleeves."""
    body = places_of(pieces, *TOPS)
    every = [place for place in places_of(pieces, "sleeve") if place.edge(*ALSO_CALLED["sleeve head"])]
    several = len(every) > 1
    for sleeve in every:
        head = sleeve.edge(*ALSO_CALLED["sleeve head"])
        assert head is not None
        # An upper and an under sleeve go into one armhole together: how, their names do not tell.
        name = f"armhole, {sleeve.piece.name}" if several else "armhole"
        yield Offer(
            "sleeve", name, Step("set the sleeves", OVERLOCK, "504", 60), "sleeve head to front and back armhole",
            (*body, sleeve), onto(opening(TOPS, ("armhole",)), head), (0.9, 2.5),
        )  # fmt: skip
    step = Step("close sides and underarms", OVERLOCK, "504", 70)
    for sleeve in places_of(pieces, "sleeve"):
        name = f"underarm, {sleeve.piece.name}" if several else "underarm"
        front, back = sleeve.edge("front underarm"), sleeve.edge("back underarm")
        same = sleeve.edge("underarm")
        if front and back:
            yield Offer("underarm", name, step, "front to back underarm", (sleeve,), both(front, back))
        elif same and same.occurs == 2 * sleeve.piece.count:
            yield Offer("underarm", name, step, "the two underarms of a sleeve", (sleeve,), both(same))


def necks(pieces: Sequence[PieceSpec], taken: Taken) -> Iterator[Offer]:
    """Facings and collars onto necklines, facings onto armholes."""
    body = places_of(pieces, *TOPS)
    for place in places_of(pieces, "neck facing", "facing", "armhole facing"):
        for name, where in (("neckline", "neck"), ("armhole", "armholes")):
            edge = place.edge(*ALSO_CALLED.get(name, (name,)))
            if edge is not None:
                half = f"{place.half} {name}".strip()
                yield Offer(
                    "facing", place.piece.name, Step(f"face the {where}", SEWING, "301", 54),
                    f"facing to the {half}", (*body, place), onto(opening(TOPS, (name,), place.half), edge),
                    (0.9, 1.1),
                )  # fmt: skip
    for place in places_of(pieces, "collar"):
        edge = place.edge(*ALSO_CALLED["neckline"])
        if edge is not None:
            yield Offer(
                "collar", place.piece.name, Step(f"set the {place.piece.name}", OVERLOCK, "504", 52),
                "collar to the whole neckline", (*body, place), onto(opening(TOPS, ("neckline",)), edge),
                (0.8, 1.3), layers=place.piece.count % 4 == 0,
            )  # fmt: skip


# --- edges that stay alone --------------------------------------------------------------------------------


def pockets(pieces: Sequence[PieceSpec], taken: Taken) -> Iterator[Offer]:
    """The opening of a pocket turned in, its other edges sewn down."""
    for place in places_of(pieces, "pocket"):
        name, opening = place.piece.name, place.edge("opening")
        if opening is not None and opening.key not in taken:
            step = Step("hem the pockets", COVER, "406", 8)
            yield Offer(
                "hem", f"{name} opening", step, "the opening is turned in", (place,), alone(given(opening))
            )
        rest = [e for n in place.edge_names if n != "opening" and (e := place.edge(n)) is not None]
        if rest and opening is not None:
            step = Step("set the pockets", SEWING, "301", 10)
            yield Offer(
                "pocket", name, step, "sewn down along its other edges", (place,), alone(given(*rest))
            )


def hems(pieces: Sequence[PieceSpec], taken: Taken) -> Iterator[Offer]:
    """Hems of body and sleeves that no band finishes, and the outer edges of facings."""

    def free(*kinds: str, names: Sequence[str]) -> Callable[[Sequence[Place]], list[Edge]]:
        return lambda there: [
            edge for edge in having((p for p in there if p.kind in kinds), *names) if edge.key not in taken
        ]

    body = places_of(pieces, *TOPS, *BOTTOMS)
    step = Step("hem the body", COVER, "406", 90)
    yield Offer("hem", "body hem", step, "hems of front and back that no band finishes", body,
                alone(free(*TOPS, *BOTTOMS, names=("hem",))))  # fmt: skip
    step = Step("hem the sleeves", COVER, "406", 88)
    for place in places_of(pieces, "sleeve"):
        yield Offer("hem", f"{place.piece.name} hem", step, "the sleeve’s end that no cuff finishes", (place,),
                    alone(free("sleeve", names=("sleeve hem", "hem"))))  # fmt: skip
    step = Step("neaten the facings", OVERLOCK, "504", 50)
    for place in places_of(pieces, "neck facing", "armhole facing", "facing"):
        yield Offer("neatening", f"{place.piece.name} edge", step, "the outer edge is neatened", (place,),
                    alone(free("neck facing", "armhole facing", "facing", names=("outer edge",))))  # fmt: skip
