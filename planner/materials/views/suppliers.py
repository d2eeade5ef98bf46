"""Who things are bought from."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from planner.common.access import for_helpers, for_makers
from planner.materials.forms import SupplierForm
from planner.materials.models import Supplier
from planner.materials.views.answers import answer, changing, entering, page_of, posted, throw_away


@for_helpers
@require_GET
def supplier_list(request: HttpRequest) -> HttpResponse:
    """Everybody things are bought from, and how to reach them."""
    suppliers = Supplier.objects.annotate(
        cloths=Count("fabrics", distinct=True), notion_count=Count("notions", distinct=True)
    ).order_by("name")
    context = {"suppliers": page_of(request, suppliers), "section": "suppliers"}
    return render(request, "materials/supplier_list.html", context)


@for_makers
@require_http_methods(["GET", "POST"])
def supplier_new(request: HttpRequest) -> HttpResponse:
    """A supplier is noted for the first time."""
    return entering(request, Supplier(), _edit)


@for_makers
@require_http_methods(["GET", "POST"])
def supplier_change(request: HttpRequest, pk: int) -> HttpResponse:
    """A supplier is called otherwise, or reached otherwise; who saves second is told."""
    return changing(request, Supplier.objects.all(), pk, _edit)


@for_makers
@require_POST
def supplier_delete(request: HttpRequest, pk: int) -> HttpResponse:
    """A supplier of nothing is thrown away."""
    supplier = get_object_or_404(Supplier, pk=pk)
    return throw_away(request, supplier, reverse("supplier-list"), reverse("supplier-change", args=[pk]))


def _edit(request: HttpRequest, supplier: Supplier) -> HttpResponse:
    name = supplier.name
    form = SupplierForm(posted(request), instance=supplier)
    if form.is_valid():
        form.save()
        messages.success(request, f"{supplier.name} is saved.")
        return redirect("supplier-list")
    context = {"form": form, "name": name, "supplier": supplier, "section": "suppliers"}
    return answer(request, "materials/supplier_form.html", "materials/supplier_form.html", context)
