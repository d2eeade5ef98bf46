"""Where the needs of a batch come from, part by part, in printed figures that add up to the printed total."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from planner.core.cloth import cut_factors, end_of_ply_mm, lay_width_mm
from planner.core.lays.model import Marker, MarkerJob, PlannedLay, Plies
from planner.core.needs import DEFAULT_EFFICIENCY, ClothNeed, NotionNeed
from planner.core.notions.lines import NeedLine
from planner.core.planning import NestedLay
from planner.core.spec import Cloth, ClothKey, Notion, Workshop
from planner.core.units import area_unit, cm2_in_area_unit
from planner.cutting.laid import length_mm, valid_spreads
from planner.cutting.models import Lay, LayCloth
from planner.cutting.reckoning import (
    EACH_PLACES_M,
    as_told,
    each_places,
    growth,
    lay_metres,
    lay_reckoning,
    marker_places,
    together,
)
from planner.cutting.stored import PlannedBatch
from planner.cutting.wording import options_in_words
from planner.materials.specs import cloth_key
from planner.materials.washed import as_bought_m
from planner.papers.buy_data import BuyFigures
from planner.papers.figures import figure, nearest, percent_factor, places_for, places_of, printed_places, up
from planner.papers.layers import lengths_in_words

MM2_PER_CM2 = 100


@dataclass(frozen=True)
class Part:
    """So many of one kind: "12 × 1.854 m = 22.248 m", and how one is reckoned. `source` is thread's only."""

    size: str
    count: int
    each: str
    amount: str
    how: str = ""
    source: str = ""
    options: str = ""


@dataclass(frozen=True)
class PartGroup:
    """Parts that belong together, with what they come to: a seam of a style, a piece."""

    what: str
    style: str
    parts: tuple[Part, ...]
    total: str
    amount: Decimal

    @property
    def has_options(self) -> bool:
        """Whether its parts differ by the options chosen."""
        return any(part.options for part in self.parts)


@dataclass(frozen=True)
class LayPart:
    """The cloth that one lay takes."""

    number: int
    words: str
    garments: str
    is_cut: bool


# --- notions ---


def notion_parts(
    need: NotionNeed, notion: Notion, figures: BuyFigures, lines: Sequence[NeedLine], shop: Workshop
) -> tuple[tuple[PartGroup, ...], Decimal]:
    """Parts of a notion by style and what they are for, and what they come to, waste left out."""
    merged: dict[tuple[str, str, str, float, str, str], tuple[int, list[str]]] = {}
    for line in lines:
        key = (line.style, line.what, line.size, line.each, line.how, line.source)
        count, options = merged.get(key, (0, []))
        merged[key] = count + line.count, [*options, options_in_words(line.options)]
    factor = percent_factor(notion.waste_share)
    least = EACH_PLACES_M if need.unit == "m" else 0
    shown = each_places(lines, need.unit, factor, figures.need, printed_places(figures.need))
    grouped: dict[tuple[str, str], list[tuple[Part, Decimal]]] = defaultdict(list)
    for (style, what, size, each, how, source), (count, options) in _by_size(merged, shop):
        one = as_told(each, shown)
        each_told = figure(one, need.unit, least=least)
        told = figure(count * one, need.unit, least=least)
        chosen = "; ".join(dict.fromkeys(filter(None, options)))
        row = Part(size, count, each_told, told, how, source, chosen)
        grouped[style, what].append((row, count * one))
    groups = []
    for (style, what), rows in grouped.items():
        amount = sum((one for _, one in rows), Decimal(0))
        parts = _without_needless_options([row for row, _ in rows])
        groups.append(PartGroup(what, style, parts, figure(amount, need.unit, least=least), amount))
    return tuple(groups), together(lines, shown)


def _by_size(
    merged: dict[tuple[str, str, str, float, str, str], tuple[int, list[str]]], shop: Workshop
) -> list[tuple[tuple[str, str, str, float, str, str], tuple[int, list[str]]]]:
    """In the order of the demand by style and seam, sizes from the smallest."""
    order: dict[tuple[str, str], int] = {}
    for style, what, *_ in merged:
        order.setdefault((style, what), len(order))

    def place(item: tuple[tuple[str, str, str, float, str, str], tuple[int, list[str]]]) -> tuple[int, int]:
        (style, what, size, *_), _ = item
        sizes = shop.styles[style].sizes
        return order[style, what], sizes.index(size) if size in sizes else -1

    return sorted(merged.items(), key=place)


def _without_needless_options(rows: Sequence[Part]) -> tuple[Part, ...]:
    """Options are told where one size has several rows, which only they set apart."""
    if len({row.size for row in rows}) < len(rows):
        return tuple(rows)
    return tuple(Part(r.size, r.count, r.each, r.amount, r.how, r.source) for r in rows)


# --- cloths ---


def lays_of(read: PlannedBatch, key: ClothKey) -> list[tuple[Lay, LayCloth]]:
    """The lays that this cloth is laid in."""
    return [
        (lay, cloth)
        for lay in read.lays
        for cloth in lay.cloths.all()
        if (cloth.fabric_colour.fabric.name, cloth.fabric_colour.name) == (key.fabric, key.colour)
        and valid_spreads(lay, cloth)
    ]


