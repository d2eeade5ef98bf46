"""Files to take along: what they are called and how a browser is told to keep them."""

from __future__ import annotations

import unicodedata

from django.http import Http404, HttpResponse
from django.utils.http import content_disposition_header

#: Media types by the ending of a drawing's name, as IANA registers them (from memory).
DRAWINGS = {"dxf": "image/vnd.dxf", "svg": "image/svg+xml"}
#: Letters of a file's name without its ending; some systems take 255 bytes, and a letter may need four.
LONGEST_NAME = 60


def file_name(*parts: str) -> str:
    """Parts of a name joined by hyphens, in letters and figures of any script that every system takes.

    ``file_name("110", "plover tee")`` is ``110-plover-tee``.
    """
    whole = unicodedata.normalize("NFC", "-".join(part for part in parts if part.strip()))
    kept = "".join(c if unicodedata.category(c)[0] in "LMN" or c in "_.+" else "-" for c in whole)
    joined = "-".join(filter(None, kept.split("-")))
    return joined[:LONGEST_NAME].strip("-.") or "file"


def known_drawing(ending: str) -> str:
    """The ending, or 404 where no drawing has it."""
    if ending not in DRAWINGS:
        raise Http404("Drawings are written as DXF and SVG.")
    return ending


def drawing_to_keep(content: bytes, name: str, ending: str) -> HttpResponse:
    """A drawing as a file that the browser keeps; `name` is without its ending and may hold any letters."""
    answer = HttpResponse(content, content_type=DRAWINGS[ending])
    answer["Content-Disposition"] = content_disposition_header(
        as_attachment=True, filename=f"{name}.{ending}"
    )
    return answer


def paper_to_show(content: bytes, name: str) -> HttpResponse:
    """A PDF that the browser shows, and keeps under this name (without its ending)."""
    answer = HttpResponse(content, content_type="application/pdf")
    answer["Content-Disposition"] = content_disposition_header(as_attachment=False, filename=f"{name}.pdf")
    return answer
