"""The needs page in a browser: lines open and close in place, nothing is cut off, everything can be read aloud."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Page, expect

from planner.cutting.models import Batch
from tests.demo import loaded_demo
from tests.sewing.makers import nest_all

pytestmark = pytest.mark.django_db(transaction=True)


def test_lines_open_in_place(new_page: Callable[..., Page], axe: Callable[[Page], None], maker: User) -> None:
    loaded_demo()
    nest_all(Batch.objects.get(number="B-0003"))
    for width in (1280, 390):
        _open_and_close(new_page, axe, maker, width)


def _open_and_close(
    new_page: Callable[..., Page], axe: Callable[[Page], None], maker: User, width: int
) -> None:
    page = new_page(user=maker, viewport={"width": width, "height": 844})
    page.goto("/batches/B-0003/needs/")
    for line in ("cloth-1", "notion-1", "notion-3"):
        expect(page.locator(f"#{line} .steps")).to_have_count(0)
        page.click(f"#open-{line}")
        expect(page.locator(f"#{line} .steps")).to_be_visible()
    assert page.url.endswith("/needs/"), "opening a line loads no other page"
    if width == 390:
        axe(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.click("#open-notion-1")
    expect(page.locator("#notion-1 .steps")).to_have_count(0)
    expect(page.locator("#notion-3 .steps")).to_be_visible()
