"""Pattern files to take along: a style, a piece, a piece in one size, as layered DXF or as SVG at true scale."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from planner.common.access import for_makers
from planner.common.downloads import drawing_to_keep, file_name, known_drawing
from planner.core.pattern_files.to_write import StyleToWrite
from planner.core.pattern_files.write_dxf import style_as_dxf
from planner.core.pattern_files.write_svg import style_as_svg
from planner.styles.exports import pieces_of, style_to_write
from planner.styles.models import Piece, Size, Style
from planner.styles.views.common import back_to, style_of

WRITERS = {"dxf": style_as_dxf, "svg": style_as_svg}


@for_makers
@require_safe
def style_file(request: HttpRequest, number: str, ending: str) -> HttpResponse:
    """All pieces of a style in all sizes they are drawn in."""
    known_drawing(ending)
    style = style_of(number)
    written = style_to_write(style, pieces_of(style))
    if not written.pieces:
        lacking = (
            f"{style} has no outlines yet, so there is no file of it. Enter them, or read a pattern file."
        )
        return _nothing(request, style, lacking)
    return _file(written, file_name(style.number, style.name.lower()), ending)


@for_makers
@require_safe
def piece_file(request: HttpRequest, number: str, pk: int, ending: str) -> HttpResponse:
    """A piece of a style, or of its base, in all sizes it is drawn in, or in one (`?size=M`)."""
    known_drawing(ending)
    style = style_of(number)
    piece = _piece(style, pk)
    size = _size(style, request.GET["size"]) if "size" in request.GET else None
    written = style_to_write(style, [piece], size)
    if not written.pieces:
        which = f"in {size}" if size else "in any size"
        return _nothing(
            request, style, f"{piece.name} has no outline {which} yet, so there is no file of it."
        )
    return _file(written, file_name(style.number, piece.name.lower(), size.name if size else ""), ending)


def _piece(style: Style, pk: int) -> Piece:
    found = next((piece for piece in pieces_of(style) if piece.pk == pk), None)
    if found is None:
        raise Http404("The style has no such piece.")
    return found


def _size(style: Style, name: str) -> Size:
    found = style.size_range.sizes.filter(name=name).first()
    if found is None:
        raise Http404("The style has no such size.")
    return found


def _nothing(request: HttpRequest, style: Style, text: str) -> HttpResponse:
    messages.error(request, text)
    return back_to(style, "outlines")


def _file(written: StyleToWrite, name: str, ending: str) -> HttpResponse:
    return drawing_to_keep(WRITERS[ending](written), name, ending)
