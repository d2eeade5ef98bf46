"""The lays on the cut sheet: each with its drawing, its key and its plies together, as many on a page as fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from statistics import median_low
from typing import NamedTuple

from reportlab.lib.units import mm as POINTS_PER_MM  # noqa: N812
from reportlab.pdfgen.canvas import Canvas

from planner.papers import amounts
from planner.papers.blocks import (
    Block,
    beside_each_other,
    stack_height,
    text_block,
    ticked_block,
)
from planner.papers.data import LayPaper
from planner.papers.lay_fit import LEAST_SCALE, LayFit, fit_lay, spread_length_mm
from planner.papers.lay_key import key_flow, key_rows
from planner.papers.marks import MIRRORED, MIRRORED_SIGN
from planner.papers.panels import cut_already_block, flaws_blocks, lots_apart_blocks
from planner.papers.piece_labels import STRIP
from planner.papers.sheet import Sheet
from planner.papers.spreading import (
    plies_in_words,
    ply_blocks,
    side_by_side_in_words,
    twins_in_words,
    way_in_words,
)
from planner.papers.stripes import lay_stripes_in_words

LEGEND = (
    "Drawn to scale: dashed line = cut, arrow = grain, short bar = notch, double line = selvedge, "
    "dots = end of the marker. Small letters tell the garments of a marker apart. Lengths to spread are rounded up, "
    "sums are taken of the exact ones."
)
#: The drawing of a lay takes no more than this share of the height of a page.
DRAWING_SHARE = 0.33
#: That of a lay a good deal shorter than wide, which would be too small to read and leaves much of the width free.
SHORT_SHARE, SHORT = 0.5, 0.5
#: Smaller drawings that are tried where that saves pages, and the smallest scale they may have (1 : n).
SMALLER_SHARES, SMALLEST_SCALE = (0.28, 0.24), 45
#: Bands and other strips are drawn at least so wide (points) where there is any room for it: words in them can be read.
BAND_POINTS = 9.0
#: Widths at the right of a drawing in which its key is tried.
KEYS_BESIDE = (330.0, 260.0, 225.0, 190.0, 130.0)
#: Least width of a column of the key there; labels then take two lines rather than the key another page.
KEY_COLUMN = 108.0
#: After a lay.
GAP = 10.0
#: What the heading of the section takes, with the legend.
HEADING = 70.0


def draw_lays(sheet: Sheet, lays: Sequence[LayPaper], *, imperial: bool) -> None:
    """The section of the lays. A lay stays together on its page unless it alone is higher; the drawings are made
    smaller where that saves pages, and larger again as far as their page has room.
    """
    if not lays:
        sheet.section("Lays")
        sheet.place(text_block("No lay has been planned yet.", sheet.inner_width))
        return
    sheet.drawings.expect(lays)
    drawn = [_Drawn(_lay(sheet, lay, plan, imperial), lay) for lay, plan in _plans(sheet, lays, imperial)]
    sheet.section("Lays", keep=_kept(sheet, drawn[0]) + 20)
    sheet.place(text_block(LEGEND, sheet.inner_width, 8.5, soft=True, after=4))
    for one in drawn:
        sheet.need(_kept(sheet, one))
        for block in one.blocks:
            sheet.place(block)
        sheet.gap(GAP)


class _Drawn(NamedTuple):
    blocks: list[Block]
    lay: LayPaper


def _kept(sheet: Sheet, drawn: _Drawn) -> float:
    """What has to stay together of a lay: all of it, unless it fills more than a page."""
    height = stack_height(drawn.blocks)
    return height if height <= sheet.room_on_page else min(height, sheet.height * 0.6)


@dataclass(frozen=True)
class _LayPlan:
    """How a lay stands on the cut sheet: its drawing, its key at its right within `column`, or beneath in rows."""

    fit: LayFit
    beside: Block | None
    rows: list[Block]
    column: float

    @property
    def height(self) -> float:
        """Drawing and key."""
        return self.drawn_height + stack_height(self.rows)

    @property
    def drawn_height(self) -> float:
        """The drawing with what stands beside it."""
        return max(self.fit.height, self.beside.height + 14 if self.beside else 0.0)


def _plans(sheet: Sheet, lays: Sequence[LayPaper], imperial: bool) -> list[tuple[LayPaper, _LayPlan]]:  # noqa: FBT001
    """Lays with large drawings; where smaller ones take fewer pages, as large as their page then has room for."""
    looks = [sheet.drawings.look(lay) for lay in lays]
    known = {look: _ways(sheet, lay) for look, lay in dict(zip(looks, lays, strict=True)).items()}
    ways = [known[look] for look in looks]
    large = [plans[0] for plans in ways]
    chosen = [min(plans, key=lambda plan: plan.height) for plans in ways]
    here, room = sheet.y - sheet.bottom - HEADING, sheet.room_on_page
    other = [
        stack_height(_lay(sheet, lay, plan, imperial)) - plan.height + GAP
        for lay, plan in zip(lays, large, strict=True)
    ]

    def pages(plans: Sequence[_LayPlan]) -> list[_Page]:
        return _pages([plan.height + rest for plan, rest in zip(plans, other, strict=True)], here, room)

    few = pages(chosen)
    if len(few) >= len(pages(large)):
        return list(zip(lays, large, strict=True))
    for page in few:
        spare = max(page.spare, 0.0)  # A lay higher than a page leaves less than nothing.
        for n in page.lays:
            low = chosen[n].height
            fitting = [plan for plan in ways[n] if plan.height - low <= spare]
            chosen[n] = min(fitting, key=lambda plan: (plan.fit.scale, plan.height))
            spare -= chosen[n].height - low
    return list(zip(lays, chosen, strict=True))


@dataclass
class _Page:
    """The lays that come on a page, by their place from 0, and the height that is left there."""

    spare: float
    lays: list[int] = field(default_factory=list)


def _pages(heights: Sequence[float], here: float, room: float) -> list[_Page]:
    """Lays shared out over pages in their order; `here` is left of the page they begin on, `room` on a new one."""
    pages = [_Page(here)] if heights[0] <= here else [_Page(here), _Page(room - HEADING)]
    for n, height in enumerate(heights):
        if height > pages[-1].spare and pages[-1].lays:
            pages.append(_Page(room))
        pages[-1].lays.append(n)
        pages[-1].spare -= height
    return pages


def _ways(sheet: Sheet, lay: LayPaper) -> list[_LayPlan]:
    """Ways to draw a lay: as large as it may be first, then smaller ones, mostly with the key at the right."""
    width = sheet.inner_width
    most = SHORT_SHARE if spread_length_mm(lay) < SHORT * lay.lay_width_mm else DRAWING_SHARE
    fit = fit_lay(lay, width, sheet.height * most)
    if not lay.pieces:
        return [_LayPlan(fit, None, [], width)]
    beside = _with_key_beside(lay, fit, width - fit.drawn_width(lay) - 14, 118.0)
    large = beside if beside and beside.drawn_height <= fit.height else _beneath(lay, fit, width)
    smallest = min(SMALLEST_SCALE, max(fit.scale, _scale_of_bands(lay)))
    smaller: list[_LayPlan] = []
    for share in dict.fromkeys((most, DRAWING_SHARE, *SMALLER_SHARES)):
        smaller.append(_beneath(lay, fit_lay(lay, width, sheet.height * share), width))
        for key in KEYS_BESIDE:
            fit = fit_lay(lay, width - key - 14, sheet.height * share)
            beside = _with_key_beside(lay, fit, width - fit.drawn_width(lay) - 14, KEY_COLUMN)
            smaller += [beside] if beside else []
    return [large, *(plan for plan in smaller if plan.fit.scale <= smallest)]


def _scale_of_bands(lay: LayPaper) -> int:
    """The scale (1 : n) at which most bands and other strips of a lay can hold words; no limit where they are few."""
    narrow = []
    for piece in lay.pieces:
        (x1, x2), (y1, y2) = ((min(side), max(side)) for side in zip(*piece.outline, strict=True))
        short, long = sorted((x2 - x1, y2 - y1))
        if long > STRIP * short > 0:
            narrow.append(short)
    if 2 * len(narrow) < len(lay.pieces) or not narrow:
        return SMALLEST_SCALE
    return max(LEAST_SCALE, int(median_low(narrow) * POINTS_PER_MM / BAND_POINTS))


def _with_key_beside(lay: LayPaper, fit: LayFit, free: float, column: float) -> _LayPlan | None:
    """With the key at the right of the drawing in columns no narrower than this, None where there is no room."""
    if free < 120:
        return None
    beside = key_flow(lay, free, tick_each=False, least=column)
    return _LayPlan(fit, beside, [], free)


def _beneath(lay: LayPaper, fit: LayFit, width: float) -> _LayPlan:
    rows, column = key_rows(lay, width, tick_each=False)
    return _LayPlan(fit, None, [beside_each_other(row, column) for row in rows], column)


def _lay(sheet: Sheet, lay: LayPaper, plan: _LayPlan, imperial: bool) -> list[Block]:  # noqa: FBT001
    """All of one lay from its number to its check boxes."""
    width = sheet.inner_width
    words = " ".join(filter(None, [lay.before, lay_in_words(lay, imperial=imperial)]))
    if any(piece.mirrored for piece in lay.pieces):
        words += f" {MIRRORED_SIGN} = {MIRRORED}."
    blocks = [text_block(f"Lay {lay.number} · {lay.fabric}", width, 13, bold=True)]
    if lay.cut:
        blocks.append(cut_already_block(lay.cut, width))
    blocks.append(text_block(words, width, 9.5, after=4))
    if lay.flaws:
        blocks += flaws_blocks(lay.flaws, width)
    if lay.apart:
        blocks += lots_apart_blocks(lay.apart, width)
    if lay.pieces:
        blocks += [_drawing(sheet, lay, plan, imperial), *plan.rows]
    else:
        blocks.append(no_drawing_block(lay, width, imperial=imperial))
    if lay.ply_rows:
        blocks += [_gap(4), *ply_blocks(lay, width), _gap(4)]
    left = ("pieces counted and tied",) if lay.is_cut else ("spread", "cut", "pieces counted and tied")
    done = [ticked_block(word, width / 3 - 8) for word in left]
    return [*blocks, beside_each_other(done, width / 3)]


def _gap(height: float) -> Block:
    return Block(height, lambda _canvas, _x, _top: None)


def _drawing(sheet: Sheet, lay: LayPaper, plan: _LayPlan, imperial: bool) -> Block:  # noqa: FBT001
    width = sheet.inner_width

    def draw(canvas: Canvas, x: float, top: float) -> None:
        sheet.drawings.draw(lay, plan.fit, x, top, imperial=imperial)
        if plan.beside:
            plan.beside.draw(canvas, x + width - plan.column, top - 14)

    return Block(plan.drawn_height, draw)


def no_drawing_block(lay: LayPaper, width: float, *, imperial: bool) -> Block:
    """What stands in place of the drawing of a lay without pieces."""
    across = amounts.length(lay.lay_width_mm, imperial=imperial)
    word = "folded width" if lay.mode == "folded" else "usable width"
    words = f"No pieces have been laid yet, so there is nothing to draw. {word.capitalize()} {across}."
    return text_block(words, width, 9.5, after=4)


def lay_in_words(lay: LayPaper, *, imperial: bool) -> str:
    """Plies, way of spreading, cloth and efficiency in one sentence."""
    spread = amounts.spread_length(spread_length_mm(lay), imperial=imperial)
    used = amounts.cloth(lay.cloth_m, imperial=imperial, at_least=True)
    one = "length" if lay.mode == "folded" else "ply"
    share = amounts.share(lay.efficiency)
    kind = f"efficiency {share}" if lay.nested else f"an estimate at {share} efficiency: not nested yet"
    cloth = lay.reckoning or f"{used} of cloth in all"
    if imperial and lay.reckoning:
        cloth = f"{used} of cloth in all, in metres {lay.reckoning}"
    stripes = lay_stripes_in_words(lay, imperial=imperial)
    way = " ".join(
        filter(None, (way_in_words(lay), stripes, side_by_side_in_words(lay), twins_in_words(lay)))
    )
    return f"{plies_in_words(lay)}. {way} Spread {spread} a {one}; {cloth}; {kind}."
