"""Every page of the demo workroom in a real browser: accessible, nothing wider than a phone, no error said.

The addresses come from the resolver, so a page that is added later is walked too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.http import HttpResponseBase
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from playwright.sync_api import Page

from planner.cutting.models import Bundle
from planner.materials.models import (
    Fabric,
    FabricColour,
    Machine,
    MachineStitch,
    Notion,
    NotionColour,
    Supplier,
)
from planner.orders.models import Customer
from planner.styles.actions import hold_file
from planner.styles.models import PatternFile, Piece, Style
from planner.styles.outline_forms import WAYS
from planner.styles.parts import PARTS
from tests.browser.conftest import LAPTOP, PHONE
from tests.demo import loaded_demo
from tests.factories import TODAY

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]

TEE = Path(__file__).parents[2] / "fixtures" / "patterns" / "110-plover-tee.dxf"
#: Not pages to look at: they answer with a file, a redirect, or only to a form that is sent.
NOT_PAGES = {
    "cut-sheet", "cut-tickets", "bundle-tickets", "buy-list", "batch-buy-list", "plan-file", "health",
    "sign-in", "sign-out", "entry",
}  # fmt: skip

#: How wide a page is, and which links lie beyond its edge: rows of them, as of the rooms, wrap, for nobody looks there.
WIDTH_AND_HIDDEN_LINKS = """() => {
  const hidden = [...document.querySelectorAll("nav a")].filter((link) => {
    const { left, right } = link.getBoundingClientRect();
    return link.checkVisibility() && (left < 0 || right > document.documentElement.clientWidth);
  });
  return [document.documentElement.scrollWidth, hidden.map((link) => link.textContent.trim())];
}"""


def _patterns(resolver: URLResolver) -> Iterator[URLPattern]:
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            yield from _patterns(entry)
        elif entry.name:
            yield entry


def _examples(maker: User) -> dict[str, list[object]]:
    """Something of the demo for each argument an address takes, by the beginning of its name."""
    piece = Piece.objects.filter(style__number="110").first()
    colour = FabricColour.objects.filter(rolls__isnull=False).first()
    return {
        "batch": ["B-0003"],
        "lay": ["B-0003", 1],
        "bundle": [Bundle.objects.filter(batch__number="B-0002").first().token],
        "order": ["O-1044"],
        "customer": [Customer.objects.first().pk],
        "style": [Style.objects.get(number="110").number],
        "outline": ["110", piece.pk],
        "piece": ["110", piece.pk],
        "seam": ["110"],
        "files": ["110"],
        "file": [_held_file(maker).pk],
        "fabric": [Fabric.objects.first().pk],
        "notion": [Notion.objects.first().pk],
        "machine": [Machine.objects.first().pk],
        "stitch": [MachineStitch.objects.exclude(unpicked_mm=None).first().pk],
        "supplier": [Supplier.objects.first().pk],
        "colour": [colour.pk],
        "cloth": [colour.pk],
        "notion-stock": [NotionColour.objects.first().pk],
    }


def _held_file(maker: User) -> PatternFile:
    """The tee's own pattern file, brought in again and waiting to be looked through."""
    return hold_file(
        Style.objects.get(number="110"),
        name=TEE.name,
        content=TEE.read_bytes(),
        person=maker,
        today=TODAY,
    )


def _with_choices(address: str, name: str) -> list[str]:
    """An address, and the others that show something else there: each way to enter an outline, a seam drawn."""
    if name == "outline-edit":
        return [f"{address}?how={way}" for way in WAYS]
    return [address, f"{address}?draw=1"] if name == "seam-walk" else [address]


def _part_pages() -> Iterator[str]:
    """The forms of the parts of a style, new and with something in them; each has an address with two arguments."""
    style = Style.objects.get(number="110")
    for slug, part in PARTS.items():
        yield reverse("part-new", args=["110", slug])
        row = part.model.objects.filter(style=style).first()
        if row is not None:
            yield reverse("part-change", args=["110", slug, row.pk])


def pages(maker: User) -> list[str]:
    """Addresses that a browser can open, each once."""
    examples = _examples(maker)
    found = []
    for pattern in _patterns(get_resolver()):
        if pattern.name in NOT_PAGES:
            continue
        arguments = list(pattern.pattern.converters)
        key = pattern.name if pattern.name in examples else pattern.name.partition("-")[0]
        given = examples.get(key, []) if arguments else []
        if len(given) == len(arguments):
            found += _with_choices(reverse(pattern.name, args=given), pattern.name)
    found += _part_pages()
    return list(dict.fromkeys(found))


def _is_page(answer: HttpResponseBase) -> bool:
    """Whether a whole page came, no file, region or redirect."""
    if answer.status_code != 200 or "text/html" not in answer.headers["content-type"]:
        return False
    return answer.content.lstrip().startswith(b"<!doctype html>")


def _fits(page: Page, width: int) -> None:
    """Asserts that the open page fits a phone so wide."""
    page.set_viewport_size({**PHONE, "width": width})
    wide, hidden = page.evaluate(WIDTH_AND_HIDDEN_LINKS)
    assert width < 390 or wide <= 390, f"{page.url} is {wide} px wide on a phone of 390 px"
    assert not hidden, f"{page.url} has {hidden} out of sight on a phone of {width} px"


def test_every_page_is_accessible_and_fits_a_phone(
    signed_in_page: Page, axe: Callable[..., None], maker: User, maker_client: Client
) -> None:
    """Every address of the demo: no error said, nothing wider than a phone, no rule of axe broken.

    Contrast is measured where a page shows letters that look otherwise than all that were measured (see `axe`).
    """
    loaded_demo()
    page, seen = signed_in_page, []
    for address in pages(maker):
        if not _is_page(maker_client.get(address)):
            continue
        seen.append(address)
        # Loaded and looked through at one width each, by turns: axe takes longer than all else here together. The next
        # page is loaded on the narrow phone on which this one is left, for to lay a page out anew takes a while too.
        if len(seen) % 2:
            page.set_viewport_size(LAPTOP)
            page.goto(address)
            axe(page)
            _fits(page, 390)
            _fits(page, 320)
        else:
            page.goto(address)
            _fits(page, 320)
            _fits(page, 390)
            axe(page)
    assert len(seen) >= 50, f"only {len(seen)} pages were found"
    for part in (
        "/files/",
        "/machines/",
        "/measure/",
        "/styles/file/",
        "/from-file/",
        "/edges/",
        "/seams/",
        *(f"how={way}" for way in WAYS),
    ):
        assert any(part in address for address in seen), f"no page of {part} was looked at"
