"""Stripes, shading and washing on screens: what a lay's page tells the cutter, what a batch says of styles without
marks."""

from __future__ import annotations

from collections.abc import Sequence

from planner.core.cloth import shrinks_first
from planner.core.lays.matched import loose_styles, stripes_of, unmarked_styles
from planner.core.lays.stored import job_from_json
from planner.core.spec import Demand, Workshop
from planner.cutting.models import Lay
from planner.materials.specs import cloth_of
from planner.papers.stripes import stripes_in_words
from planner.papers.washing import washing_in_words


def stripes_on_lay(lay: Lay, display: str) -> str:
    """What to see to on a lay of striped cloth, as its papers say it; "" for plain cloth.

    A lay read with its cloths: no query for plain cloth, one for its question else.
    """
    cloths = list(lay.cloths.all())
    cloth = cloth_of(cloths[0].fabric_colour)
    if not (cloth.repeat_length_mm or cloth.repeat_width_mm):
        return ""
    stripes = stripes_of(job_from_json(lay.marker.job), cloth)
    if stripes is None:  # planned before its fabric had a pattern
        return ""
    spreads = sum(cloth.spreads for cloth in cloths)
    return stripes_in_words(stripes, lay.mode, spreads, imperial=display == "imperial")


def washing_on_lay(lay: Lay) -> str:
    """That its cloth is washed before it is spread, as its papers say it; "" where it is not. A lay read with its
    cloths: no query."""
    return washing_in_words(shrinks_first(cloth_of(lay.cloths.all()[0].fabric_colour)))


def unmarked_in_words(demand: Sequence[Demand], shop: Workshop) -> tuple[str, ...]:
    """ "striped jersey has stripes, but no seam of style 130 is marked for its stripes to run on over, so its pieces
    lie anywhere on them"; the same of cloth that shades and styles without pieces that lie side by side."""
    striped = (
        f"{fabric} has stripes, but no seam of style {style} is marked for its stripes to run on over, so its pieces"
        " lie anywhere on them"
        for fabric, style in unmarked_styles(demand, shop)
    )
    shading = (
        f"{fabric} shades, but no pieces of style {style} are marked to lie side by side, so parts of one garment may"
        " be cut far from each other"
        for fabric, style in loose_styles(demand, shop)
    )
    return (*striped, *shading)
