"""Batches: the list, gathering orders, planning."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from planner.common.access import for_helpers, for_makers
from planner.core.listed import counted
from planner.cutting.actions import gathering, notions_out, planning
from planner.cutting.batch_page import batch_context
from planner.cutting.filling import left_to_batch
from planner.cutting.models import Batch
from planner.cutting.notions_shown import owing_in_words
from planner.cutting.reading import batch_with_plans
from planner.cutting.screens import batch_row
from planner.materials.models import Workroom

PAGE = 50
#: So often a page asks on once nothing of its batch is being nested any more, every five seconds.
ASKED_AFTER = 6


@for_helpers
def batch_list(request: HttpRequest) -> HttpResponse:
    """Batches on the go, or those that are over."""
    today = timezone.localdate()
    over = request.GET.get("show") == "over"
    batches = Batch.objects.filter(state__in=["done", "cancelled"]) if over else Batch.objects.on_the_go()
    page = Paginator(batches.values_list("pk", flat=True), PAGE).get_page(request.GET.get("page"))
    left = left_to_batch()
    # Counted for the batches of this page, not for all those before it.
    rows = [batch_row(batch, today) for batch in Batch.objects.filter(pk__in=list(page)).with_counts()]
    return render(
        request, "cutting/batch_list.html", {"page": page, "rows": rows, "over": over, "still_to_batch": left}
    )


@for_makers
@require_http_methods(["GET", "HEAD", "POST"])
def batch_new(request: HttpRequest) -> HttpResponse:
    """Begins a batch and goes on to putting orders into it. Whoever only comes to its address is led to where one is
    begun.
    """
    if request.method != "POST":
        return redirect("batch-list")
    batch = gathering.create_batch(request.user, timezone.localdate())
    return redirect("batch-fill", batch.number)


@for_helpers
def batch_detail(request: HttpRequest, number: str) -> HttpResponse:
    """A batch: what it makes, needs, how it is laid, its bundles and papers."""
    batch = batch_with_plans(number)
    context = batch_context(
        batch, timezone.localdate(), is_maker=request.user.is_staff, now=timezone.now(), pages=request.GET
    )
    return render(request, "cutting/batch_detail.html", context)


@for_helpers
def batch_running(request: HttpRequest, number: str) -> HttpResponse:
    """The regions that change while lays are nested; asked for again and again until all are done.

    `seen` says what of the cut plans is shown already: they are only answered again where that has changed, so that
    nothing is swapped away that is just being chosen.
    """
    batch = batch_with_plans(number)
    context = batch_context(
        batch, timezone.localdate(), is_maker=request.user.is_staff, now=timezone.now(), pages=request.GET
    )
    context |= {"swap": True, "swap_plans": context.get("plan_stamp") != request.GET.get("seen")}
    # While the plan is on its way, choices that stand open stay so.
    context["keep_choices"] = True
    if not context.get("running"):
        # Sums and rolls are reckoned anew once the last lay is nested: that is waited for a little, and for what the
        # plan is held against.
        asked = request.GET.get("after", "0")
        asked_before = int(asked) if asked in {str(n) for n in range(ASKED_AFTER + 1)} else ASKED_AFTER
        if any(plan.follows for plan in context.get("plans", ())):
            asked_before = 0
        context |= {"after": asked_before + 1} if asked_before < ASKED_AFTER else {}
    return render(request, "cutting/_running.html", context)


def _dropped(batch: Batch, taken_back: str) -> str:
    """What is said of a batch whose plan is no more, which somebody asked something of; "" where it has one."""
    batch.refresh_from_db(fields=["state"])
    why = {Batch.State.GATHERING: taken_back, Batch.State.CANCELLED: "This batch is cancelled"}
    return f"{why[state]}; nothing was changed." if (state := Batch.State(batch.state)) in why else ""


def _notions_back(done: planning.PlanDropped) -> str:
    """What is to be done with notions that had been taken out for a plan that is no more, as a further sentence."""
    if not done.notions:
        return ""
    kinds = counted(done.notions, "kind of notion", "kinds of notions")
    return f" Put its notions back on the shelf: {kinds} taken out for it count as in stock again."


@for_makers
@require_POST
def batch_plan(request: HttpRequest, number: str) -> HttpResponse:
    """Plans a gathered batch."""
    return plan_and_tell(request, get_object_or_404(Batch, number=number))


def plan_and_tell(request: HttpRequest, batch: Batch, *, saved: str = "") -> HttpResponse:
    """Plans and shows the batch; what is missing is listed there, with what was `saved` just before and stays, in
    words, and nothing else is changed."""
    planned = planning.plan_batch(batch, timezone.now())
    if planned.problems:
        batch.refresh_from_db()
        context = batch_context(batch, timezone.localdate(), is_maker=True)
        context |= {"problems": planned.problems, "saved": saved}
        return render(request, "cutting/batch_detail.html", context, status=422)
    return redirect("batch-detail", batch.number)


@for_makers
@require_POST
def batch_take_back(request: HttpRequest, number: str) -> HttpResponse:
    """Takes the plan back, so that orders can be changed."""
    batch = get_object_or_404(Batch, number=number)
    if done := planning.take_plan_back(batch, request.user, timezone.now()):
        said = f"The plan of {batch.number} is taken back. Its tickets are no longer valid."
        messages.success(request, said + _notions_back(done))
    else:
        dropped = _dropped(batch, "The plan had been taken back before")
        messages.error(request, dropped or "The plan cannot be taken back: part of it is cut already.")
    return redirect("batch-detail", batch.number)


@for_makers
@require_POST
def batch_cancel(request: HttpRequest, number: str) -> HttpResponse:
    """Cancels a batch; its garments go back to their orders."""
    batch = get_object_or_404(Batch, number=number)
    if done := gathering.cancel_batch(batch, request.user, timezone.now()):
        said = f"{batch.number} is cancelled. Its garments can be batched again."
        messages.success(request, said + _notions_back(done))
    else:
        messages.error(request, "This batch cannot be cancelled: part of it is cut already.")
    return redirect("batch-detail", batch.number)


@for_helpers
@require_POST
def batch_notions(request: HttpRequest, number: str) -> HttpResponse:
    """Takes the notions of a batch out of the stock; with "back" it puts those back that it needs no more."""
    batch = get_object_or_404(Batch, number=number)
    if "back" in request.POST:
        return _surplus_back(request, batch)
    taken = notions_out.take_notions_out(batch, request.user, timezone.now())
    if taken:
        kinds = counted(taken, "kind of notion is", "kinds of notions are")
        messages.success(request, f"{kinds} taken out of the stock for {batch.number}.")
        for owing in owing_in_words(batch, Workroom.the().display):
            messages.warning(request, owing)
    elif dropped := _dropped(batch, "The plan was taken back meanwhile, so no notions are known for it"):
        messages.error(request, dropped)
    elif batch.needs.filter(notion_colour__isnull=False).exists():
        messages.info(request, "They had been taken out before; nothing was changed.")
    else:
        messages.info(request, "This batch needs no notions.")
    return redirect("batch-detail", batch.number)


def _surplus_back(request: HttpRequest, batch: Batch) -> HttpResponse:
    why = f"{batch.number} needs less of it by now"
    if back := notions_out.put_surplus_back(batch, request.user, timezone.now(), why=why):
        kinds = counted(back, "kind of notion", "kinds of notions")
        messages.success(request, f"What {batch.number} needs no more of {kinds} is in the stock again.")
    else:
        messages.info(
            request, f"{batch.number} has no more of its notions than it needs; nothing was changed."
        )
    return redirect("batch-detail", batch.number)
