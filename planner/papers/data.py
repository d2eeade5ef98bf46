"""What the papers are made of: plain dataclasses, filled by the rooms that print.

Lengths are float mm unless a unit stands in the name. Text is printed as it comes, in any script.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from planner.core.lays.matched import Stripes
from planner.core.pattern_files.model import Marks
from planner.papers.layers import way_of

Point = tuple[float, float]
NO_MARKS = Marks()
PaperSize = Literal["A4", "Letter", "label"]
#: Said of a paper beside its mark, see `Heading.is_noted`.
NOT_NOTED = "not noted as printed"


@dataclass(frozen=True)
class Heading:
    """What stands on every page: workroom, batch number, the day it was printed and the day it is due."""

    workroom: str
    batch: str
    printed_on: str
    due_on: str
    #: The mark of this paper (see `LayPaper.mark`), where all its pages have the same.
    mark: str = ""
    #: Whether it was noted as printed; where it was not, the page of its batch will not tell when it is old.
    is_noted: bool = True


@dataclass(frozen=True)
class SizeRow:
    """One garment kind across the sizes of its range: a row of boxes. `quantities` pairs with `sizes`."""

    style: str
    style_name: str
    options: str
    colourway: str
    sizes: tuple[str, ...]
    quantities: tuple[int, ...]


@dataclass(frozen=True)
class ClothLine:
    """Metres of one cloth for the batch."""

    fabric: str
    colour: str
    lay_m: float
    need_m: float
    in_stock_m: float
    to_buy: str
    how: str
    #: From the lays to what is left over, in printed figures.
    reckoning: str = ""
    #: Need and stock as the page of the batch tells them beside each other; "" for plainly the metres.
    need: str = ""
    in_stock: str = ""


@dataclass(frozen=True)
class DrawnPiece:
    """A piece as it lies: outline in lay coordinates (x along the cloth), its number on the drawing.

    `garment` is the sign of its garment on the marker ("a"), `bundles` those that it goes into, from the bottom ply up.
    `marks` are notches, holes and lines in lay coordinates; every notch has its direction.
    """

    number: int
    name: str
    style: str
    size: str
    mirrored: bool
    rotation_deg: int
    outline: tuple[Point, ...]
    garment: str = ""
    bundles: tuple[str, ...] = ()
    marks: Marks = NO_MARKS


@dataclass(frozen=True)
class RollPart:
    """Plies of a lay that come from one roll, one after the other; `number` is "" for cloth that is to be bought.

    `length_mm` is the cloth they take, end allowances included.
    """

    number: str
    shade_lot: str
    plies: int
    length_mm: float


@dataclass(frozen=True)
class GarmentCut:
    """Garments of the marker as these plies have them: their signs on the drawing ("a b"), what they are, their bundle.

    `choice` is colourway and options in words; `bundle` is "" where there is none.
    """

    signs: str
    style: str
    size: str
    choice: str
    bundle: str


@dataclass(frozen=True)
class PlyRow:
    """Plies one upon the other that are alike, from `first` to `last` counted from the bottom.

    `roll` is None where no roll was chosen for them.
    """

    first: int
    last: int
    colour: str
    roll: RollPart | None
    cuts: tuple[GarmentCut, ...]
    #: The colour as #rrggbb, to be drawn beside its name; "" for none.
    swatch: str = ""
    #: They are cut already, of a lay that is not cut as a whole.
    is_cut: bool = False
    #: What they are of: as told at the table, else as planned.
    shade_lot: str = ""


#: What washing takes of cloth, in shares of its length and of its width.
Shrinks = tuple[float, float]


@dataclass(frozen=True)
class LayPaper:
    """One lay for the cut sheet and its own cut ticket. `plies` pairs a colour with its spreads.

    `ply_rows` are the plies from the bottom up, for numbering. `size_counts` are the garments of the marker.
    """

    number: int
    fabric: str
    plies: tuple[tuple[str, int], ...]
    mode: str
    one_way: bool
    lay_width_mm: float
    marker_length_mm: float
    end_allowance_mm: float
    efficiency: float
    nested: bool
    cloth_m: float
    garments: tuple[str, ...]
    size_counts: tuple[tuple[str, int], ...]
    pieces: tuple[DrawnPiece, ...]
    bundles: tuple[str, ...] = ()
    #: Its cloth from plies, marker and ends, in printed figures.
    reckoning: str = ""
    ply_rows: tuple[PlyRow, ...] = ()
    is_tube: bool = False
    #: What is cut of it already, in words, to stand large on the paper; "" for nothing.
    cut: str = ""
    #: Nothing more of it will be cut, so that nobody spreads it again.
    is_cut: bool = False
    #: Of a lay that is begun: the colours of `plies` with the spreads that are cut already.
    plies_cut: tuple[tuple[str, int], ...] = ()
    #: Of the rest of another lay: what was cut there, in words.
    before: str = ""
    #: Its bundles of several shade lots, and which plies are of which: ("B-0007-03", "rib, ink: lot A is …").
    apart: tuple[tuple[str, str], ...] = ()
    #: The first day that anything cut from it is due.
    due_on: date | None = None
    #: A short mark of what its cut ticket says, which stands on its page too: an old ticket has another one.
    mark: str = ""
    #: Whether its cut ticket was noted as printed (see `Heading.is_noted`).
    is_noted: bool = True
    #: The pieces that lie side by side in each garment, in words: "front and back".
    side_by_side: tuple[str, ...] = ()
    #: Flaws of its rolls and which of its plies begin behind them, in words.
    flaws: tuple[str, ...] = ()
    #: Its turn among the lays of the batch, and how many these are.
    turn: tuple[int, int] | None = None
    #: Its turn among the lays that share rolls with flaws, None where it shares none.
    at_flaws: int | None = None
    #: What it keeps to on cloth with a pattern.
    stripes: Stripes | None = None
    #: Of cloth that is washed before it is cut, what it loses by that.
    shrinks: Shrinks | None = None

    @property
    def way(self) -> str:
        """How it is spread, in the words of `papers.layers`."""
        return way_of(self.mode, is_tube=self.is_tube)

    @property
    def still(self) -> int:
        """Spreads that are still to be cut, all as long as it is not begun; of a lay that is cut those it had."""
        return sum(count for _, count in self.plies) - sum(count for _, count in self.plies_cut)


@dataclass(frozen=True)
class CountRow:
    """Cutting counts of one piece across sizes. `counts` pairs with `sizes`."""

    style: str
    options: str
    colourway: str
    piece: str
    cloth: str
    sizes: tuple[str, ...]
    counts: tuple[int, ...]


@dataclass(frozen=True)
class LengthRow:
    """So many lengths of elastic, tape or band to cut; `how` one of them was reckoned, in printed figures."""

    what: str
    style: str
    size: str
    where: str
    length_mm: float
    width_mm: float | None
    count: int
    how: str = ""


@dataclass(frozen=True)
class LengthTotal:
    """Waste and need in metres, waste included, of what is cut by length; None where the need is not known."""

    what: str
    waste_share: float
    need_m: float | None


@dataclass(frozen=True)
class CutSheet:
    """The whole batch on paper for the cutting table. `judged` says in sentences how good its cut plan is.

    `only` are the numbers of the lays that stand on it, where these are a part of them; all where it is empty.
    """

    heading: Heading
    demand: tuple[SizeRow, ...]
    cloths: tuple[ClothLine, ...]
    lays: tuple[LayPaper, ...]
    counts: tuple[CountRow, ...]
    lengths: tuple[LengthRow, ...]
    notions: tuple[tuple[str, str], ...]
    notes: tuple[str, ...] = ()
    imperial: bool = False
    length_totals: tuple[LengthTotal, ...] = ()
    judged: tuple[str, ...] = ()
    only: frozenset[int] = frozenset()

    def stands(self, lay: LayPaper) -> bool:
        """Whether a lay stands on this sheet."""
        return not self.only or lay.number in self.only


@dataclass(frozen=True)
class TicketStep:
    """One operation on a bundle ticket. `machine` in words; what nobody set is "" or None and left out.

    `quality_note` says what to look at.
    """

    position: int
    name: str
    machine: str
    stitch_type: str
    minutes: float
    setup_note: str
    stitch_length_mm: float | None = None
    differential_feed: float | None = None
    tension_note: str = ""
    needle_note: str = ""
    quality_note: str = ""
    #: What of elastic and tape it sews in, cut to length for this size, for one garment.
    take: str = ""


@dataclass(frozen=True)
class BundleTicket:
    """The label of one bundle. `url` goes into the QR."""

    number: str
    batch: str
    style: str
    style_name: str
    options: str
    colourway: str
    size: str
    quantity: int
    lay: int | None
    shade_lot: str
    order: str
    due_on: str
    pieces: tuple[tuple[str, int], ...]
    notions: tuple[str, ...]
    steps: tuple[TicketStep, ...]
    url: str
    #: All lays its pieces come from; `lay` is that of its main cloth.
    lays: tuple[int, ...] = ()
    #: From which plies of these lays, in words, and of which of its cloths: ("rib 2 × 2", 1, "plies 3 to 7"). The cloth
    #: is "" where all its pieces are of one.
    plies: tuple[tuple[str, int, str], ...] = ()
    #: Its cloth is still to be bought, so that nobody knows the shade lot yet: there is room to write it in.
    lot_to_come: bool = False
    #: Where its plies are of several shade lots: which of them are of which, in words.
    lots_apart: str = ""
