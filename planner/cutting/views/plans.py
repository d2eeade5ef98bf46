"""The maker's choices for the cut plans of a batch, each a plain form on its page."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST
from django_htmx.http import HttpResponseClientRedirect

from planner.common.access import for_makers
from planner.cutting.actions import anew, choices, found_since, other_rolls, rolling
from planner.cutting.actions.choices import Chosen
from planner.cutting.batch_page import batch_context
from planner.cutting.kinds_shown import kind_of
from planner.cutting.models import Batch, Lay, PlanChoice
from planner.cutting.plan_screens import Refused, says
from planner.cutting.reading import batch_with_plans
from planner.cutting.roll_words import anew_in_words, assigned_in_words, other_rolls_in_words
from planner.cutting.views.lays import unless_gone

#: Nobody stacks more layers than this.
MOST_PLIES = 500


@for_makers
@require_POST
def plan_aim(request: HttpRequest, number: str, plan: int) -> HttpResponse:
    """Takes the plan with the fewest lays, the least cloth, or that for the least money."""
    aim = request.POST.get("aim", "")
    return _answer(request, number, plan, choices.choose_aim(_batch(number), plan, aim))


@for_makers
@require_POST
def plan_plies(request: HttpRequest, number: str, plan: int) -> HttpResponse:
    """Limits the plies of a lay; blank for what the tool cuts."""
    typed = request.POST.get("plies", "").strip()[:10]
    if typed and not (typed.isascii() and typed.isdigit() and 1 <= int(typed) <= MOST_PLIES):
        wrong = Chosen(f"Type a whole number from 1 to {MOST_PLIES}, or leave it blank.", "plies")
        return _answer(request, number, plan, wrong)
    chosen = choices.choose_most_plies(_batch(number), plan, int(typed) if typed else None)
    return _answer(request, number, plan, chosen)


@for_makers
@require_POST
def plan_kinds(request: HttpRequest, number: str, plan: int) -> HttpResponse:
    """Keeps two sizes together in every marker, or apart."""
    kind = request.POST.get("kind", "")
    if kind not in PlanChoice.Kind.values:
        return _answer(request, number, plan, Chosen("Choose together or apart.", "together"))
    kinds = [kind_of(request.POST.get(name, "")) for name in ("first", "second")]
    wanted = [one for one in kinds if one is not None]
    chosen = choices.choose_kinds(_batch(number), plan, kind, wanted, request.user)
    return _answer(request, number, plan, chosen)


@for_makers
@require_POST
def plan_choice_back(request: HttpRequest, number: str, plan: int, choice: int) -> HttpResponse:
    """Takes a choice back."""
    back = choices.take_choice_back(_batch(number), plan, choice)
    return _answer(request, number, plan, back, told="Taken back. The {} is planned without it.")


@for_makers
@require_POST
def plan_again(request: HttpRequest, number: str, plan: int) -> HttpResponse:
    """Has a settled plan planned once more with the lays nested since."""
    again = found_since.plan_once_more(_batch(number), plan)
    return _answer(request, number, plan, again, opens=False, told="The {} is planned once more.")


@for_makers
@require_POST
def plan_anew(request: HttpRequest, number: str, plan: int) -> HttpResponse:
    """Plans what nobody has begun to cut of a fabric anew, while other lays of the batch are being cut."""
    planned = anew.plan_uncut_anew(_batch(number), plan)
    if planned.problem:
        messages.error(request, planned.problem)
    elif planned.stays:
        messages.info(request, planned.stays)
    else:
        messages.success(request, anew_in_words(planned))
    # What came of it is said at the head of the page, and below it which papers are old now.
    return redirect("batch-detail", number)


@for_makers
@require_POST
@unless_gone
def lay_keep(request: HttpRequest, number: str, lay_number: int) -> HttpResponse:
    """Leaves a lay as it is whatever else is planned anew, or gives it free again (`keep` blank)."""
    lay = Lay.objects.select_related("batch").get(batch__number=number, number=lay_number)
    is_kept = bool(request.POST.get("keep"))
    chosen = choices.keep_lay(lay, is_kept=is_kept)
    told = f"Lay {lay_number} {'stays as it is' if is_kept else 'may be planned anew'}."
    return _answer(request, number, None, chosen, anchor=f"lay-{lay_number}", told=told)


@for_makers
@require_POST
def batch_rolls(request: HttpRequest, number: str) -> HttpResponse:
    """Chooses the rolls of all lays again, for the stock there is now; once some are cut, those of the uncut ones."""
    batch = _batch(number)
    if batch.state == Batch.State.CUTTING:
        other = other_rolls.give_other_rolls(batch)
        problem, text, is_short = other.problem, other_rolls_in_words(other), bool(other.short)
    else:
        done = rolling.assign_rolls(batch)
        problem, text, is_short = done.problem, assigned_in_words(done), False
    if problem:
        messages.error(request, problem)
    else:
        messages.add_message(request, messages.WARNING if is_short else messages.SUCCESS, text)
    # What came of it is said at the head of the page, and below it which papers are old now.
    return redirect("batch-detail", number)


def _batch(number: str) -> Batch:
    return get_object_or_404(Batch, number=number)


def _answer(
    request: HttpRequest,
    number: str,
    plan: int | None,
    chosen: Chosen,
    *,
    anchor: str = "",
    opens: bool = True,
    told: str = "The {} is planned by your choice.",
) -> HttpResponse:
    """The page, or with HTMX its regions; what could not be chosen is said at its field, with what was typed, and above
    all where that is not there any more.

    The choices of the plan stand open then, unless it was none of them (`opens`). What was done is `told` for those who
    do not see it, "{}" being the fabric.
    """
    wrong = bool(chosen.problem)
    if not request.htmx and not wrong:
        where = anchor or f"cut-plan-{plan}"
        page = f"?{urlencode({'lays': request.GET['lays']})}" if "lays" in request.GET else ""
        return redirect(reverse("batch-detail", args=[number]) + f"{page}#{where}")
    refused = None
    if wrong and plan is not None:
        typed = {name: request.POST.get(name, "")[:80] for name in ("plies", "first", "second", "kind")}
        refused = Refused(plan, chosen.field, chosen.problem, typed)
    batch = batch_with_plans(number)
    context = batch_context(
        batch,
        timezone.localdate(),
        is_maker=True,
        refused=refused,
        open_pk=plan if opens else None,
        pages=request.GET,
    )
    panels = context.get("plans", ())
    said = wrong and not (refused is not None and says(panels, refused))
    if said:
        messages.error(request, chosen.problem)
    elif not wrong:
        messages.success(
            request, told.format(next((one.fabric for one in panels if one.pk == plan), "cloth"))
        )
    if request.htmx and not panels:
        # Nothing is left of what the page shows.
        return HttpResponseClientRedirect(reverse("batch-detail", args=[number]))
    status = 409 if chosen.meanwhile else 422 if wrong else 200
    if request.htmx:
        context |= {"swap": True, "swap_plans": True, "said": True}
        return render(request, "cutting/_running.html", context, status=status)
    return render(request, "cutting/batch_detail.html", context, status=status)
