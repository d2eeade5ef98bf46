"""Pages of this room."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from planner.common.access import for_makers
from planner.costs.sheets import batch_costs, price_of, style_costs
from planner.cutting.models import Batch
from planner.materials.models import Workroom
from planner.styles.models import Style
from planner.styles.specs import workshop

#: Styles on one page: each is read with all its outlines.
PAGE = 20

#: The newest planned batches.
BATCHES = 20


@for_makers
@require_GET
def cost_list(request: HttpRequest) -> HttpResponse:
    """What a garment of each style costs and must sell for, and what the last batches cost."""
    page = Paginator(Style.objects.order_by("number"), PAGE).get_page(request.GET.get("page"))
    numbers = [style.number for style in page.object_list]
    room = Workroom.the()
    shop = workshop(numbers)
    styles = style_costs([shop.styles[number] for number in numbers], shop, room)
    planned = Batch.objects.exclude(state__in=[Batch.State.GATHERING, Batch.State.CANCELLED])
    batches = batch_costs(list(planned.order_by("-pk")[:BATCHES]), shop, room)
    context = {
        "page": page,
        "styles": styles,
        "batches": [(cost, price_of(cost, room)) for cost in batches],
        "room": room,
    }
    return render(request, "costs/cost_list.html", context)
