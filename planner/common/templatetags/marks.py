"""The marks of the trade as template tags: swatch, tape measure, row of size boxes, drawings, figures with units."""

from __future__ import annotations

import math
from collections.abc import Iterable
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django import template
from django.template.loader import render_to_string
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from planner.common.drawing import LAYS_KEPT, LayDrawing, PieceDrawing, draw_piece
from planner.core.outline import Outline, outline_from_json
from planner.core.units import (
    THIN_SPACE,
    area_as_told,
    area_unit,
    format_area,
    format_length,
    format_metres_told,
    format_money,
    plain_number,
)

register = template.Library()

TAPE_WIDTH = 600
TAPE_TICKS_NUMBERED = 20
#: Marks kept as they were drawn: a long list has few colours and few different tapes, and has each many times.
MARKS_KEPT = 1_000


@register.simple_tag
def swatch(colour: str, name: Any) -> SafeString:
    """A small square of the colour with its name beside it; the name carries the meaning."""
    # A row of the database stays equal to itself when it gets another name: marks are kept by their text alone.
    return _swatch(colour, name if isinstance(name, str) else str(name))


# Text that is safe already looks equal to the same text that is not, so marks are kept by its type too.
@lru_cache(maxsize=MARKS_KEPT, typed=True)
def _swatch(colour: str, name: str) -> SafeString:
    if not colour:
        return format_html('<span class="swatch">{}</span>', name)
    return format_html(
        '<span class="swatch"><svg width="18" height="18" aria-hidden="true"><rect width="18" height="18" fill="{}"/>'
        "</svg>{}</span>",
        colour,
        name,
    )


@register.simple_tag
@lru_cache(maxsize=MARKS_KEPT, typed=True)
def tape(done: int, total: int, label: str, width: int = TAPE_WIDTH) -> SafeString:
    """A tape measure with numbered ticks up to `total`, filled to `done`; `label` is what it counts.

    A narrow one (`width` in px, 600 unless given) carries fewer numbers, so that they stay readable on a phone.
    """
    total = max(int(total), 1)
    done = min(max(int(done), 0), total)
    numbered = TAPE_TICKS_NUMBERED * width / TAPE_WIDTH
    every = next(step for step in (1, 2, 5, 10, 20, 50, 100, 200, 500, 10**9) if total / step <= numbered)
    ticks = [
        {"x": round(width * i / total, 1), "number": i if i % every == 0 or i == total else None}
        for i in range(1, total + 1)
        if total <= 100 or i % every == 0 or i == total
    ]
    drawn = {
        "ticks": ticks, "done": done, "total": total, "label": label,
        "width": width, "filled": round(width * done / total, 1),
    }  # fmt: skip
    return render_to_string("common/tape.html", drawn)


@register.simple_tag
def size_boxes(pairs: Iterable[tuple[str, int]]) -> SafeString:
    """Sizes in a row of boxes with quantities, the way a maker writes them. `pairs` is (size, quantity)…"""
    return _size_boxes(tuple(pairs))


@lru_cache(maxsize=MARKS_KEPT, typed=True)
def _size_boxes(pairs: tuple[tuple[str, int], ...]) -> SafeString:
    boxes = format_html_join(
        "",
        '<span class="box{}"><span>{}</span><b>{}</b></span>',
        (("" if quantity else " none", size, quantity or "–") for size, quantity in pairs),
    )
    return format_html('<span class="sizes">{}</span>', boxes)


@register.simple_tag
def count_cells(counts: Iterable[int]) -> SafeString:
    """Numbers as the cells of a table's row, nothing as a dash; hundreds of them take long one by one."""
    # Nothing but digits can come of it, so nothing needs escaping.
    return SafeString(
        "".join(f'<td class="num">{format(count, "d") if count else "–"}</td>' for count in counts)
    )


@register.simple_tag
def options(pairs: Iterable[tuple[str, str]], chosen: str = "") -> SafeString:
    """The options of a select, `pairs` of value and label, with the `chosen` value selected."""
    return _options(tuple(pairs), chosen)


@lru_cache(maxsize=MARKS_KEPT, typed=True)
def _options(pairs: tuple[tuple[str, str], ...], chosen: str) -> SafeString:
    return format_html_join(
        "",
        '<option value="{}"{}>{}</option>',
        ((value, " selected" if value == chosen else "", label) for value, label in pairs),
    )


@register.inclusion_tag("common/piece_drawing.html")
def piece_drawing(outline: Outline | dict[str, Any], title: str) -> dict[str, Any]:
    """A piece to scale with its grain arrow; takes an Outline or its stored JSON."""
    shape = outline if isinstance(outline, Outline) else outline_from_json(outline)
    drawing: PieceDrawing = draw_piece(shape)
    return {"drawing": drawing, "title": title}


