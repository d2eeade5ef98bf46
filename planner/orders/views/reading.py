"""The list of orders, one order to be read, and what can be done with it at a press."""

from __future__ import annotations

from datetime import date

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from planner.common.access import for_helpers, for_makers
from planner.orders import actions
from planner.orders.due import day_words, due_words
from planner.orders.estimate import estimate_needs
from planner.orders.listing import order_rows
from planner.orders.models import LineQuantity, Order, OrderLine
from planner.orders.screens import batch_holds, clashes_in_words, demand_of_rows

#: Orders on one page of the list.
PAGE = 50

#: What the list can show: key in the address, name on the page.
SHELVES = [
    ("open", "Open"),
    ("stock", "Stock makes"),
    ("dispatched", "Dispatched"),
    ("cancelled", "Cancelled"),
]


@for_helpers
@require_GET
def order_list(request: HttpRequest) -> HttpResponse:
    """Which orders are due when, and what is late."""
    today = timezone.localdate()
    shelf = request.GET.get("show", "open")
    shelf = shelf if shelf in dict(SHELVES) else "open"
    words = request.GET.get("q", "")[:100].strip()
    page = Paginator(_on_shelf(shelf).matching(words).select_related("customer"), PAGE).get_page(
        request.GET.get("page")
    )
    counts = _counts(today)
    context = {
        "rows": order_rows(page.object_list, today),
        "page": page,
        "shelf": shelf,
        "shelves": [(key, name, counts[key]) for key, name in SHELVES],
        "words": words,
        "counts": counts,
        "next_due": _next_due(today),
    }
    template = "orders/_order_rows.html" if request.htmx else "orders/order_list.html"
    return render(request, template, context)


def _on_shelf(shelf: str) -> QuerySet[Order]:
    """What is still to be done by its day; what is over with the latest first."""
    if shelf == "stock":
        return Order.objects.open().stock_makes().by_due_day()
    if shelf == "open":
        return Order.objects.open().by_due_day()
    over = Order.objects.dispatched() if shelf == "dispatched" else Order.objects.cancelled()
    return over.order_by("-due_on", "-pk")


def _counts(today: date) -> dict[str, int]:
    is_open = Q(state="open")
    return Order.objects.aggregate(
        open=Count("pk", filter=is_open),
        late=Count("pk", filter=is_open & Q(due_on__lt=today)),
        stock=Count("pk", filter=is_open & Q(customer__isnull=True)),
        dispatched=Count("pk", filter=Q(state="dispatched")),
        cancelled=Count("pk", filter=Q(state="cancelled")),
    )


def _next_due(today: date) -> dict[str, str] | None:
    """The first open order that is not late yet, in words."""
    ahead = Order.objects.open().filter(due_on__gte=today).by_due_day().select_related("customer").first()
    if ahead is None:
        return None
    who = ahead.customer.name if ahead.customer else "stock"
    return {"number": ahead.number, "who": who, "due": str(due_words(ahead.due_on, today))}


@for_helpers
@require_GET
def order_detail(request: HttpRequest, number: str) -> HttpResponse:
    """One order: its lines, what they take, which batches hold it and how far it is."""
    orders = Order.objects.select_related("customer", "changed_by", "entered_by")
    order = get_object_or_404(orders, number=number)
    today = timezone.localdate()
    held = OrderLine.objects.filter(order=order).held_in_batches()
    context = {
        "row": order_rows([order], today)[0],
        "order": order,
        "holds": batch_holds(held),
        "clashes": clashes_in_words(order),
        "entered": day_words(order.entered_on, today),
        "dispatched": day_words(order.dispatched_on, today) if order.dispatched_on else "",
    }
    return render(request, "orders/order_detail.html", context)


@for_helpers
@require_GET
def order_needs(request: HttpRequest, number: str) -> HttpResponse:
    """What the whole order takes; a region of the order page, and a page of its own without JavaScript."""
    demand = demand_of_rows(LineQuantity.objects.of_order(number))
    if not demand:
        get_object_or_404(Order, number=number)
    held = bool(OrderLine.objects.filter(order__number=number).held_in_batches())
    context = {"number": number, "estimate": estimate_needs(demand), "held": held}
    template = "orders/_needs.html" if request.htmx else "orders/order_needs.html"
    return render(request, template, context)


@for_makers
@require_POST
def order_cancel(request: HttpRequest, number: str) -> HttpResponse:
    """Gives the order up."""
    changed = actions.cancel_order(_order(number), request.user)
    return _told(request, changed, f"{number} is cancelled. It can be reopened.")


@for_makers
@require_POST
def order_dispatch(request: HttpRequest, number: str) -> HttpResponse:
    """Marks the order as sent."""
    changed = actions.dispatch_order(_order(number), request.user, timezone.localdate())
    return _told(request, changed, f"{number} is dispatched.")


@for_makers
@require_POST
def order_reopen(request: HttpRequest, number: str) -> HttpResponse:
    """Takes dispatch or cancellation back."""
    return _told(request, actions.reopen_order(_order(number), request.user), f"{number} is open again.")


@for_makers
@require_POST
def order_duplicate(request: HttpRequest, number: str) -> HttpResponse:
    """Enters the same again and opens it for changes."""
    today = timezone.localdate()
    done = actions.duplicate_order(_order(number), request.user, today)
    if isinstance(done, actions.OrderChanged):
        return _told(request, done, "")
    copy = done.order
    due = due_words(copy.due_on, today)
    messages.success(request, f"{copy.number} is a copy of {number}, due {due}. Change what differs.")
    return redirect("order-edit", copy.number)


def _order(number: str) -> Order:
    return get_object_or_404(Order.objects.select_related("customer"), number=number)


def _told(request: HttpRequest, changed: actions.OrderChanged, text: str) -> HttpResponse:
    """Back to the order, which says what happened or why it did not."""
    if changed.outcome == "saved":
        messages.success(request, text)
    for problem in changed.problems:
        messages.error(request, problem.text)
    return redirect("order-detail", changed.order.number)
