"""A style as the core sees it: pieces, seams, operations, notions, colourways. Lengths are float mm."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, TypeVar

from planner.core.outline import Outline
from planner.core.pattern_files.model import Marks
from planner.core.spec.garments import Option, Options
from planner.core.spec.materials import ClothKey, NotionKey

_Found = TypeVar("_Found")
#: A part of a style: a piece, a seam, an operation or a notion, each with its `option`.
_Part = TypeVar("_Part", bound=Any)

Basis = Literal["garment", "piece", "order", "seam"]
#: Where a thread runs on a machine; each may carry a colour of its own.
Position = Literal["needle", "looper", "cover"]
#: How the second side of a seam is made to fit the first; "" where both are of one length.
Fullness = Literal["", "eased", "gathered", "pleated", "stretched"]


#: A word that says what lies beside what has no more letters.
MOST_BESIDE = 20


def own_word(name: str) -> str:
    """What a pair is told by that lies beside nothing but itself: its own name, as far as there is room."""
    return name[:MOST_BESIDE]


@dataclass(frozen=True, slots=True)
class BandSpec:
    """How a band piece follows from the opening it finishes: side 1 of the seam of this name.

    `finished_width_mm` is what shows; a `folded` band is cut twice as wide. `ratio` is the maker's own, None where
    the program proposes one from the cloth. `turn_rad` is the angle the opening turns through (2π for a full
    neckline that lies flat, 0 for a cuff or hem). `over_head`: the opening must pass a head.
    """

    seam: str
    finished_width_mm: float
    folded: bool = True
    ratio: float | None = None
    turn_rad: float = 0.0
    over_head: bool = False


@dataclass(frozen=True, slots=True)
class PieceSpec:
    """A part that is cut. `count` pieces per garment; a `pair` is cut half of them mirrored (count is even).

    `outlines` maps size to outline. `option` is None where the piece belongs to the base. `allowance_mm` is the seam
    allowance within the outline, `edge_allowances` that of edges where it differs (a hem). `interpolated` are the
    sizes whose outline was made from its neighbours. A piece with a `band` is cut to measure: `outlines_by_cloth` has
    its outlines from each cloth it may be cut from, see :meth:`outline`. Pieces of a garment with the same `beside`,
    unless that is "", are laid side by side on cloth that shades; a pair that has its own word (:func:`own_word`) there
    is cut together from any cloth. `marks` has what is drawn within the outlines that have something in them; whoever
    only reckons may leave it out.
    """

    name: str
    role: str
    count: int
    pair: bool
    may_turn: bool
    option: Option | None
    outlines: Mapping[str, Outline]
    is_band: bool = False
    allowance_mm: float = 0.0
    edge_allowances: Mapping[str, float] = field(default_factory=dict)
    interpolated: frozenset[str] = frozenset()
    band: BandSpec | None = None
    beside: str = ""
    outlines_by_cloth: Mapping[ClothKey, Mapping[str, Outline]] = field(default_factory=dict)
    marks: Mapping[str, Marks] = field(default_factory=dict)

    def outline(self, size: str, cloth: ClothKey) -> Outline | None:
        """The outline in a size as it is cut from this cloth, None where there is none."""
        of_cloth = self.outlines_by_cloth.get(cloth, {})
        return of_cloth.get(size) or self.outlines.get(size)

    def cut_outline(self, size: str, cloth: ClothKey) -> Outline:
        """The outline in a size as it is cut from this cloth. Raises KeyError where there is none."""
        found = self.outline(size, cloth)
        if found is None:
            raise KeyError(size)
        return found

    def beside_on(self, *, shades: bool) -> str:
        """The word it shares with what it is laid beside, on cloth that `shades` or does not; "" for nothing."""
        return self.beside if shades or (self.pair and self.beside == own_word(self.name)) else ""

    def allowance_of(self, edge: str) -> float:
        """Seam allowance in mm at the edge of this name."""
        return self.edge_allowances.get(edge, self.allowance_mm)


@dataclass(frozen=True, slots=True)
class EdgeRef:
    """An edge of a piece by name, on one of the two sides of a seam.

    Side 1 gives the seam its finished length (the armhole, the opening, the yoke's edge), side 2 is sewn to it (the
    sleeve head, the band, the gathered body). `takes` such edges meet in one seam: both fronts in a neckline.
    """

    piece: str
    edge: str
    side: int = 1
    takes: int = 1


@dataclass(frozen=True, slots=True)
class SeamSpec:
    """Edges joined by an operation; `times` such seams are in a garment.

    `ratio` is the length of side 2 before sewing, over that of side 1: 1.5 for gathers, 0.85 for a band that is
    stretched to its opening. `fullness` says how side 2 is made to fit. `match` where the pattern of the cloth must
    run on over the seam.
    """

    name: str
    option: Option | None
    edges: tuple[EdgeRef, ...]
    times: int
    operation: str
    ratio: float = 1.0
    fullness: Fullness = ""
    match: bool = False

    def __hash__(self) -> int:
        # What is kept of a style is looked up by its seams again and again: their names tell most of them apart.
        return hash((self.name, self.option))

    def side(self, number: int) -> tuple[EdgeRef, ...]:
        """The edges on side 1 or 2."""
        return tuple(ref for ref in self.edges if ref.side == number)


@dataclass(frozen=True, slots=True)
class OperationSpec:
    """One step of sewing. `stitch_type` is its ISO 4915 number, "" for hand or press work.

    `own_machine` is one of the workroom's machines by name, "" where any of the kind will do. Stitch length and width
    are mm, None where they are those of the machine's usual set-up; `layers` of cloth lie under the needle.
    """

    name: str
    option: Option | None
    position: int
    machine: str
    stitch_type: str
    standard_minutes: float
    setup_note: str = ""
    own_machine: str = ""
    stitch_length_mm: float | None = None
    stitch_width_mm: float | None = None
    layers: int = 2
    differential_feed: float | None = None
    tension_note: str = ""
    needle_note: str = ""
    quality_note: str = ""


@dataclass(frozen=True, slots=True)
class NotionUse:
    """What is taken of a notion: `quantity` a garment, a piece (of the name `piece`) or an order, or along a seam.

    With a `size` it is only taken for garments of that size.
    Along a seam the need is times × (seam length × ratio + 2 × tail) mm.
    """

    notion: NotionKey
    option: Option | None
    basis: Basis
    quantity: float = 1.0
    seam: str = ""
    ratio: float = 1.0
    tail_mm: float = 0.0
    piece: str = ""
    size: str = ""


@dataclass(frozen=True, slots=True)
class ColourwaySpec:
    """Which cloth fills each role, and which thread the garment is sewn with.

    `threads` names the thread of positions that carry another than `thread`.
    """

    name: str
    cloths: Mapping[str, ClothKey]
    thread: NotionKey | None
    threads: Mapping[Position, NotionKey] = field(default_factory=dict)

    def thread_at(self, position: Position) -> NotionKey | None:
        """The thread of a position on the machine."""
        return self.threads.get(position, self.thread)


@dataclass(frozen=True)
class StyleSpec:
    """A style as the core sees it. `details` maps each detail to its options; `sizes` are in order.

    A style built on a base holds the base's parts and its own. `exclusions` are pairs of options that cannot be had
    together.
    """

    number: str
    name: str
    sizes: tuple[str, ...]
    base_size: str
    details: Mapping[str, tuple[str, ...]]
    pieces: tuple[PieceSpec, ...]
    seams: tuple[SeamSpec, ...] = ()
    operations: tuple[OperationSpec, ...] = ()
    notions: tuple[NotionUse, ...] = ()
    colourways: Mapping[str, ColourwaySpec] = field(default_factory=dict)
    exclusions: tuple[tuple[Option, Option], ...] = ()

    def clashes_in(self, options: Options) -> tuple[tuple[Option, Option], ...]:
        """Pairs among the chosen options that exclude each other."""
        return tuple(pair for pair in self.exclusions if pair[0] in options and pair[1] in options)

    def pieces_for(self, options: Options) -> tuple[PieceSpec, ...]:
        """Pieces of the base and of the chosen options."""
        return self.once("pieces", options, lambda: _chosen(self.pieces, options))

    def seams_for(self, options: Options) -> tuple[SeamSpec, ...]:
        """Seams of the base and of the chosen options."""
        return self.once("seams", options, lambda: _chosen(self.seams, options))

    def operations_for(self, options: Options) -> tuple[OperationSpec, ...]:
        """Operations of the base and of the chosen options, in sewing order."""
        return self.once(
            "operations",
            options,
            lambda: tuple(sorted(_chosen(self.operations, options), key=lambda o: o.position)),
        )

    def notions_for(self, options: Options) -> tuple[NotionUse, ...]:
        """Notions of the base and of the chosen options."""
        return self.once("notions", options, lambda: _chosen(self.notions, options))

    def once(self, what: str, key: Hashable, reckon: Callable[[], _Found]) -> _Found:
        """What was reckoned of this style before, else reckons it; kept beside its fields, as cached properties are."""
        kept = self.__dict__.setdefault("_known", {})
        if (what, key) not in kept:
            kept[what, key] = reckon()
        found: _Found = kept[what, key]
        return found


def _chosen(parts: Iterable[_Part], options: Options) -> tuple[_Part, ...]:
    return tuple(part for part in parts if part.option is None or part.option in options)
