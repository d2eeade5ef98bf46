"""The ways to enter the outlines of a piece; each form cleans to `outlines`, one for every size it is for."""

from __future__ import annotations

from typing import Any

from planner.styles.models import Piece, Size
from planner.styles.outline_forms.grow_by import GrowForm
from planner.styles.outline_forms.measures import MeasuresForm, RectangleForm, StripForm, TrapezoidForm
from planner.styles.outline_forms.typed import FoldForm, PointsForm

#: The ways by their key in the address, in the order of the page.
WAYS = {
    "points": "As points",
    "fold": "From the fold",
    "rectangle": "As a rectangle",
    "trapezoid": "As a trapezoid",
    "strip": "As a strip",
    "grow": "By a grow-by table",
}

_MEASURES: dict[str, type[MeasuresForm]] = {
    "rectangle": RectangleForm,
    "trapezoid": TrapezoidForm,
    "strip": StripForm,
}


OutlineForm = MeasuresForm | GrowForm | PointsForm


def outline_form(
    how: str,
    piece: Piece,
    sizes: list[Size],
    data: Any,
    *,
    chosen: Size,
    base_size: Size,
    display: str,
) -> OutlineForm:
    """The form of one of WAYS, filled with what is stored, or with `data` as it was typed."""
    form: OutlineForm
    if how in _MEASURES:
        form = _MEASURES[how](piece, sizes, data, display=display)
    elif how == "grow":
        form = GrowForm(piece, sizes, data, base_size=base_size, display=display)
    else:
        typed = FoldForm if how == "fold" else PointsForm
        form = typed(piece, sizes, data, chosen=chosen, display=display)
    form.note_stored(piece)
    return form