def without_pieces(lay: Lay, cloth: LayCloth, spreads: int | None = None) -> NestedLay:
    """The lay with all that these plies (or so many spreads of them) are reckoned from, without its pieces."""
    job = MarkerJob(lay.lay_width_mm, lay.one_way, 0.0, ())
    key = cloth_key(cloth.fabric_colour)
    count = valid_spreads(lay, cloth) if spreads is None else spreads
    planned = PlannedLay(
        lay.number, (Plies(key, count, ()),), lay.mode, lay.lay_width_mm, lay.end_allowance_mm, job,  # type: ignore[arg-type]
        lay.estimated_length_mm,
    )  # fmt: skip
    marker = Marker(lay.lay_width_mm, length_mm(lay), lay.marker.efficiency or 0.0, ())
    return NestedLay(planned, marker)


def nested_lays(read: PlannedBatch) -> dict[ClothKey, list[NestedLay]]:
    """The lays of every cloth whose lays are all nested, as :func:`lay_parts` tells them."""
    keys = [need.cloth for need in read.needs.cloths if not need.is_estimate]
    return {key: [without_pieces(*one) for one in lays_of(read, key)] for key in keys}


def lay_parts(
    lays: Sequence[tuple[Lay, LayCloth]], need: ClothNeed, cloth: Cloth
) -> tuple[tuple[LayPart, ...], str]:
    """The lays of a cloth, and their sum in words where there are several.

    What is cut counts by the metres told, what is still to cut as planned; what is not nested as estimated.
    """
    places = marker_places([without_pieces(*one) for one in lays], need, cloth)
    shares = [_shares(*one, places) for one in lays]
    parts = tuple(
        LayPart(
            row.number,
            share.words + ("" if row.marker.is_laid else ", as estimated"),
            _garments_in(held),
            row.cut_at is not None,
        )
        for (row, held), share in zip(lays, shares, strict=True)
    )
    return parts, _sum_in_words(shares) if len(lays) > 1 else ""


@dataclass(frozen=True)
class _Shares:
    """The metres of a lay's plies: told of those that are cut, None where nothing was told; and as planned."""

    used: Decimal | None
    planned: Decimal
    words: str


def _shares(lay: Lay, cloth: LayCloth, places: int) -> _Shares:
    if cloth.used_m is None:
        whole = without_pieces(lay, cloth)
        return _Shares(None, lay_metres(whole, places), lay_reckoning(whole, places))
    used = cloth.used_m.normalize() + Decimal(0)
    cut = cloth.spreads if cloth.cut_spreads is None else cloth.cut_spreads
    bought = as_bought_m(cloth.used_m, cloth.fabric_colour.fabric).normalize()
    washed = f" ({figure(bought, 'm')} as bought)" if bought != used else ""
    words = f"{figure(used, 'm')} used{washed} for {lengths_in_words(cut, lay.mode)}"
    left = 0 if lay.cut_at is not None else max(cloth.spreads - cut, 0)
    if not left:
        return _Shares(used, Decimal(0), words)
    to_cut = without_pieces(lay, cloth, left)
    return _Shares(used, lay_metres(to_cut, places), f"{words}; still to cut {lay_reckoning(to_cut, places)}")


def _sum_in_words(shares: Sequence[_Shares]) -> str:
    """ "Lays 2.5 + 2.6 used for what is cut + 4.8826 still to cut = 9.9826 m"; without what stands for nothing."""
    used = [share.used for share in shares if share.used is not None]
    planned = [share.planned for share in shares if share.planned]
    total = figure(sum(used + planned, Decimal(0)), "m")
    added = [" + ".join(map(figure, metres)) for metres in (used, planned)]
    if not used:
        return f"Lays {added[1]} = {total}"
    to_cut = f" + {added[1]} still to cut" if planned else ""
    return f"Lays {added[0]} used for what is cut{to_cut} = {total}"


def _garments_in(held: LayCloth) -> str:
    """ "2 × 110 S, 1 × 110 M": what a marker holds."""
    counts: dict[str, int] = defaultdict(int)
    for garment in held.garments.all():
        counts[f"{garment.style.number} {garment.size.name}"] += garment.per_marker
    return ", ".join(f"{count} × {what}" for what, count in counts.items())


def piece_parts(
    read: PlannedBatch, need: ClothNeed, figures: BuyFigures, display: str = "metric"
) -> tuple[tuple[PartGroup, ...], list[str]]:
    """The pieces cut from a cloth by style, piece and size, with their areas; and the estimate from these in words.

    Areas are of pieces as they are cut, in cm² or in², to as many places as it takes for an estimate to follow.
    """
    cloth, table_mm = read.shop.cloths[need.cloth], read.shop.table_length_mm
    pieces = _pieces_cut(read, cloth, display)

    def follows(p: int) -> bool:
        if need.by_lays or figures.before is None:
            return True
        left, flaws = growth(cloth, need)
        area_cm2 = pieces.area(p) * pieces.cm2_each
        laid = nearest(_laid_m(area_cm2, cloth, table_mm), places_of(figures.before))
        return (
            laid == figures.before and up(laid / left * flaws, printed_places(figures.need)) == figures.need
        )

    places = places_for(follows)
    groups = _piece_groups(pieces, read.shop, places)
    if need.by_lays:
        return groups, []
    area = pieces.area(places)
    in_cm2 = f"{figure(area)} {pieces.unit}" + (f" × {pieces.cm2_each}" if pieces.cm2_each != 1 else "")
    steps = [_estimate_in_words(in_cm2, cloth, table_mm, figures)]
    if len(groups) > 1:
        added = " + ".join(figure(group.amount) for group in groups)
        steps.insert(0, f"Pieces {added} = {figure(area, pieces.unit)}")
    return groups, steps


