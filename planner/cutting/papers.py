"""Fills the papers of a batch from its plan. The plan may come from the database or straight from the core."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from planner.core.cloth import as_cut
from planner.core.listed import listed
from planner.core.needs import Needs, interpolated_sizes
from planner.core.planning import NestedLay, Plan, PlannedCloth
from planner.core.ply_list import Rolls
from planner.core.spec import Garment, Workshop
from planner.core.told_lots import Told
from planner.cutting.bundle_orders import Wanted
from planner.cutting.cut_so_far import CutSoFar
from planner.cutting.lay_papers import lay_papers
from planner.cutting.printed import SHEET
from planner.cutting.reckoned import in_metres
from planner.cutting.reckoning import cloth_figures, lay_metres, marker_places, notion_figures
from planner.cutting.told_amounts import told_amounts
from planner.cutting.wording import (
    ODD_PLY,
    cloth_to_buy,
    named,
    options_in_words,
)
from planner.papers.buy_data import THERE_FOR_IT
from planner.papers.data import (
    ClothLine,
    CountRow,
    CutSheet,
    Heading,
    LayPaper,
    LengthRow,
    LengthTotal,
    SizeRow,
)
from planner.papers.figures import figure
from planner.papers.order import in_order


@dataclass(frozen=True)
class PaperSetting:
    """What papers need besides the plan."""

    heading: Heading
    display: str = "metric"
    currency: str = "EUR"
    #: Bundle number to the address in its QR; a bundle without one carries its number.
    urls: Mapping[str, str] = field(default_factory=dict)
    #: Bundle number to order and day in words; no order where it holds garments of several.
    orders: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    #: Who ordered each garment, for bundles that hold those of several orders.
    wanted: Mapping[Garment, Wanted] = field(default_factory=dict)
    #: Fabric or notion name to supplier.
    suppliers: Mapping[str, str] = field(default_factory=dict)
    #: The rolls of each lay by its number.
    rolls: Rolls = field(default_factory=dict)
    #: What is cut already, by the number of the lay.
    cut: Mapping[int, CutSoFar] = field(default_factory=dict)
    #: How good the cut plan is, in sentences.
    judged: tuple[str, ...] = ()
    #: What was told of the plies of each lay by its number.
    told: Told = field(default_factory=dict)
    #: The first day that anything cut from a lay is due, by its number.
    due: Mapping[int, date] = field(default_factory=dict)
    #: The marks of the papers by their keys, see :mod:`planner.cutting.printed`.
    marks: Mapping[str, str] = field(default_factory=dict)
    #: The keys of those that, as they are now, were not noted as printed.
    not_noted: Collection[str] = ()
    #: Flaws of its rolls before the plies of each lay, in words, by its number.
    flaws: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    #: The turns of lays that share rolls with flaws, by their numbers.
    at_flaws: Mapping[int, int] = field(default_factory=dict)


def heading_of(key: str, setting: PaperSetting) -> Heading:
    """The heading of a paper of the whole batch with its mark, by its key in :mod:`planner.cutting.printed`."""
    return replace(setting.heading, mark=setting.marks.get(key, ""), is_noted=key not in setting.not_noted)


def cut_sheet_data(plan: Plan, shop: Workshop, setting: PaperSetting) -> CutSheet:
    """The cut sheet of a planned batch."""
    return CutSheet(
        heading=heading_of(SHEET, setting),
        demand=_size_rows(plan, shop),
        cloths=tuple(_cloth_line(planned, setting) for planned in plan.cloths),
        lays=_lays(plan, shop, setting),
        counts=count_rows(plan.needs, shop),
        lengths=_lengths(plan, shop),
        notions=tuple(
            (named(need.key), told_amounts(figures, setting.display, in_packs=True).need)
            for need in plan.needs.notions
            for figures in [notion_figures(need, shop.notions[need.key])]
        ),
        notes=_notes(plan, shop, setting),
        imperial=setting.display == "imperial",
        length_totals=tuple(
            LengthTotal(named(need.key), shop.notions[need.key].waste_share, need.need)
            for need in plan.needs.notions
            if need.unit == "m"
        ),
        judged=setting.judged,
    )


def ticket_lays(plan: Plan, shop: Workshop, setting: PaperSetting) -> tuple[LayPaper, ...]:
    """The lays for their cut tickets, as they are cut one after the other; each still to be cut knows its turn."""
    lays = in_order(_lays(plan, shop, setting))
    return tuple(
        lay if lay.is_cut else replace(lay, turn=(turn, len(lays))) for turn, lay in enumerate(lays, 1)
    )


def _lays(plan: Plan, shop: Workshop, setting: PaperSetting) -> tuple[LayPaper, ...]:
    """By number, with the day each is due and the mark of its cut ticket."""
    return tuple(
        replace(
            lay,
            due_on=setting.due.get(lay.number),
            mark=setting.marks.get(str(lay.number), ""),
            is_noted=str(lay.number) not in setting.not_noted,
            flaws=setting.flaws.get(lay.number, ()),
            at_flaws=setting.at_flaws.get(lay.number),
        )
        for lay in lay_papers(plan, shop, setting.rolls, setting.cut, setting.told)
    )


def _cloth_line(planned: PlannedCloth, setting: PaperSetting) -> ClothLine:
    """Metres of a cloth, from its lays to what is left over; figures follow from those printed with the lays."""
    need, cloth, lays = planned.need, planned.cloth, planned.lays
    figures = cloth_figures(need, cloth, lays, stock_is=THERE_FOR_IT)
    words = figures.words
    if len(lays) > 1 and figures.before is not None:
        places = marker_places(lays, need, cloth)
        each = " + ".join(figure(lay_metres(lay, places, cloth.key)) for lay in lays)
        words = f"Lays {each} = {figure(figures.before, 'm')}. {words}"
    told = told_amounts(figures, setting.display)
    return ClothLine(
        fabric=cloth.key.fabric,
        colour=cloth.key.colour,
        lay_m=planned.lay_m if figures.before is None else float(figures.before),
        need_m=float(figures.need),
        in_stock_m=float(figures.on_shelf),
        to_buy=cloth_to_buy(need, cloth, setting.display),
        how=need.how if need.is_estimate else "",
        reckoning=in_metres(words, setting.display),
        need=told.need,
        in_stock=told.on_shelf,
    )


def _notes(plan: Plan, shop: Workshop, setting: PaperSetting) -> tuple[str, ...]:
    """What to see to before cutting, besides what always is."""
    notes = []
    made = dict.fromkeys(size for sizes in interpolated_sizes(plan.demand, shop).values() for size in sizes)
    if made:
        sizes = " and ".join(made)
        notes.append(f"{sizes} interpolated: made from the sizes beside, so measure its pieces first.")
    extra = [
        f"{wanted.extra} × {garment.style} {garment.size}, {garment.colourway}"
        for garment, wanted in setting.wanted.items()
        if wanted.extra
    ]
    if extra:
        notes.append(f"More than ordered is cut of {listed(extra)}.")
    if any(_may_leave_odd_ply(lay, setting.rolls) for lay in plan.lays):
        notes.append(f"{ODD_PLY[0].upper()}{ODD_PLY[1:]}.")
    return tuple(notes)


def _may_leave_odd_ply(lay: NestedLay, rolls: Rolls) -> bool:
    """Whether a lay face to face changes from roll to roll, or has no roll for some of its pairs."""
    if lay.planned.mode != "face_to_face":
        return False
    return any(len(parts) > 1 or any(not part.roll for part in parts) for parts in rolls.get(lay.number, ()))


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
