"""Pages of this room."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from planner.common.access import for_makers
from planner.core.spec import Workshop
from planner.costs.sheets import batch_costs, price_of, style_costs
from planner.cutting.learning import usage_learnt
from planner.cutting.models import Batch
from planner.materials.models import Workroom
from planner.materials.specs import cloths, notions
from planner.styles.models import Style
from planner.styles.specs import workshop

#: Styles on one page: each is read with all its outlines.
STYLES = 20

#: Batches on one page.
BATCHES = 50


@for_makers
@require_GET
def cost_list(request: HttpRequest) -> HttpResponse:
    """What a garment of each style costs and must sell for."""
    numbers = list(Style.objects.order_by("number").values_list("number", flat=True))
    page = Paginator(numbers, STYLES).get_page(request.GET.get("page"))
    shop, room = workshop(page.object_list), Workroom.the()
    costs = style_costs(shop.styles.values(), shop, room, usage_learnt({key.fabric for key in shop.cloths}))
    context = {"page": page, "styles": costs, "workroom": room}
    return render(request, "costs/cost_list.html", context)


@for_makers
@require_GET
def cost_batches(request: HttpRequest) -> HttpResponse:
    """What each planned batch costs, the newest first."""
    planned = Batch.objects.exclude(state__in=[Batch.State.GATHERING, Batch.State.CANCELLED])
    page = Paginator(planned.order_by("-pk"), BATCHES).get_page(request.GET.get("page"))
    room = Workroom.the()
    costs = batch_costs(list(page.object_list), Workshop({}, cloths(), notions()), room)
    context = {"page": page, "batches": [(cost, price_of(cost, room)) for cost in costs], "workroom": room}
    return render(request, "costs/cost_batches.html", context)
