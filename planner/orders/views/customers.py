"""Who orders: the list and one customer."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from planner.common.access import for_helpers, for_makers
from planner.common.forms import status_of
from planner.orders.forms import CustomerForm
from planner.orders.listing import order_rows
from planner.orders.models import Customer
from planner.orders.views.reading import PAGE


@for_helpers
@require_GET
def customer_list(request: HttpRequest) -> HttpResponse:
    """Everybody who ever ordered."""
    words = request.GET.get("q", "")[:100].strip()
    customers = Customer.objects.with_orders().filter(name__icontains=words).order_by("name")
    page = Paginator(customers, PAGE).get_page(request.GET.get("page"))
    return render(request, "orders/customer_list.html", {"page": page, "words": words})


@for_makers
@require_http_methods(["GET", "POST"])
def customer_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """One customer with the latest orders; name and contact can be changed, and who saves second is told."""
    if request.method != "POST":
        return _edit(request, get_object_or_404(Customer, pk=pk))
    with transaction.atomic():
        # Nobody else changes the customer while what was sent is looked at.
        return _edit(request, get_object_or_404(Customer.objects.select_for_update(), pk=pk))


def _edit(request: HttpRequest, customer: Customer) -> HttpResponse:
    name = customer.name
    form = CustomerForm(request.POST or None, instance=customer)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{customer.name} is saved.")
        return redirect("customer-list")
    orders = customer.orders.select_related("customer").order_by("-due_on", "-pk")[:20]
    today = timezone.localdate()
    context = {"form": form, "name": name, "pk": customer.pk, "rows": order_rows(orders, today)}
    return render(request, "orders/customer_edit.html", context, status=status_of(form))