@register.simple_tag
@lru_cache(maxsize=LAYS_KEPT, typed=True)
def lay_drawing(drawing: LayDrawing, title: str) -> SafeString:
    """A lay as planner.common.drawing.draw_lay gives it, which keeps as many as are kept here as marks."""
    return render_to_string("common/lay_drawing.html", {"drawing": drawing, "title": title})


@register.simple_tag(takes_context=True)
def length(
    context: dict[str, Any], value_mm: float | Decimal | None, kind: str = "cloth", *, at_least: bool = False
) -> str:
    """A length in mm in the workroom's units: kind "cloth" in metres or yards, "small" in cm or inches.

    Rounded up where there must be `at_least` so much, as of cloth to be spread.
    """
    if value_mm is None:
        return "–"
    return format_length(float(value_mm), display=_display(context), kind=kind, at_least=at_least)


@register.simple_tag(takes_context=True)
def both_lengths(context: dict[str, Any], first_mm: float | None, second_mm: float | None) -> str:
    """Two sides of a seam: "35.9 cm to 36.4 cm", or one length where both read alike; that of the only side."""
    told = [length(context, mm, "small") for mm in (first_mm, second_mm) if mm is not None]
    if len(told) == 2 and told[0] == told[1]:
        return f"{told[0]}, both alike"
    return " to ".join(told)


@register.simple_tag(takes_context=True)
def millimetres(context: dict[str, Any], value_mm: float | Decimal | None, most_places: int = 0) -> str:
    """A length in mm, to stand beside a reckoning in mm; in inches where the workroom measures in them.

    Whole, or with as many places as `most_places` where they are not 0; halves go up, as on paper.
    """
    if value_mm is None or _display(context) == "imperial":
        return length(context, value_mm, "small")
    in_units = float(value_mm) * 10**most_places
    shown = f"{math.floor(in_units + 0.5) / 10**most_places:,.{most_places}f}".replace(",", THIN_SPACE)
    return f"{shown.rstrip('0').removesuffix('.') if most_places else shown}{THIN_SPACE}mm"


@register.simple_tag(takes_context=True)
def area(context: dict[str, Any], area_cm2: float | None) -> str:
    """An area in the workroom's units: "2 960 cm²", "458.8 in²"."""
    return "–" if area_cm2 is None else format_area(area_cm2 * 100, _display(context))


@register.simple_tag(takes_context=True)
def area_figure(context: dict[str, Any], area_cm2: float | None) -> str:
    """The same without its unit, which the head of a table says."""
    return "–" if area_cm2 is None else area_as_told(area_cm2 * 100, _display(context))


@register.simple_tag(takes_context=True, name="area_unit")
def unit_of_areas(context: dict[str, Any]) -> str:
    """What areas are told in."""
    return area_unit(_display(context))


@register.simple_tag(takes_context=True)
def metres_told(context: dict[str, Any], value_m: Decimal | None) -> str:
    """Metres kept to the centimetre; in yards as exactly as that, where an eighth would hide how they differ."""
    if value_m is None or _display(context) == "metric":
        return metres(context, value_m)
    return format_metres_told(Decimal(value_m), "imperial")


@register.simple_tag(takes_context=True)
def longer(context: dict[str, Any], by_mm: float) -> str:
    """By how much one length is more than another: "4 mm longer", "4 mm shorter", "alike" below half a millimetre."""
    if abs(by_mm) < 0.5:
        return "alike"
    return f"{millimetres(context, abs(by_mm))} {'longer' if by_mm > 0 else 'shorter'}"


@register.simple_tag(takes_context=True)
def metres(context: dict[str, Any], value_m: float | Decimal | None, *, at_least: bool = False) -> str:
    """A length given in metres, in the workroom's units for cloth, rounded up where it is `at_least` so much."""
    return "–" if value_m is None else length(context, float(value_m) * 1000, at_least=at_least)


@register.simple_tag(takes_context=True)
def money(context: dict[str, Any], amount: Decimal | None) -> str:
    """An amount in the workroom's currency."""
    if amount is None:
        return "–"
    return format_money(Decimal(amount), context["workroom"].currency)


@register.filter
def dial(value: Decimal | float | None) -> str:
    """A figure as it stands on the dial of a machine, without needless noughts: 2.5."""
    return "" if value is None else plain_number(value)


@register.filter
def percent(share: float | None) -> str:
    """0.842 -> 84 % with a thin space."""
    return "–" if share is None else f"{share * 100:.0f}\N{THIN SPACE}%"


def _display(context: dict[str, Any]) -> str:
    room = context.get("workroom")
    return str(room.display) if room else "metric"
