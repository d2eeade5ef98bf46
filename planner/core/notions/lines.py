"""Where the needs of notions come from, line by line."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from planner.core.notions.along import operation_of, seam_lengths_mm, sewn_seams
from planner.core.notions.lengths import length_along
from planner.core.notions.seam_thread import (
    ThreadPart,
    layer_thickness_mm,
    parts_by_thread,
    positions_of,
    thread_of_seam,
)
from planner.core.notions.thread import STITCH_TYPES
from planner.core.spec import (
    Basis,
    ColourwaySpec,
    Demand,
    Garment,
    NotionKey,
    NotionUse,
    OperationSpec,
    Options,
    SeamSpec,
    StyleSpec,
    Workshop,
)


@dataclass(frozen=True, slots=True)
class NeedLine:
    """Where a part of a need comes from; the need of a notion before waste is the sum of its lines.

    `what` is "seam shoulder", "piece front", "garment" or "order", `count` so many of them. `each` is what one takes
    in the notion's unit (m or pcs), waste left out, `amount` = count × each. `how` tells the reckoning in plain words
    with the figures to follow it: "150 mm × 1.00 + 2 × 20 mm tails". `source` is thread's only: "measured",
    "geometry" or "table".
    """

    key: NotionKey
    style: str
    options: Options
    size: str
    what: str
    count: int
    each: float
    amount: float
    how: str
    source: str = ""


#: (notion, style, size, seam, length_mm)
Cut = tuple[NotionKey, str, str, str, float]
#: One thing a garment takes: (key, garment, basis, name of the seam or piece, count, each, how, source).
Taken = tuple[NotionKey, Garment, Basis, str, int, float, str, str]


@dataclass
class Uses:
    """What a demand takes of its notions, waste left out.

    `amounts` are in each notion's own unit, `taken` says where they come from, garment by garment. `threads_at_once` is
    the largest number of positions at which one machine runs that thread, `hungriest` the stitch of that machine.
    `cuts` counts the lengths to cut.
    """

    amounts: dict[NotionKey, float] = field(default_factory=lambda: defaultdict(float))
    threads_at_once: dict[NotionKey, int] = field(default_factory=lambda: defaultdict(int))
    hungriest: dict[NotionKey, str] = field(default_factory=dict)
    cuts: dict[Cut, int] = field(default_factory=lambda: defaultdict(int))
    bases: dict[NotionKey, set[Basis]] = field(default_factory=lambda: defaultdict(set))
    taken: list[Taken] = field(default_factory=list)

    @property
    def wanted(self) -> set[NotionKey]:
        """Notions the demand takes any of, or whose cones a machine must be threaded with."""
        return {key for key, amount in self.amounts.items() if amount or self.threads_at_once.get(key)}

    @property
    def lines(self) -> tuple[NeedLine, ...]:
        """Where the amounts come from, by notion, in the order of the demand."""
        return lines_of(self.taken)

    def add(
        self,
        key: NotionKey,
        garment: Garment,
        basis: Basis,
        named: str,
        count: int,
        each: float,
        how: str,
        source: str = "",
    ) -> None:
        """Takes `count` × `each` of a notion for so many seams or pieces of this name, garments or orders."""
        self.amounts[key] += count * each
        self.bases[key].add(basis)
        self.taken.append((key, garment, basis, named, count, each, how, source))


def lines_of(taken: Iterable[Taken]) -> tuple[NeedLine, ...]:
    """What is alike but for the colourway in one line, by notion, in the order it was taken."""
    counts: dict[tuple[NotionKey, str, Options, str, str, float, str, str], int] = defaultdict(int)
    for key, garment, basis, named, count, each, how, source in taken:
        what = f"{basis} {named}".rstrip()
        counts[key, garment.style, garment.options, garment.size, what, each, how, source] += count
    counted = sorted(counts.items(), key=lambda item: item[0][0])
    return tuple(
        NeedLine(key, style, options, size, what, count, each, count * each, how, source)
        for (key, style, options, size, what, each, how, source), count in counted
    )


def collect_uses(demand: Sequence[Demand], shop: Workshop, orders: Mapping[str, int] | None = None) -> Uses:
    """What the demand takes of thread, elastic, tape, labels and the rest, each garment reckoned once.

    `orders` says by style number how many orders hold it, one where it does not say. Expects demand without gaps;
    raises SeamError or KeyError otherwise.
    """
    uses = Uses()
    threads: dict[tuple[str, Options, str], _SeamParts] = {}
    for line in demand:
        _add_thread(uses, line, shop, threads)
        _add_listed(uses, line, shop)
    _add_by_order(uses, demand, shop, orders or {})
    return uses


#: The seams of a garment, each with the source of its thread and the parts its threads give.
_SeamParts = list[tuple[SeamSpec, str, tuple[ThreadPart, ...]]]


def _add_thread(
    uses: Uses, line: Demand, shop: Workshop, known: dict[tuple[str, Options, str], _SeamParts]
) -> None:
    """Thread of every seam: times × length × ratio, shared out over the positions of its machine."""
    style, garment = shop.styles[line.garment.style], line.garment
    colourway = style.colourways[garment.colourway]
    which = (garment.style, garment.options, garment.colourway)
    if which not in known:
        known[which] = list(_seam_parts(style, garment, shop))
        for operation in style.operations_for(garment.options):
            _thread_machine(uses, operation, colourway)
    lengths = seam_lengths_mm(style, garment.options, garment.size, colourway.cloths)
    for seam, source, parts in known[which]:
        length = lengths[seam]
        count, told = line.quantity * seam.times, f"{_mm(length)} mm"
        for part in parts:
            each = length * part.ratio / 1000.0
            uses.add(part.key, garment, "seam", seam.name, count, each, told + part.how, source)


def _seam_parts(
    style: StyleSpec, garment: Garment, shop: Workshop
) -> Iterator[tuple[SeamSpec, str, tuple[ThreadPart, ...]]]:
    colourway = style.colourways[garment.colourway]
    operations = style.operations_for(garment.options)
    pieces = {piece.name: piece for piece in style.pieces_for(garment.options)}
    for seam in sewn_seams(style, garment.options):
        layer_mm = layer_thickness_mm(seam, pieces, colourway, shop.cloths)
        thread = thread_of_seam(operation_of(seam, operations), shop.machines, layer_mm)
        if thread is not None:
            yield seam, thread.source, parts_by_thread(thread, colourway)


def _thread_machine(uses: Uses, operation: OperationSpec, colourway: ColourwaySpec) -> None:
    """A machine is threaded for its stitch even where no seam gives the metres."""
    stitch = STITCH_TYPES.get(operation.stitch_type)
    if stitch is None:
        return
    for key, count in positions_of(stitch.number, colourway).items():
        uses.amounts[key] += 0.0
        if count > uses.threads_at_once[key]:
            uses.threads_at_once[key] = count
            uses.hungriest[key] = f"{stitch.number} {stitch.name}"


def _add_listed(uses: Uses, line: Demand, shop: Workshop) -> None:
    """Notions the style lists: so many a garment or for each of a piece, or lengths along a seam."""
    style, garment = shop.styles[line.garment.style], line.garment
    for use in style.notions_for(garment.options):
        if not _taken_in(use, garment) or use.basis == "order":
            continue
        if use.basis == "garment":
            uses.add(
                use.notion, garment, "garment", "", line.quantity, use.quantity, f"{use.quantity:g} a garment"
            )
        elif use.basis == "piece":
            count = sum(p.count for p in style.pieces_for(garment.options) if p.name == use.piece)
            if count:
                how = f"{use.quantity:g} for each, {count} in a garment"
                uses.add(use.notion, garment, "piece", use.piece, line.quantity * count, use.quantity, how)
        else:
            _add_along(uses, line, use, shop)


def _taken_in(use: NotionUse, garment: Garment) -> bool:
    return not use.size or use.size == garment.size


def _add_along(uses: Uses, line: Demand, use: NotionUse, shop: Workshop) -> None:
    """Elastic or tape along a seam; what is counted in pieces is cut to length already."""
    style, garment = shop.styles[line.garment.style], line.garment
    found = length_along(use, style, garment)
    if found is None:
        return
    seam, length = found.seam, found.length_mm
    count = line.quantity * found.count
    if shop.notions[use.notion].unit != "m":
        uses.add(
            use.notion, garment, "seam", seam.name, count, 1.0, f"1 for each, {found.count} in a garment"
        )
        return
    how = f"{_mm(found.seam_mm)} mm × {_ratio(use.ratio)} + 2 × {use.tail_mm:g} mm tails"
    uses.add(use.notion, garment, "seam", seam.name, count, length / 1000.0, how)
    uses.cuts[use.notion, style.number, garment.size, seam.name, round(length, 3)] += count


def _add_by_order(uses: Uses, demand: Sequence[Demand], shop: Workshop, orders: Mapping[str, int]) -> None:
    """What an order takes of its own, however many garments it holds."""
    done: set[tuple[str, int]] = set()
    for line in demand:
        garment, style = line.garment, shop.styles[line.garment.style]
        for use in style.notions_for(garment.options):
            which = (garment.style, id(use))
            if use.basis != "order" or not _taken_in(use, garment) or which in done:
                continue
            done.add(which)
            count = orders.get(garment.style, 1)
            if count > 0:
                whole = Garment(garment.style, (use.option,) if use.option else (), "", use.size)
                uses.add(use.notion, whole, "order", "", count, use.quantity, f"{use.quantity:g} an order")


def _mm(length_mm: float) -> str:
    """To a tenth of a millimetre: 132, 132.4."""
    return f"{length_mm:.1f}".removesuffix(".0")


def _ratio(ratio: float) -> str:
    """As it was typed, two decimals at least: 1.00, 0.95, 0.925."""
    text = f"{ratio:.4f}".rstrip("0")
    return text if len(text.partition(".")[2]) >= 2 else f"{ratio:.2f}"
