"""Every page of the demo workroom in a real browser: accessible, nothing wider than a phone, no error said.

The addresses come from the resolver, so a page that is added later is walked too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from playwright.sync_api import Page

from planner.cutting.models import Bundle
from planner.materials.models import Fabric, FabricColour, Notion, NotionColour, Supplier
from planner.orders.models import Customer
from planner.styles.models import Piece, Style

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]

#: Not pages to look at: they answer with a file, a redirect, or only to a form that is sent.
NOT_PAGES = {
    "cut-sheet", "cut-tickets", "bundle-tickets", "buy-list", "batch-buy-list", "plan-file", "health",
    "sign-in", "sign-out", "entry",
}  # fmt: skip


def _patterns(resolver: URLResolver) -> Iterator[URLPattern]:
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            yield from _patterns(entry)
        elif entry.name:
            yield entry


def _examples() -> dict[str, list[object]]:
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
        "fabric": [Fabric.objects.first().pk],
        "notion": [Notion.objects.first().pk],
        "supplier": [Supplier.objects.first().pk],
        "colour": [colour.pk],
        "cloth": [colour.pk],
        "notion-stock": [NotionColour.objects.first().pk],
    }


def pages() -> list[str]:
    """Addresses that a browser can open, each once."""
    examples = _examples()
    found = []
    for pattern in _patterns(get_resolver()):
        if pattern.name in NOT_PAGES:
            continue
        arguments = list(pattern.pattern.converters)
        key = pattern.name if pattern.name in examples else pattern.name.partition("-")[0]
        given = examples.get(key, []) if arguments else []
        if len(given) == len(arguments):
            found.append(reverse(pattern.name, args=given))
    return list(dict.fromkeys(found))


def test_every_page_is_accessible_and_fits_a_phone(
    new_page: Callable[..., Page], axe: Callable[[Page], None], maker: User
) -> None:
    call_command("load_demo", verbosity=0)
    laptop, phone = new_page(user=maker), new_page(user=maker, viewport={"width": 390, "height": 844})
    seen = 0
    for address in pages():
        answer = laptop.request.get(address, max_redirects=0)
        if answer.status != 200 or "text/html" not in answer.headers["content-type"]:
            continue
        if not answer.text().lstrip().startswith("<!doctype html>"):
            continue
        seen += 1
        laptop.goto(address)
        axe(laptop)
        phone.goto(address)
        wide = phone.evaluate("document.documentElement.scrollWidth")
        assert wide <= 390, f"{address} is {wide} px wide on a phone of 390 px"
    assert seen >= 25, f"only {seen} pages were found"
