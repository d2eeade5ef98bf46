"""A lay to take along at true scale: as tiles, in one length, as layered DXF or as SVG."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from planner.common.access import for_helpers
from planner.common.downloads import drawing_to_keep, file_name, known_drawing, paper_to_show
from planner.core.pattern_files.write_dxf import lay_as_dxf
from planner.core.pattern_files.write_svg import lay_as_svg
from planner.cutting.exports import lay_paper_of, lay_to_write
from planner.cutting.marker_forms import RollWidthForm
from planner.cutting.models import Lay
from planner.cutting.setting import heading_for
from planner.materials.models import Workroom
from planner.papers.cautions import NOT_SETTLED
from planner.papers.data import Heading, LayPaper
from planner.papers.marker_tiles import marker_tiles, sheets_in_words, tiles_of
from planner.papers.marker_wide import marker_wide, pages_in_words, wide_pages

WRITERS = {"dxf": lay_as_dxf, "svg": lay_as_svg}
TILES = ("A4", "Letter")


def _nested(request: HttpRequest, number: str, lay_number: int) -> Lay | None:
    """The lay; None, and a word why, while it is not nested. 404 where there is none."""
    lay = get_object_or_404(Lay.objects.for_page().with_standing(), batch__number=number, number=lay_number)
    if lay.marker.is_laid:
        return lay
    messages.error(request, "This lay can be taken along once it is nested.")
    return None


def _heading(lay: Lay, room: Workroom) -> Heading:
    return heading_for(room, lay.batch.number, timezone.localtime(), lay.batch.due_on)


def _caution(lay: Lay) -> str:
    """What stands on the paper of a lay whose plan does not stand yet."""
    return NOT_SETTLED if lay.is_moving else ""  # type: ignore[attr-defined]


def _width_form(request: HttpRequest, room: Workroom) -> RollWidthForm:
    return RollWidthForm(request.GET if "roll" in request.GET else None, display=room.display)


@for_helpers
@require_safe
def lay_file(request: HttpRequest, number: str, lay_number: int, ending: str) -> HttpResponse:
    """A nested lay, every piece where it lies on the cloth; before it is nested the page says so instead."""
    known_drawing(ending)
    lay = _nested(request, number, lay_number)
    if lay is None:
        return redirect("lay-detail", number, lay_number)
    name = file_name(number, "lay", str(lay_number))
    return drawing_to_keep(WRITERS[ending](lay_to_write(lay)), name, ending)


@for_helpers
@require_safe
def lay_marker(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """All ways to take the marker along, with how many sheets or pages each takes."""
    lay = _nested(request, number, lay_number)
    if lay is None:
        return redirect("lay-detail", number, lay_number)
    room = Workroom.the()
    return _choices(request, lay, lay_paper_of(lay), _width_form(request, room), room)


@for_helpers
@require_safe
def marker_tiles_pdf(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """The marker on sheets to join, on the workroom's paper or another (`?paper=Letter`)."""
    lay = _nested(request, number, lay_number)
    if lay is None:
        return redirect("lay-detail", number, lay_number)
    room = Workroom.the()
    wanted: Any = request.GET.get("paper", "")
    paper = wanted if wanted in TILES else room.paper
    data = marker_tiles(
        _heading(lay, room),
        lay_paper_of(lay),
        paper,
        imperial=room.display == "imperial",
        caution=_caution(lay),
    )
    return paper_to_show(data, file_name(number, "lay", str(lay_number), "marker", paper))


@for_helpers
@require_safe
def marker_wide_pdf(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """The marker in one length for paper from a roll (`?roll=914 mm`); a bad width comes back with its field."""
    lay = _nested(request, number, lay_number)
    if lay is None:
        return redirect("lay-detail", number, lay_number)
    room, paper = Workroom.the(), lay_paper_of(lay)
    form = _width_form(request, room)
    if form.is_bound and not form.is_valid():
        return _choices(request, lay, paper, form, room)
    roll_mm = form.roll_mm if form.is_bound else None
    data = marker_wide(
        _heading(lay, room), paper, roll_mm, imperial=room.display == "imperial", caution=_caution(lay)
    )
    return paper_to_show(data, file_name(number, "lay", str(lay_number), "marker"))


def _choices(
    request: HttpRequest, lay: Lay, paper: LayPaper, form: RollWidthForm, room: Workroom
) -> HttpResponse:
    """The page with all ways; 422 where the width was mistyped."""
    is_imperial = room.display == "imperial"
    context = {
        "batch": lay.batch,
        "lay": lay,
        "fabric": paper.fabric,
        "tiles": [(name, sheets_in_words(tiles_of(paper, name)[0], name)) for name in _own_first(room)],
        "wide": pages_in_words(wide_pages(paper), imperial=is_imperial),
        "form": form,
    }
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "cutting/lay_marker.html", context, status=status)


def _own_first(room: Workroom) -> list[Any]:
    """The workroom's own paper, then the other."""
    return sorted(TILES, key=lambda name: name != room.paper)
