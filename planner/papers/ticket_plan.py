"""How the page of a lay is shared out on its cut ticket: which way round, how large the drawing, and what stands where.

Plies, facts and key stand over the drawing, at its right or under it, whichever leaves the drawing largest; on a page
of their own only where they would leave next to nothing of it. Measures are points.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from planner.papers.blocks import Block, stack_height
from planner.papers.data import LayPaper, PaperSize
from planner.papers.lay_fit import LayFit, fit_lay
from planner.papers.paging import FOOT, MARGIN, page_size

Place = Literal["over", "beside", "under", "overleaf"]


class Layout(NamedTuple):
    """Where plies, facts and key stand, seen from the drawing. The larger its `weight`, the more must be gained."""

    plies: Place
    facts: Place
    key: Place
    weight: float = 1.05


#: What is to be read first stands first; a second page must draw the lay a good deal larger.
LAYOUTS = (
    Layout("over", "over", "under", 1.0),
    Layout("over", "over", "beside"),
    Layout("over", "beside", "under"),
    Layout("over", "beside", "beside"),
    Layout("beside", "beside", "under"),
    Layout("beside", "beside", "beside", 1.04),
    Layout("over", "over", "overleaf", 2.0),
    Layout("overleaf", "over", "overleaf", 2.2),
)
#: Widths that are tried at the right of a drawing, and what parts them from it.
COLUMNS = (150.0, 190.0, 235.0, 285.0, 340.0, 400.0)
GUTTER = 14.0
#: A lay drawn in strips, with pieces torn, must be drawn so much larger.
TORN = 1.3
#: Plies in a column narrower than this are cramped: the lay must be drawn so much larger.
CRAMPED_COLUMN, CRAMPED = 200.0, 1.1
#: Less than this is no drawing to cut by.
LEAST_DRAWING = 130.0


@dataclass(frozen=True)
class TicketParts:
    """What a ticket holds, each measured for a width. `foot` is the height of its foot, upright or wide (True).

    `briefly` stands over the drawing where the plies themselves do not.
    """

    head: Callable[[float], Block]
    notes: Callable[[float], list[Block]]
    plies: Callable[[float], list[Block]]
    briefly: Callable[[float], list[Block]]
    facts: Callable[[float], list[Block]]
    key: Callable[[float], list[Block]]
    foot: Callable[[bool], float]


@dataclass(frozen=True)
class TicketPlan:
    """A page shared out: blocks over the drawing, at its right (in a column of this width) and under it."""

    is_wide: bool
    layout: Layout
    fit: LayFit
    over: list[Block]
    beside: list[Block]
    column: float
    under: list[Block]
    inner: float

    @property
    def worth(self) -> tuple[float, bool, float]:
        """The least is the best: a large drawing, with all on one upright page."""
        strips = TORN if self.fit.strips > 1 else 1.0
        cramped = CRAMPED if self.layout.plies == "beside" and self.column < CRAMPED_COLUMN else 1.0
        return self.fit.scale * self.layout.weight * strips * cramped, self.is_wide, -self.column


def plan_ticket(lay: LayPaper, parts: TicketParts, size: PaperSize) -> TicketPlan:
    """The best way to share out the page; a lay without pieces stands upright with all in one column.

    What is more than a page holds goes on over as many as it takes.
    """
    if not lay.pieces:
        return next(_ways(lay, parts, size, wide=False, layouts=LAYOUTS[:1], least=-1e9))
    found = [way for wide in (False, True) for way in _ways(lay, parts, size, wide=wide, layouts=LAYOUTS)]
    if found:
        return min(found, key=lambda way: way.worth)
    # Facts so long that they leave no room: they go on over the page before the drawing.
    return next(_ways(lay, parts, size, wide=False, layouts=LAYOUTS[-1:], least=-1e9))


def _ways(
    lay: LayPaper,
    parts: TicketParts,
    size: PaperSize,
    *,
    wide: bool,
    layouts: Sequence[Layout],
    least: float = LEAST_DRAWING,
) -> Iterator[TicketPlan]:
    """All ways to share out a page this way round in which everything has room."""
    width, height = page_size(size, wide=wide)
    inner = width - 2 * MARGIN
    room = height - MARGIN - FOOT - 6 - parts.head(inner).height - parts.foot(wide)
    for layout in layouts:
        has_column = "beside" in layout
        for column in COLUMNS if has_column else (0.0,):
            plan = _shared_out(lay, parts, layout, inner, room, column, is_wide=wide, least=least)
            if plan is not None:
                yield plan


def _shared_out(
    lay: LayPaper,
    parts: TicketParts,
    layout: Layout,
    inner: float,
    room: float,
    column: float,
    *,
    is_wide: bool,
    least: float,
) -> TicketPlan | None:
    """One way, None where something has no room."""
    over, under = _blocks(parts, layout, "over", inner), _blocks(parts, layout, "under", inner)
    left = room - stack_height(over) - stack_height(under)
    if left < least:
        return None
    if not column:
        return TicketPlan(is_wide, layout, fit_lay(lay, inner, max(left, 120.0)), over, [], 0.0, under, inner)
    if column > inner * 0.72:
        return None
    fit = fit_lay(lay, inner - column - GUTTER, left)
    # What the drawing does not take in width, the words beside it get.
    column = inner - fit.drawn_width(lay) - GUTTER
    if column < COLUMNS[0] - 1:
        return None
    beside = _blocks(parts, layout, "beside", column)
    if stack_height(beside) > left:
        return None
    return TicketPlan(is_wide, layout, fit, over, beside, column, under, inner)


def _blocks(parts: TicketParts, layout: Layout, place: Place, width: float) -> list[Block]:
    """What stands in one place, in the order in which it is read."""
    found: list[Block] = []
    if place == "over":
        found += parts.notes(width)
        if layout.plies == "overleaf":
            found += parts.briefly(width)
    for name, where in (("plies", layout.plies), ("facts", layout.facts), ("key", layout.key)):
        if where == place:
            found += getattr(parts, name)(width)
    return found
