"""Fills the papers of a batch from its plan. The plan may come from the database or straight from the core."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from planner.core.cloth import as_cut
from planner.core.needs import Needs, interpolated_sizes
from planner.core.planning import NestedLay, Plan, PlannedBundle, PlannedCloth
from planner.core.spec import Garment, OperationSpec, StyleSpec, Workshop
from planner.cutting.reckoning import (
    amount_in_words,
    cloth_figures,
    in_metres,
    lay_metres,
    lay_reckoning,
    marker_places,
    notion_figures,
)
from planner.cutting.wording import (
    cloth_to_buy,
    machine_in_words,
    named,
    options_in_words,
)
from planner.papers.data import (
    BundleTicket,
    ClothLine,
    CountRow,
    CutSheet,
    DrawnPiece,
    Heading,
    LayPaper,
    LengthRow,
    LengthTotal,
    SizeRow,
    TicketStep,
)
from planner.papers.figures import figure


@dataclass(frozen=True)
class PaperSetting:
    """What papers need besides the plan."""

    heading: Heading
    display: str = "metric"
    currency: str = "EUR"
    #: Bundle number to the address in its QR; a bundle without one carries its number.
    urls: Mapping[str, str] = field(default_factory=dict)
    #: Bundle number to order and day in words.
    orders: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    #: Fabric or notion name to supplier.
    suppliers: Mapping[str, str] = field(default_factory=dict)


def cut_sheet_data(plan: Plan, shop: Workshop, setting: PaperSetting) -> CutSheet:
    """The cut sheet of a planned batch."""
    return CutSheet(
        heading=setting.heading,
        demand=_size_rows(plan, shop),
        cloths=tuple(_cloth_line(planned, setting) for planned in plan.cloths),
        lays=lay_papers(plan, shop),
        counts=count_rows(plan.needs, shop),
        lengths=_lengths(plan, shop),
        notions=tuple(
            (named(need.key), amount_in_words(figures.need, figures, setting.display))
            for need in plan.needs.notions
            for figures in [notion_figures(need, shop.notions[need.key])]
        ),
        notes=_notes(plan, shop),
        imperial=setting.display == "imperial",
        length_totals=tuple(
            LengthTotal(named(need.key), shop.notions[need.key].waste_share, need.need)
            for need in plan.needs.notions
            if need.unit == "m"
        ),
    )


def _cloth_line(planned: PlannedCloth, setting: PaperSetting) -> ClothLine:
    """Metres of a cloth, from its lays to what is left over; figures follow from those printed with the lays."""
    need, cloth, lays = planned.need, planned.cloth, planned.lays
    figures = cloth_figures(need, cloth, lays)
    words = figures.words
    if len(lays) > 1 and figures.before is not None:
        places = marker_places(lays, need, cloth)
        each = " + ".join(figure(lay_metres(lay, places, cloth.key)) for lay in lays)
        words = f"Lays {each} = {figure(figures.before, 'm')}. {words}"
    return ClothLine(
        fabric=cloth.key.fabric,
        colour=cloth.key.colour,
        lay_m=planned.lay_m if figures.before is None else float(figures.before),
        need_m=float(figures.need),
        in_stock_m=float(figures.in_stock),
        to_buy=cloth_to_buy(need, cloth, setting.display),
        how=need.how if need.is_estimate else "",
        reckoning=in_metres(words, setting.display),
    )


def _notes(plan: Plan, shop: Workshop) -> tuple[str, ...]:
    """What to see to before cutting, besides what always is."""
    made = dict.fromkeys(size for sizes in interpolated_sizes(plan.demand, shop).values() for size in sizes)
    if not made:
        return ()
    return (f"{' and '.join(made)} interpolated: made from the sizes beside, so measure its pieces first.",)


def lay_papers(plan: Plan, shop: Workshop) -> tuple[LayPaper, ...]:
    """All lays in the order of their numbers; sizes made from their neighbours are marked."""
    bundles: dict[int, list[str]] = defaultdict(list)
    for bundle in plan.bundles:
        for lay in bundle.lays:
            bundles[lay].append(bundle.number)
    places = {
        lay.number: marker_places(planned.lays, planned.need, planned.cloth)
        for planned in plan.cloths
        for lay in planned.lays
    }
    return tuple(
        replace(
            _lay_paper(lay, bundles[lay.number], shop),
            reckoning=lay_reckoning(lay, places[lay.number]),
        )
        for lay in sorted(plan.lays, key=lambda one: one.number)
    )


def ticket_data(plan: Plan, shop: Workshop, setting: PaperSetting) -> tuple[BundleTicket, ...]:
    """The tickets of all bundles."""
    return tuple(_ticket(bundle, plan, shop, setting) for bundle in plan.bundles)


def pieces_of(garment: Garment, shop: Workshop) -> tuple[tuple[str, int], ...]:
    """The pieces of one garment with their count."""
    return tuple((p.name, p.count) for p in shop.styles[garment.style].pieces_for(garment.options))


def notions_of(garment: Garment, style: StyleSpec, garments: int = 1) -> tuple[str, ...]:
    """The notions for so many garments: "6 × shell button 12 mm", "clear elastic 6 mm, along shoulder"."""
    words = []
    counts = {piece.name: piece.count for piece in style.pieces_for(garment.options)}
    for use in style.notions_for(garment.options):
        name = named(use.notion)
        if use.size not in ("", garment.size) or use.basis == "order":
            continue  # what an order takes goes with the parcel, not with a bundle
        if use.basis == "seam":
            words.append(f"{name}, along {use.seam}")
            continue
        each = use.quantity * (counts.get(use.piece, 0) if use.basis == "piece" else 1)
        if each:
            words.append(f"{each * garments:g} × {name}")
    colourway = style.colourways[garment.colourway]
    if colourway.thread is not None:
        words.append(f"thread: {named(colourway.thread)}")
    words += [f"in the {position}s: {named(key)}" for position, key in colourway.threads.items()]
    return tuple(words)


def _size_rows(plan: Plan, shop: Workshop) -> tuple[SizeRow, ...]:
    kinds: dict[tuple[str, tuple[tuple[str, str], ...], str], Counter[str]] = defaultdict(Counter)
    for row in plan.demand:
        kinds[row.garment.style, row.garment.options, row.garment.colourway][row.garment.size] += row.quantity
    return tuple(
        SizeRow(
            style=number,
            style_name=shop.styles[number].name,
            options=options_in_words(options),
            colourway=colourway,
            sizes=shop.styles[number].sizes,
            quantities=tuple(counts[size] for size in shop.styles[number].sizes),
        )
        for (number, options, colourway), counts in kinds.items()
    )


def _lay_paper(lay: NestedLay, bundles: Sequence[str], shop: Workshop) -> LayPaper:
    planned, marker = lay.planned, lay.marker
    sizes: Counter[str] = Counter(slot.size for slot in planned.plies[0].slots)
    held_by_plies = dict.fromkeys(held for plies in planned.plies for held in plies.garments)
    return LayPaper(
        number=lay.number,
        fabric=planned.fabric,
        plies=tuple((key.colour, planned.spreads_of(key)) for key in planned.cloths),
        mode=planned.mode,
        one_way=planned.job.one_way,
        lay_width_mm=planned.lay_width_mm,
        marker_length_mm=marker.length_mm,
        end_allowance_mm=planned.end_allowance_mm,
        efficiency=marker.efficiency,
        nested=True,
        cloth_m=lay.cloth_mm / 1000,
        garments=tuple(
            f"{held.per_marker} × {held.garment.style} {held.garment.size}"
            + (" interpolated" if _is_interpolated(held.garment, lay, shop) else "")
            + f", {held.garment.colourway}"
            + (f" ({options_in_words(held.garment.options)})" if held.garment.options else "")
            for held in held_by_plies
        ),
        size_counts=tuple(sizes.items()),
        pieces=tuple(
            DrawnPiece(number, p.piece, p.style, p.size, p.mirrored, p.rotation_deg, p.outline)
            for number, p in enumerate(marker.placements, 1)
        ),
        bundles=tuple(bundles),
    )


def _is_interpolated(garment: Garment, lay: NestedLay, shop: Workshop) -> bool:
    """Whether the lay holds a piece of this garment whose outline was made from the sizes beside it."""
    style = shop.styles[garment.style]
    laid = {p.piece for p in lay.marker.placements if (p.style, p.size) == (garment.style, garment.size)}
    return any(p.name in laid and garment.size in p.interpolated for p in style.pieces_for(garment.options))


def count_rows(needs: Needs, shop: Workshop) -> tuple[CountRow, ...]:
    """Cutting counts with sizes side by side."""
    rows: dict[tuple[str, str, str, str, str], Counter[str]] = defaultdict(Counter)
    for count in needs.cutting_counts:
        garment = count.garment
        cloth = f"{count.cloth.fabric}, {count.cloth.colour}"
        key = (garment.style, options_in_words(garment.options), garment.colourway, count.piece, cloth)
        rows[key][garment.size] += count.count
    return tuple(
        CountRow(*key, shop.styles[key[0]].sizes, tuple(counts[size] for size in shop.styles[key[0]].sizes))
        for key, counts in rows.items()
    )


def _lengths(plan: Plan, shop: Workshop) -> tuple[LengthRow, ...]:
    """Elastic and tape to cut, then the bands with their cut measures; equal bands of a size once."""
    hows = {
        (line.key, line.style, line.size, line.what, round(line.each * 1000, 3)): line.how
        for line in plan.needs.lines
        if not line.source
    }
    rows = [
        LengthRow(
            what=named(cut.key),
            style=cut.style,
            size=cut.size,
            where=cut.seam,
            length_mm=cut.length_mm,
            width_mm=None,
            count=cut.count,
            how=hows.get((cut.key, cut.style, cut.size, f"seam {cut.seam}", cut.length_mm), ""),
        )
        for cut in plan.needs.cut_lengths
    ]
    bands: Counter[tuple[str, str, str, str, float, float]] = Counter()
    for count in plan.needs.cutting_counts:
        garment = count.garment
        for piece in shop.styles[garment.style].pieces_for(garment.options):
            if piece.name == count.piece and piece.is_band:
                outline = as_cut(piece.cut_outline(garment.size, count.cloth), shop.cloths[count.cloth])
                long, short = sorted((outline.width_mm, outline.length_mm), reverse=True)
                bands[piece.name, garment.style, garment.size, count.cloth.fabric, long, short] += count.count
    rows += [
        LengthRow(
            what=name, style=style, size=size, where=f"from {cloth}", length_mm=long, width_mm=short, count=n
        )
        for (name, style, size, cloth, long, short), n in bands.items()
    ]
    return tuple(rows)


def _ticket(bundle: PlannedBundle, plan: Plan, shop: Workshop, setting: PaperSetting) -> BundleTicket:
    garment = bundle.garment
    style = shop.styles[garment.style]
    order, due_on = setting.orders.get(bundle.number, ("", ""))
    made = {piece.name for piece in style.pieces_for(garment.options) if garment.size in piece.interpolated}
    return BundleTicket(
        number=bundle.number,
        batch=plan.batch,
        style=garment.style,
        style_name=style.name,
        options=options_in_words(garment.options),
        colourway=garment.colourway,
        size=garment.size,
        quantity=bundle.quantity,
        lay=bundle.lay,
        shade_lot="",
        order=order,
        due_on=due_on,
        pieces=tuple(
            (f"{name} (interpolated)" if name in made else name, count * bundle.quantity)
            for name, count in pieces_of(garment, shop)
        ),
        notions=notions_of(garment, style, bundle.quantity),
        steps=tuple(_step(n, o) for n, o in enumerate(style.operations_for(garment.options), 1)),
        url=setting.urls.get(bundle.number, bundle.number),
        lays=bundle.lays,
    )


def _step(number: int, operation: OperationSpec) -> TicketStep:
    return TicketStep(
        position=number,
        name=operation.name,
        machine=machine_in_words(operation.machine, operation.own_machine),
        stitch_type=operation.stitch_type,
        minutes=operation.standard_minutes,
        setup_note=operation.setup_note,
        stitch_length_mm=operation.stitch_length_mm,
        differential_feed=operation.differential_feed,
        tension_note=operation.tension_note,
        needle_note=operation.needle_note,
        quality_note=operation.quality_note,
    )
