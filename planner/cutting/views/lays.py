"""Lays: how they are nested, and that they are cut."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from planner.common.access import for_helpers, for_makers
from planner.cutting.actions import nesting, table
from planner.cutting.forms import LayCutForm, LongerForm
from planner.cutting.models import Lay
from planner.cutting.screens import LayScreen, lay_screen
from planner.materials.models import Workroom


def _lay(number: str, lay_number: int) -> Lay:
    """The lay with everything; 404 where there is none."""
    return get_object_or_404(Lay.objects.for_page(), batch__number=number, number=lay_number)


def _cut_form(screen: LayScreen, data: object = None) -> LayCutForm:
    form = LayCutForm(data, screen.row.cloths.all(), screen.cloth_mm or 0.0)  # type: ignore[arg-type]
    for field in form.fields.values():
        field.use_display(Workroom.the().display)
    return form


def _page(request: HttpRequest, lay: Lay, form: LayCutForm | None = None) -> HttpResponse:
    screen = lay_screen(lay)
    context = {"lay": screen, "form": form or _cut_form(screen), "longer": LongerForm(), "batch": lay.batch}
    status = 422 if form is not None and form.errors else 200
    template = "cutting/_lay.html" if request.htmx else "cutting/lay_detail.html"
    return render(request, template, context, status=status)


@for_helpers
def lay_detail(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """One lay, drawn large, with its pieces and what can be done to it. With HTMX only the region."""
    return _page(request, _lay(number, lay_number))


@for_helpers
@require_POST
def lay_stop(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """Stops the nesting and keeps the best so far."""
    lay = _lay(number, lay_number)
    if not nesting.stop_and_keep(lay.marker):
        messages.info(request, "Nothing is being nested here just now.")
    return redirect("lay-detail", number, lay_number)


@for_makers
@require_POST
def lay_longer(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """Nests the lay again for longer; it never gets longer than it is."""
    lay = _lay(number, lay_number)
    form = LongerForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose how long to go on.")
    elif not nesting.run_longer(lay.marker, float(form.cleaned_data["seconds"])):
        messages.error(request, "This lay is being nested already, or it is cut.")
    return redirect("lay-detail", number, lay_number)


@for_helpers
@require_POST
def lay_cut(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """Records the lay as cut, with the metres really used."""
    lay = _lay(number, lay_number)
    screen = lay_screen(lay)
    if screen.is_running or screen.drawing is None:
        messages.error(request, "This lay is not nested yet; it cannot be cut.")
        return redirect("lay-detail", number, lay_number)
    form = _cut_form(screen, request.POST)
    if not form.is_valid():
        return _page(request, lay, form)
    cut = table.record_lay_cut(lay, form.used_m(), request.user, timezone.now())
    if cut.was_cut:
        messages.info(request, "Somebody had recorded this lay as cut before; nothing was changed.")
    else:
        messages.success(request, f"Lay {lay_number} is cut; {cut.used_m} m have left the stock.")
    return redirect("batch-detail", number)


@for_helpers
@require_POST
def lay_uncut(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """Takes back that a lay was cut."""
    lay = _lay(number, lay_number)
    if table.take_cut_back(lay, request.user, timezone.now()):
        messages.success(request, f"Lay {lay_number} is not cut; its cloth is back in the stock.")
    elif lay.cut_at is None:
        messages.info(request, "This lay was not recorded as cut; nothing was changed.")
    else:
        messages.error(request, f"{number} is done, so its lays stay cut. Open the batch again first.")
    return redirect("lay-detail", number, lay_number)
