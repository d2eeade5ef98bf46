"""Damaged and strange pattern files never break a review: they are refused, or shown and taken or not."""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest
from django.http import QueryDict
from django.template.loader import render_to_string

from planner.core.pattern_files.model import PatternFileError
from planner.styles.models import PatternFile
from planner.styles.review_forms import ReviewForm
from planner.styles.reviewing import Known
from planner.styles.reviewing_known import known_of, read_for_review
from planner.styles.reviewing_page import review_page
from tests import factories as make
from tests.styles import pattern_files as files

pytestmark = pytest.mark.django_db

SEEDS = (
    ("top.dxf", files.top(("S", "M"))),
    ("pocket.svg", files.svg(files.rectangle("pocket"), files.rectangle("tab", 30, 60))),
)


def damaged(seed: int) -> Iterator[tuple[str, bytes]]:
    """A file with a few bytes changed, cut out or doubled."""
    chance = random.Random(seed)
    for name, content in SEEDS:
        data = bytearray(content)
        for _ in range(chance.randint(1, 3)):
            at = chance.randrange(len(data))
            match chance.randrange(4):
                case 0:
                    data[at] = chance.randrange(256)
                case 1:
                    del data[at : at + chance.randint(1, 60)]
                case 2:
                    data[at:at] = data[at : at + chance.randint(1, 200)]
                case _:
                    data[at : at + 3] = chance.choice([b"-1", b"9e9", b"0", b"\xff\x00", b"S", b"NaN"])
        yield name, bytes(data)


def looked_through(name: str, content: bytes, known: Known, *, included: str) -> bool:
    """Whether the file could be read; then its page was drawn and its form checked."""
    try:
        pattern = read_for_review(content, name, None, "", None)
    except PatternFileError:
        return False
    new_style = None if known.sizes else {"number": "1", "name": "x"}
    page = _drawn(name, ReviewForm(pattern, known, new_style=new_style))
    data = QueryDict(mutable=True)
    for field, values in files.filled_in(page, included=included).items():
        data.setlist(field, values)
    form = ReviewForm(pattern, known, data, new_style=new_style)
    if form.is_valid():
        form.taking()
    _drawn(name, form).encode()
    return True


def _drawn(name: str, form: ReviewForm) -> str:
    page = review_page(PatternFile(pk=1, name=name), None, form)
    return render_to_string("styles/_review.html", {"page": page, "form": form, "style": None})


@pytest.mark.parametrize("included", ["yes", "no"])
def test_damaged_files_are_refused_or_reviewed(db, included) -> None:
    style = make.make_style("110", sizes="S M")
    known = known_of(style)
    read = [
        looked_through(name, content, kind, included=included)
        for seed in range(25)
        for name, content in damaged(seed)
        for kind in (known, Known())
    ]
    assert any(read)
    assert not all(read)


@pytest.mark.parametrize(
    "name", ["\udcff", "\x00", "a\x00b", "\u202eevil", "n" * 500, " ", "{{ x }}", "<b>", "é\u0301", "“”"]
)
def test_strange_names_in_a_file(maker_client, name) -> None:
    clean = name.replace("\udcff", "\\xff").replace("\x00", "&#1;")
    content = files.top(("S", "M")).replace(b"front", clean.encode("utf-8", "surrogatepass")[:200])
    assert looked_through("top.dxf", content, Known(), included="yes")


def test_a_name_in_no_letters_in_a_file(maker_client) -> None:
    raw = files.top(("S", "M")).replace(b"front", b"fr\xff\xfe\x80t")
    assert looked_through("top.dxf", raw, Known(), included="yes")
