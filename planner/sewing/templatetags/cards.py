"""Bundles as they stand on the board, hundreds on a page: kept as text, for most do not change between two looks."""

from __future__ import annotations

from functools import lru_cache

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from planner.sewing.board import Card

register = template.Library()

#: Cards that are kept as text, each some hundred bytes.
CARDS_KEPT = 4_000


@register.simple_tag
@lru_cache(maxsize=CARDS_KEPT)
def bundle_card(card: Card) -> SafeString:
    """A bundle in the list of its batch: all there is to see of it, and a link to it."""
    return render_to_string("sewing/_card.html", {"card": card})


@register.simple_tag
@lru_cache(maxsize=CARDS_KEPT)
def bundle_link(card: Card) -> SafeString:
    """A bundle among those that wait at a machine: number, quantity and size."""
    return render_to_string("sewing/_card_link.html", {"card": card})
