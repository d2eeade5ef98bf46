"""What a rule for seams offers: pieces as their names tell of them, and which of their edges may be joined.

An :class:`Offer` says, for the pieces that a garment really has, which edges meet.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from planner.core.alternatives import words_of
from planner.core.edge_names import piece_kind
from planner.core.seam_counts import edge_names, occurs
from planner.core.spec import Option, PieceSpec

Taken = frozenset[tuple[str, str]]

OVERLOCK, COVER, SEWING = "overlock", "coverstitch", "sewing machine"
#: What edges are called besides their usual names.
ALSO_CALLED = {
    "neckline": ("neckline", "neck edge", "neck"),
    "sleeve head": ("sleeve head", "head", "cap"),
    "sleeve end": ("cuff edge", "sleeve hem", "sleeve edge", "hem"),
    "cuff edge": ("cuff edge", "sleeve edge", "sleeve hem"),
}
TOPS, BOTTOMS = ("body", "yoke"), ("skirt", "trousers")


@dataclass(frozen=True, slots=True)
class Step:
    """The operation that probably sews a seam; `place` is its rank in the usual order of sewing."""

    name: str
    machine: str
    stitch_type: str
    place: int


@dataclass(frozen=True)
class Edge:
    """An edge of a piece and how often it occurs in a garment."""

    piece: PieceSpec
    name: str
    occurs: int

    @property
    def key(self) -> tuple[str, str]:
        """(piece, edge)."""
        return self.piece.name, self.name

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Edge) and self.key == other.key


@dataclass(frozen=True)
class Join:
    """The edges on the two sides of a seam; one with a single side has no second."""

    first: tuple[Edge, ...]
    second: tuple[Edge, ...] = ()

    @property
    def edges(self) -> tuple[Edge, ...]:
        """All of them."""
        return (*self.first, *self.second)

    @property
    def keys(self) -> frozenset[tuple[str, str]]:
        """(piece, edge) of all."""
        return frozenset(edge.key for edge in self.edges)

    @property
    def options(self) -> frozenset[Option]:
        """The options that its pieces belong to."""
        return frozenset(edge.piece.option for edge in self.edges if edge.piece.option is not None)


@dataclass(frozen=True)
class Place:
    """A piece with what its name says of it."""

    piece: PieceSpec

    @cached_property
    def kind(self) -> str:
        """What kind of piece it is; see :func:`piece_kind`."""
        return piece_kind(self.piece.name)

    @cached_property
    def words(self) -> frozenset[str]:
        """The words of its name."""
        return frozenset(words_of(self.piece.name))

    @property
    def half(self) -> str:
        """Front or back, "" where its name says neither or both."""
        named = self.words & {"front", "back"}
        return next(iter(named)) if len(named) == 1 else ""

    def edge(self, *names: str) -> Edge | None:
        """The first of these edges that it has. Of a strip with two edges of one name one is sewn to an opening."""
        for name in names:
            there = occurs(self.piece, name)
            if there:
                return Edge(self.piece, name, there)
        return None

    @property
    def edge_names(self) -> tuple[str, ...]:
        """The names of its edges, each once."""
        return edge_names(self.piece)


@dataclass(frozen=True)
class Offer:
    """What a rule offers: among `places`, `join` picks those edges that a garment with some of them has joined.

    `share` is the range in which side 2 over side 1 must lie. With `layers` the second side is of two layers, one of
    which is sewn. A seam with one side that is there for a piece without outlines has the piece as `measures`.
    """

    kind: str
    name: str
    step: Step
    reason: str
    places: tuple[Place, ...]
    join: Callable[[Sequence[Place]], Join | None]
    share: tuple[float, float] = (0.85, 1.2)
    layers: bool = False
    sure: bool = True
    measures: PieceSpec | None = None


Rule = Callable[[Sequence[PieceSpec], Taken], Iterator[Offer]]


def places_of(pieces: Iterable[PieceSpec], *kinds: str) -> tuple[Place, ...]:
    return tuple(place for piece in pieces if (place := Place(piece)).kind in kinds)


def having(places: Iterable[Place], *names: str, half: str | None = None) -> list[Edge]:
    found = ((place, place.edge(*names)) for place in places)
    return [edge for place, edge in found if edge is not None and half in (None, place.half)]


# --- what may be joined ---


def both(edge: Edge, other: Edge | None = None) -> Callable[[Sequence[Place]], Join | None]:
    """An edge to another, or to its like, in garments that have the piece."""

    def join(there: Sequence[Place]) -> Join | None:
        here = any(place.piece.name == edge.piece.name for place in there)
        return Join((edge,), (other or edge,)) if here else None

    return join


def alone(edges: Callable[[Sequence[Place]], list[Edge]]) -> Callable[[Sequence[Place]], Join | None]:
    """Edges with nothing sewn to them."""

    def join(there: Sequence[Place]) -> Join | None:
        found = edges(there)
        return Join(tuple(found)) if found else None

    return join


def given(*edges: Edge) -> Callable[[Sequence[Place]], list[Edge]]:
    """These edges, in garments that have their piece."""
    return lambda there: list(edges) if there else []


def onto(
    opening: Callable[[Sequence[Place]], list[Edge]], *fitted: Edge
) -> Callable[[Sequence[Place]], Join | None]:
    """These edges to the whole of an opening."""

    def join(there: Sequence[Place]) -> Join | None:
        names = {place.piece.name for place in there}
        first = opening(there)
        return Join(tuple(first), fitted) if first and all(e.piece.name in names for e in fitted) else None

    return join


def opening(
    kinds: tuple[str, ...], names: Sequence[str], half: str = ""
) -> Callable[[Sequence[Place]], list[Edge]]:
    """All edges of these names round a garment, or only those of its front or back."""

    def edges(there: Sequence[Place]) -> list[Edge]:
        found = []
        for place in there:
            if place.kind in kinds and half in ("", place.half):
                found += [edge for name in names if (edge := place.edge(name)) is not None]
        return found

    return edges