@dataclass(frozen=True)
class _PiecesCut:
    """The pieces cut from a cloth by style, piece and size: how many, and the area of one as it is cut.

    Areas are in `unit`, of which each has `cm2_each`.
    """

    counts: dict[tuple[str, str, str], int]
    areas: dict[tuple[str, str, str], float]
    unit: str
    cm2_each: Decimal

    def told(self, key: tuple[str, str, str], places: int) -> Decimal:
        """The area of one with so many decimals of a cm²; of an inch, which has six and a half, one more."""
        return as_told(self.areas[key], places + (self.cm2_each != 1))

    def area(self, places: int) -> Decimal:
        """All together, of areas with so many decimals."""
        return sum((n * self.told(key, places) for key, n in self.counts.items()), Decimal(0))


def _pieces_cut(read: PlannedBatch, cloth: Cloth, display: str) -> _PiecesCut:
    counts: dict[tuple[str, str, str], int] = defaultdict(int)
    areas: dict[tuple[str, str, str], float] = {}
    along, across = cut_factors(cloth)
    cm2_each = cm2_in_area_unit(display)  # type: ignore[arg-type]
    for row in read.needs.cutting_counts:
        if row.cloth != cloth.key:
            continue
        style, size = read.shop.styles[row.garment.style], row.garment.size
        key = (style.number, row.piece, size)
        counts[key] += row.count
        if key not in areas:
            piece = next(p for p in style.pieces_for(row.garment.options) if p.name == row.piece)
            areas[key] = piece.cut_outline(size, cloth.key).area_mm2 * along * across / MM2_PER_CM2
            areas[key] /= float(cm2_each)
    return _PiecesCut(counts, areas, area_unit(display), cm2_each)  # type: ignore[arg-type]


def _piece_groups(pieces: _PiecesCut, shop: Workshop, places: int) -> tuple[PartGroup, ...]:
    """The sizes of each piece, areas with so many decimals, in the order in which pieces are cut."""
    grouped: dict[tuple[str, str], list[tuple[Part, Decimal]]] = defaultdict(list)
    for key in _pieces_in_order(pieces.counts, shop):
        one, count = pieces.told(key, places), pieces.counts[key]
        amount = count * one
        part = Part(key[2], count, figure(one, pieces.unit), figure(amount, pieces.unit))
        grouped[key[0], key[1]].append((part, amount))
    groups = []
    for (number, name), rows in grouped.items():
        whole = sum((amount for _, amount in rows), Decimal(0))
        parts = tuple(part for part, _ in rows)
        groups.append(PartGroup(f"piece {name}", number, parts, figure(whole, pieces.unit), whole))
    return tuple(groups)


def _pieces_in_order(keys: Iterable[tuple[str, str, str]], shop: Workshop) -> list[tuple[str, str, str]]:
    order: dict[tuple[str, str], int] = {}
    rows = list(keys)
    for style, piece, _ in rows:
        order.setdefault((style, piece), len(order))
    return sorted(rows, key=lambda key: (order[key[0], key[1]], shop.styles[key[0]].sizes.index(key[2])))


def _laid_m(area_cm2: Decimal, cloth: Cloth, table_mm: float) -> Decimal:
    """As :func:`planner.core.needs.estimate_lay_m` does it, from printed figures."""
    width, table, end = _width_m(cloth), nearest(table_mm, 1) / 1000, _end_m(cloth)
    return area_cm2 / 10000 / (width * nearest(DEFAULT_EFFICIENCY, 4)) * table / (table - 2 * end)


def _width_m(cloth: Cloth) -> Decimal:
    return nearest(lay_width_mm(cloth) / 1000, 6).normalize()


def _end_m(cloth: Cloth) -> Decimal:
    return nearest(end_of_ply_mm(cloth), 1) / 1000


def _estimate_in_words(in_cm2: str, cloth: Cloth, table_mm: float, figures: BuyFigures) -> str:
    table, end = figure(nearest(table_mm, 1) / 1000), figure(_end_m(cloth))
    share = figure(nearest(DEFAULT_EFFICIENCY, 4).normalize())
    words = f"{in_cm2} ÷ 10000 ÷ ({figure(_width_m(cloth))} m wide × {share})"
    words += f" × {table} ÷ ({table} − 2 × {end}) for both ends of each table length"
    return words if figures.before is None else f"{words} = {figure(figures.before, 'm')} laid"
