"""A lay as its page and the page of its batch show it: drawn, with its plies, garments and pieces."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.core.paginator import Page, Paginator

from planner.common.drawing import LayDrawing, draw_lay
from planner.core.lays.model import LENGTHS
from planner.cutting.marker_store import read_marker
from planner.cutting.models import Lay, LayGarment, Marker
from planner.cutting.printed import PaperNow
from planner.cutting.screens_lay import lay_state
from planner.cutting.size_counts import size_counts
from planner.cutting.wording import options_in_words
from planner.papers.layers import layers_in_words, spread_of_colour

#: More lays than a day's work come in pages of so many: the page of their batch is asked for again and again.
MOST_DRAWN = 40


@dataclass(frozen=True)
class LayScreen:
    """One lay on its page or in its batch."""

    row: Lay
    fabric: str
    #: The plies of each colour, with its swatch: ("#2a2f45", "1 × ink").
    colours: tuple[tuple[str, str], ...]
    #: How many plies lie on the table and how often cloth is spread, where that is not the same.
    layers: str
    sizes: tuple[tuple[str, int], ...]
    is_running: bool
    is_cut: bool
    state: str
    marker: Marker
    drawing: LayDrawing | None
    pieces: tuple[tuple[int, str], ...]
    #: Which pieces of which style lie in it, each once: (style, name).
    kinds: frozenset[tuple[str, str]]
    efficiency: float | None
    marker_mm: float | None
    spread_mm: float | None
    cloth_mm: float | None
    #: Its cut ticket, None where none can be printed.
    paper: PaperNow | None = None
    #: Which lays it comes before for the sake of flaws, in words; "" for none.
    forward: str = ""
    #: The cut plan it can be planned anew with while others are being cut, 0 for none; and why it is not.
    plan_anew: int = 0
    stays: str = ""


def lay_screens(rows: Iterable[Lay]) -> list[LayScreen]:
    """Lays of a batch in this order, as many as stand on one page of it."""
    shown = list(rows)
    ordered = size_counts(shown)
    return [lay_screen(row, ordered[row.pk]) for row in shown]


def page_of_lays(rows: Sequence[Lay], asked: str | None) -> Page[Lay]:
    """The page of lays (in the order they are cut) that is asked for by its number, else the one with the next to be
    cut. Answers with the last page instead of one there is none of.
    """
    pages = Paginator(rows, MOST_DRAWN)
    if asked is not None:
        return pages.get_page(asked)
    next_at = next((at for at, row in enumerate(rows) if row.cut_at is None), 0)
    return pages.get_page(next_at // MOST_DRAWN + 1)


def lay_screen(row: Lay, sizes: Sequence[tuple[str, int]] | None = None) -> LayScreen:
    """A lay (read by `with_everything`), with its drawing if something has been nested.

    `sizes` are those of `size_counts`, where they are known already.
    """
    cloths = list(row.cloths.all())
    cloth = cloths[0]
    spreads: Counter[str] = Counter()
    swatches = {plies.fabric_colour.name: plies.fabric_colour.swatch for plies in cloths}
    for plies in cloths:
        spreads[plies.fabric_colour.name] += plies.spreads
    marker = read_marker(row.marker)
    marker_mm = marker.length_mm if marker else row.marker.length_mm
    pieces: list[tuple[str, Any]] = []
    if marker is not None:
        pieces = [
            (f"{p.piece} {p.size}" + (", mirrored" if p.mirrored else ""), p.outline)
            for p in marker.placements
        ]
    drawing = draw_lay(row.lay_width_mm, marker.length_mm, pieces) if marker else None
    spread = marker_mm + 2 * row.end_allowance_mm if marker_mm is not None else None
    return LayScreen(
        row=row,
        fabric=cloth.fabric_colour.fabric.name,
        colours=tuple(
            (swatches[colour], spread_of_colour(count, colour, row.way)) for colour, count in spreads.items()
        ),
        layers=layers_in_words(spreads.total(), row.way),
        sizes=tuple(size_counts([row])[row.pk] if sizes is None else sizes),
        is_running=row.marker.state in {Marker.State.WAITING, Marker.State.NESTING},
        is_cut=row.cut_at is not None,
        state=lay_state(row),
        marker=row.marker,
        drawing=drawing,
        pieces=tuple((n, name) for n, (name, _) in enumerate(pieces, 1)),
        kinds=frozenset((p.style, p.piece) for p in marker.placements) if marker else frozenset(),
        efficiency=marker.efficiency if marker else row.marker.efficiency,
        marker_mm=marker_mm,
        spread_mm=spread,
        cloth_mm=spread * LENGTHS[row.mode] * spreads.total() if spread is not None else None,  # type: ignore[index]
    )


def garments_in_words(row: Lay) -> tuple[str, ...]:
    """ "1 × 110 M, ink (neck: rib band)" for each garment of a lay, read with their options."""
    return tuple(
        f"{held.per_marker} × {held.style.number} {held.size.name}, {held.colourway.name}"
        + (f" ({chosen})" if (chosen := options_in_words(_options(held))) else "")
        for plies in row.cloths.all()
        for held in plies.garments.all()
    )


def _options(held: LayGarment) -> tuple[tuple[str, str], ...]:
    return tuple((option.detail.name, option.name) for option in held.options.all())
