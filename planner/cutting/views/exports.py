"""A lay to take along, as layered DXF or as SVG at true scale."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_safe

from planner.common.access import for_helpers
from planner.common.downloads import drawing_to_keep, file_name, known_drawing
from planner.core.pattern_files.write_dxf import lay_as_dxf
from planner.core.pattern_files.write_svg import lay_as_svg
from planner.cutting.exports import lay_to_write
from planner.cutting.models import Lay

WRITERS = {"dxf": lay_as_dxf, "svg": lay_as_svg}


@for_helpers
@require_safe
def lay_file(request: HttpRequest, number: str, lay_number: int, ending: str) -> HttpResponse:
    """A nested lay, every piece where it lies on the cloth; before it is nested the page says so instead."""
    known_drawing(ending)
    lay = get_object_or_404(Lay.objects.for_page(), batch__number=number, number=lay_number)
    if not lay.marker.is_final:
        messages.error(request, "This lay can be taken along once it is nested.")
        return redirect("lay-detail", number, lay_number)
    name = file_name(number, "lay", str(lay_number))
    return drawing_to_keep(WRITERS[ending](lay_to_write(lay)), name, ending)
