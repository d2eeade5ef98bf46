"""What is written on a paper, read back page by page."""

from __future__ import annotations

import io
import re

from pypdf import PageObject, PdfReader
from pypdf.generic import DecodedStreamObject, NameObject

#: A string, which is left as it is; or what only draws: figures with the letter of a line, a curve, a box, a colour, a
#: width of line or its dashes, and what draws or fills the outline they make.
_STRING_OR_DRAWN = re.compile(
    rb"(\((?:\\.|[^\\()])*\))"
    rb"|(?<=\s)(?:(?:-?[\d.]+ )+(?:[mlcwJjM]|re|rg|RG)|\[[\d. ]*\] [\d.]+ d|[nSshfB]|[fB]\*)(?=\s)",
    re.DOTALL,
)


def texts_of(paper: bytes) -> list[str]:
    """The text of every page, as the reader has it.

    What is only drawn is taken out first, with its colours: it holds no letter, and to read thousands of lines takes
    the reader longer than all else.
    """
    return [_without_drawings(page).extract_text() for page in PdfReader(io.BytesIO(paper)).pages]


def all_words(paper: bytes) -> str:
    """All words of a paper, every kind of space told as one."""
    return " ".join(" ".join(texts_of(paper)).split())


def _without_drawings(page: PageObject) -> PageObject:
    drawn = page.get_contents()
    if drawn is not None:
        written = DecodedStreamObject()
        written.set_data(_STRING_OR_DRAWN.sub(lambda found: found[1] or b"", drawn.get_data()))
        page[NameObject("/Contents")] = written
    return page
