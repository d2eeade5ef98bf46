"""Pages of this room: a bundle as the phone opens it, the board, an order's progress."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from planner.common.access import for_helpers, for_makers
from planner.cutting.models import Batch, Bundle, Lay
from planner.materials.models import Workroom
from planner.orders.models import Order
from planner.sewing import actions, orders
from planner.sewing.board import card_of, make_board, not_there
from planner.sewing.colours import colourway_swatches
from planner.sewing.finding import find_bundle
from planner.sewing.progress import BundleState, read_states, states_on_the_go
from planner.sewing.scan import contents_of, make_scan, next_waiting

#: Batches on one page of the board.
PAGE = 10

#: Finished batches that can still be opened again from the board.
LATELY = 5


# ---- one bundle ----


def _state(token: str) -> BundleState | None:
    states = read_states(Bundle.objects.filter(token=token), with_people=True)
    return states[0] if states else None


def _moving(state: BundleState) -> dict[str, Any]:
    """What a tap may change on the page of a bundle."""
    found = next_waiting(state)
    waiting = {"machine": found[0], "card": card_of(found[1], {})} if found else None
    uncut = [] if state.is_cut else list(Lay.objects.filter(bundles=state.bundle, cut_at__isnull=True))
    return {
        "scan": make_scan(state, timezone.now()),
        "bundle": state.bundle,
        "waiting": waiting,
        "uncut": uncut,
    }


def _bundle_page(
    request: HttpRequest, state: BundleState, problem: str = "", status: int = 200
) -> HttpResponse:
    bundle = state.bundle
    context = {
        **_moving(state),
        "card": card_of(state, colourway_swatches([bundle.colourway_id])),
        "contents": contents_of(state, timezone.localdate(), Workroom.the().display),
        "problem": problem,
    }
    return render(request, "sewing/bundle.html", context, status=status)


def _unknown(request: HttpRequest, typed: str = "") -> HttpResponse:
    return render(request, "sewing/unknown_bundle.html", {"typed": typed}, status=404)


@for_helpers
@never_cache
@require_GET
def bundle_scan(request: HttpRequest, token: str) -> HttpResponse:
    """The bundle of a scanned ticket. With HTMX only what a tap may change, as after a look at another page."""
    state = _state(token)
    if state is None:
        return _unknown(request)
    if request.htmx:
        return render(request, "sewing/_moving.html", _moving(state))
    return _bundle_page(request, state)


@for_helpers
@require_POST
def bundle_tick(request: HttpRequest, token: str) -> HttpResponse:
    """Ticks a step or takes it back. With HTMX the row, the tape and what follows are swapped, nothing else."""
    state = _state(token)
    if state is None:
        return _unknown(request)
    field, key = request.POST.get("step", ""), request.POST.get("key", "")
    row = make_scan(state, timezone.now()).row(field)
    if row is None or not 0 < len(key) <= actions.KEY_LENGTH:
        problem = "This page was out of date: the steps below are as they are now."
        return _answer(request, state, field, problem)
    operation = next((s.operation for s in state.steps if s.operation and s.operation.pk == row.pk), None)
    ticked = actions.tick(
        state.bundle,
        operation,
        done=request.POST.get("done") == "1",
        person=request.user,
        now=timezone.now(),
        key=key,
    )
    return _answer(request, ticked.state, field, ticked.problem)


def _answer(request: HttpRequest, state: BundleState, field: str, problem: str) -> HttpResponse:
    """What a tap gets back: 409 with the reason where it was refused."""
    status = 409 if problem else 200
    if not request.htmx:
        if problem:
            return _bundle_page(request, state, problem, status)
        return redirect(reverse("bundle-scan", args=[state.bundle.token]) + f"#step-{field}")
    moving = _moving(state)
    context = {**moving, "row": moving["scan"].row(field), "problem": problem}
    template = "sewing/_ticked.html" if context["row"] else "sewing/_moving.html"
    return render(request, template, context, status=status)


@for_helpers
@require_GET
def bundle_find(request: HttpRequest) -> HttpResponse:
    """From a number typed off a ticket to its bundle."""
    typed = request.GET.get("number", "").strip()[:40]
    bundle = find_bundle(typed)
    if bundle is None:
        return _unknown(request, typed)
    return redirect("bundle-scan", bundle.token)


# ---- the board ----


@for_helpers
@never_cache
@require_GET
def sewing_board(request: HttpRequest) -> HttpResponse:
    """What is cut, being sewn, sewn and checked, and what waits at which machine."""
    going = Batch.objects.on_the_go().exclude(state=Batch.State.GATHERING).order_by("due_on", "pk")
    machine = request.GET.get("machine", "")[:40]
    number = request.GET.get("batch", "")[:20]
    everything = list(going)
    batches = [batch for batch in everything if batch.number == number] if number else everything
    states = (
        read_states(Bundle.objects.filter(batch__in=batches).order_by("pk")) if number else states_on_the_go()
    )
    page = Paginator(batches, PAGE).get_page(request.GET.get("page"))
    swatches = colourway_swatches(state.bundle.colourway_id for state in states)
    missing = not_there(number, Batch.objects.filter(number=number).first()) if number and not batches else ""
    context = {
        "board": make_board(
            list(page.object_list),
            states,
            swatches,
            timezone.localdate(),
            machine=machine,
            missing=missing,
            asked=request.GET.get("bundles") if number else None,
        ),
        "page": page,
        "everything": everything,
        "machine": machine,
        "number": number,
        "lately": Batch.objects.filter(state=Batch.State.DONE).order_by("-pk")[:LATELY],
    }
    template = "sewing/_board.html" if request.htmx else "sewing/board.html"
    return render(request, template, context)


@for_makers
@require_POST
def batch_finish(request: HttpRequest, number: str) -> HttpResponse:
    """Closes a batch that is checked whole."""
    finished = actions.finish_batch(get_object_or_404(Batch, number=number))
    if finished.problem:
        messages.error(request, finished.problem)
    else:
        messages.success(request, f"{number} is finished.")
    return redirect("sewing-board")


@for_makers
@require_POST
def batch_open_again(request: HttpRequest, number: str) -> HttpResponse:
    """Takes the finishing of a batch back."""
    if actions.open_batch_again(get_object_or_404(Batch, number=number)):
        messages.success(request, f"{number} is being sewn again.")
    else:
        messages.info(request, f"{number} was not finished, so nothing was changed.")
    return redirect("sewing-board")


# ---- orders ----


@for_helpers
@require_GET
def order_progress(request: HttpRequest, number: str) -> HttpResponse:
    """How much of an order is cut, sewn and checked, and whether it is late. With HTMX only the region."""
    order = get_object_or_404(Order.objects.select_related("customer"), number=number)
    progress = orders.order_progress(order, timezone.localdate(), Workroom.the().lead_days)
    template = "sewing/_order_progress.html" if request.htmx else "sewing/order_progress.html"
    return render(request, template, {"order": order, "progress": progress})
