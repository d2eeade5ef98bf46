"""What to buy, over all planned batches."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from planner.common.access import for_helpers
from planner.cutting.buying import what_to_buy
from planner.cutting.screens import buy_in_words, buying_rows, need_rows
from planner.cutting.swatches import swatches
from planner.materials.models import Workroom


@for_helpers
def buy_page(request: HttpRequest) -> HttpResponse:
    """What stock lacks for the batches that are planned, and what they need in all."""
    room = Workroom.the()
    today = timezone.localdate()
    buying = what_to_buy()
    shop = buying.shop
    colours = swatches(shop)
    context = {
        "answer": buy_in_words(buying.short_cloths, buying.short_notions, shop, room.display),
        "short": buying_rows(buying, shop, room.display, colours, today),
        "needs": need_rows(buying.needs, shop, room.display, colours, buying.waiting, today),
    }
    return render(request, "cutting/buy_page.html", context)
