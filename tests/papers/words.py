"""What is written on a paper, read back page by page."""

from __future__ import annotations

import io
import re

from pypdf import PageObject, PdfReader
from pypdf.generic import DecodedStreamObject, NameObject

#: A string, which is left as it is; or a move or a line of a drawn outline: two figures and its letter.
_STRING_OR_LINE = re.compile(rb"(\((?:\\.|[^\\()])*\))|(?<=\s)-?[\d.]+ -?[\d.]+ [ml](?=\s)", re.DOTALL)


def texts_of(paper: bytes) -> list[str]:
    """The text of every page, as the reader has it.

    The lines of drawn outlines are taken out first: they hold no letter, and to read thousands of them takes the reader
    longer than all else.
    """
    return [_without_lines(page).extract_text() for page in PdfReader(io.BytesIO(paper)).pages]


def all_words(paper: bytes) -> str:
    """All words of a paper, every kind of space told as one."""
    return " ".join(" ".join(texts_of(paper)).split())


def _without_lines(page: PageObject) -> PageObject:
    drawn = page.get_contents()
    if drawn is not None:
        written = DecodedStreamObject()
        written.set_data(_STRING_OR_LINE.sub(lambda found: found[1] or b"", drawn.get_data()))
        page[NameObject("/Contents")] = written
    return page
