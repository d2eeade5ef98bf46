"""The order form: new and change on one page, and the regions of it that HTMX asks for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods
from django_htmx.http import HttpResponseClientRedirect

from planner.common.access import for_makers
from planner.orders.actions import OrderChanged, change_order, enter_order
from planner.orders.choices import detail_names, style_names
from planner.orders.data import OrderData, Problem
from planner.orders.drafts import (
    LineDraft,
    check_lines,
    copy_of,
    drafts_of,
    line_data,
    match_styles,
    next_key,
    read_lines,
)
from planner.orders.due import due_words
from planner.orders.estimate import Estimate, estimate_lines
from planner.orders.forms import HeaderForm
from planner.orders.listed import MOST_BYTES, ListError, drafts_of_list, read_list, text_of_file
from planner.orders.listing import order_rows
from planner.orders.models import Customer, Order, OrderLine
from planner.orders.rules import batch_names
from planner.orders.screens import (
    OrderRow,
    line_fields,
    listed_in_words,
    order_problems,
    typed_totals,
)

#: Names offered under the customer field; any other name can be typed all the same.
MOST_NAMES = 500


@dataclass
class Entry:
    """The form as it stands: what was typed, which version it began with, and what came between."""

    form: HeaderForm
    drafts: list[LineDraft]
    order: Order | None = None
    version: int = 1
    problems: Sequence[Problem] = ()
    newer: OrderRow | None = None
    status: int = 200
    estimates: dict[int, Estimate] = field(default_factory=dict)
    list_text: str = ""
    list_wrong: str = ""
    listed: str = ""


@for_makers
@require_http_methods(["GET", "POST"])
def order_new(request: HttpRequest) -> HttpResponse:
    """A new order."""
    if request.method == "POST":
        return _submitted(request, None)
    return _show(request, Entry(HeaderForm(), [LineDraft(0)]))


@for_makers
@require_http_methods(["GET", "POST"])
def order_edit(request: HttpRequest, number: str) -> HttpResponse:
    """An order to be changed."""
    order = get_object_or_404(Order.objects.with_sizes().select_related("changed_by"), number=number)
    if request.method == "POST":
        return _submitted(request, order)
    if order.state != Order.State.OPEN:
        messages.error(request, f"{number} is {order.get_state_display()}. Reopen it first, then change it.")
        return redirect("order-detail", number)
    return _show(request, Entry(HeaderForm.of(order), drafts_of(order), order, order.version))


@for_makers
@require_GET
def order_line(request: HttpRequest) -> HttpResponse:
    """A line of the form: empty (do=add), a copy of another (do=copy-3), what its style asks (do=body)."""
    drafts = _read_lines(request.GET)
    do = request.GET.get("do", "add")
    match_styles(drafts, style_names())
    if do == "body" and drafts:
        return render(request, "orders/_line_body.html", {"line": line_fields(drafts[0])})
    draft = _added(do, drafts, request.GET.getlist("gone"))
    return render(request, "orders/_line.html", {"line": line_fields(draft), "fresh": True})


@for_makers
@require_GET
def order_estimate(request: HttpRequest) -> HttpResponse:
    """What one line takes, as far as it is typed."""
    drafts = _read_lines(request.GET)[:1]
    estimate = estimate_lines(drafts)[0] if drafts else Estimate()
    return render(request, "orders/_estimate.html", {"estimate": estimate})


def _read_lines(typed: QueryDict) -> list[LineDraft]:
    return read_lines(dict(typed.items()), typed.getlist("line"))


def _added(do: str, drafts: list[LineDraft], gone: Sequence[str]) -> LineDraft:
    """An empty line, or a copy of the one that `do` names ("copy-3")."""
    key = next_key(drafts, gone)
    source = next((draft for draft in drafts if do == f"copy-{draft.key}"), None)
    return copy_of(source, key, drafts) if source else LineDraft(key)


def _submitted(request: HttpRequest, order: Order | None) -> HttpResponse:
    """The form sent back: saved, or one line more or less, always with everything that was typed."""
    version = request.POST.get("version", "")
    entry = Entry(
        HeaderForm(request.POST),
        _read_lines(request.POST),
        order,
        int(version) if version.isdecimal() and len(version) < 10 else 0,
    )
    match_styles(entry.drafts, style_names())
    do = request.POST.get("do", "save")
    if do == "save":
        return _save(request, entry)
    # Not sent for good yet: what is still missing is not called wrong.
    entry.form = HeaderForm(initial=dict(request.POST.items()))
    if do == "add" or do.startswith("copy-"):
        entry.drafts.append(_added(do, entry.drafts, request.POST.getlist("gone")))
    if do == "list":
        _take_list(request, entry)
    if do.startswith("drop-"):
        entry.drafts = [draft for draft in entry.drafts if do != f"drop-{draft.key}"] or [LineDraft(0)]
    return _show(request, entry)


def _take_list(request: HttpRequest, entry: Entry) -> None:
    """Puts the lines of a list after those that are typed, wrong ones marked; else says why it cannot be read."""
    entry.list_text = request.POST.get("list", "")
    file = request.FILES.get("list_file")
    try:
        text = text_of_file(file.read(MOST_BYTES + 1)) if file else entry.list_text
        lines = read_list(text, detail_names())
    except ListError as wrong:
        entry.list_wrong, entry.status = str(wrong), 422
        return
    first_key = next_key(entry.drafts, request.POST.getlist("gone"))
    drafts, unknown = drafts_of_list(lines, first_key, style_names())
    check_lines(drafts)
    entry.drafts = [draft for draft in entry.drafts if not draft.is_blank] + drafts
    entry.listed = listed_in_words(drafts, unknown)
    entry.list_text = ""


def _save(request: HttpRequest, entry: Entry) -> HttpResponse:
    order = entry.order
    kept = frozenset(line.style_id for line in order.lines.all()) if order else frozenset()
    before = {draft.line_pk or 0: draft.options for draft in drafts_of(order)} if order else {}
    entry.problems = check_lines(entry.drafts, kept_styles=kept, kept_options=before)
    if not entry.form.is_valid() or entry.problems:
        entry.status = 422
        return _show(request, entry)
    typed = entry.form.cleaned_data
    data = OrderData(typed["customer"], typed["due_on"], typed["note"], line_data(entry.drafts))
    if order is None:
        entered = enter_order(data, request.user, timezone.localdate())
        return _saved(request, entered.order, "is entered", new_customer=entered.new_customer)
    changed = change_order(order, data, entry.version, request.user)
    if changed.outcome == "saved":
        return _saved(request, changed.order, "is changed", new_customer=changed.new_customer)
    return _show(request, _not_saved(entry, changed))


def _saved(request: HttpRequest, order: Order, what: str, *, new_customer: bool) -> HttpResponse:
    """On to the order itself, which says what was saved and warns of a day that has passed."""
    today = timezone.localdate()
    due = due_words(order.due_on, today)
    who = order.customer.name if order.customer else "stock"
    messages.success(
        request, f"{order.number} for {who}{', a new customer,' if new_customer else ''} {what}: due {due}."
    )
    if due.late:
        messages.warning(request, f"The day it is due, {due.day}, has passed already.")
    url = reverse("order-detail", args=[order.number])
    return HttpResponseClientRedirect(url) if request.htmx else redirect(url)


def _not_saved(entry: Entry, changed: OrderChanged) -> Entry:
    """The form again with the reasons at their fields, or beside what somebody else saved meanwhile."""
    current = Order.objects.with_sizes().select_related("changed_by").get(pk=changed.order.pk)
    if changed.outcome == "stale":
        newer = order_rows([current], timezone.localdate())[0]
        return replace(entry, order=current, version=current.version, newer=newer, status=409)
    by_key = {draft.key: draft for draft in entry.drafts}
    for problem in changed.problems:
        if problem.line in by_key:
            by_key[problem.line].problems.append(problem)
    # A line that may not go comes back to the form, be it that only a cancelled batch names it.
    stay = {draft.line_pk for draft in entry.drafts}
    named = set(
        OrderLine.objects.filter(order=current, batch_items__isnull=False).values_list("pk", flat=True)
    )
    back = [draft for draft in drafts_of(current) if draft.line_pk in named - stay]
    for draft in back:
        entry.drafts.append(replace(draft, key=next_key(entry.drafts)))
    return replace(entry, order=current, problems=changed.problems, status=422)


def _show(request: HttpRequest, entry: Entry) -> HttpResponse:
    """The form: its region for HTMX, else the whole page with the estimates worked out."""
    names = style_names()
    match_styles([draft for draft in entry.drafts if draft.style is None], names)
    if request.method == "POST" and not request.htmx:
        estimates = estimate_lines(entry.drafts)
        entry.estimates = {draft.key: e for draft, e in zip(entry.drafts, estimates, strict=True)}
    total, sizes = typed_totals(entry.drafts)
    context: dict[str, Any] = {
        "entry": entry,
        "form": entry.form,
        "order": entry.order,
        "lines": _screen_lines(entry),
        "styles": [style for style in names if not style.retired],
        "customers": _customer_names(),
        "total": total,
        "total_sizes": sizes,
        "order_problems": order_problems(entry.problems),
        "today": timezone.localdate(),
    }
    template = "orders/_order_form.html" if request.htmx else "orders/order_form.html"
    return render(request, template, context, status=entry.status)


def _screen_lines(entry: Entry) -> list[dict[str, Any]]:
    held = OrderLine.objects.filter(order=entry.order).held_in_batches() if entry.order else []
    return [
        {
            "fields": line_fields(draft, batch_names(row for row in held if row.line_pk == draft.line_pk)),
            "estimate": entry.estimates.get(draft.key),
        }
        for draft in entry.drafts
    ]


def _customer_names() -> list[str]:
    """Whom the field offers: the newest first, so that who orders now and then is not lost in a long list."""
    return list(Customer.objects.order_by("-pk").values_list("name", flat=True)[:MOST_NAMES])
