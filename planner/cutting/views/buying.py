"""What to buy, over all planned batches."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from planner.common.access import for_helpers
from planner.cutting.batch_answer import buy_in_words
from planner.cutting.buying import what_to_buy
from planner.cutting.need_rows import buying_rows, need_rows
from planner.cutting.reckoning import cloth_figures, notion_figures
from planner.cutting.swatches import swatches
from planner.cutting.told_amounts import told_amounts
from planner.materials.models import Workroom


@for_helpers
def buy_page(request: HttpRequest) -> HttpResponse:
    """What stock lacks for the batches that are planned, and what they need in all."""
    room = Workroom.the()
    today = timezone.localdate()
    buying = what_to_buy()
    shop = buying.shop
    colours = swatches(shop)
    told = [
        told_amounts(cloth_figures(need, shop.cloths[need.cloth]), room.display)
        for need in buying.short_cloths
    ]
    told += [
        told_amounts(notion_figures(need, shop.notions[need.key]), room.display, in_packs=True)
        for need in buying.short_notions
    ]
    left = [one.left for one in told]
    context = {
        "answer": buy_in_words(buying.short_cloths, buying.short_notions, shop, room.display),
        "short": list(zip(buying_rows(buying, shop, room.display, colours, today), left, strict=True)),
        "needs": need_rows(
            buying.needs,
            shop,
            room.display,
            colours,
            waiting=buying.waiting,
            today=today,
            not_settled=buying.remarks,
        ),
    }
    return render(request, "cutting/buy_page.html", context)
