"""The workroom's own machines: what they make, how they are set, how much thread they were measured to take."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import Prefetch
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from planner.common.access import for_helpers, for_makers
from planner.core.notions.stitches import stitch_name
from planner.core.notions.unpicked import USUAL_SEAM_MM
from planner.materials import machines
from planner.materials.machine_forms import FIELDS, MachineForm, StitchForm, UnpickedForm, told
from planner.materials.models import Machine, MachineStitch
from planner.materials.views.answers import answer, changing, display, done, entering, page_of, posted

#: What is typed to see the published worked example: 401, 15 cm, 19.5 cm needle and 62.0 cm looper thread.
EXAMPLE = {"unpicked_mm": "15 cm", "needle_mm": "19.5 cm", "looper_mm": "62.0 cm"}


@for_helpers
@require_GET
def machine_list(request: HttpRequest) -> HttpResponse:
    """Which machines there are, and what each makes."""
    stitches = Prefetch("stitches", queryset=MachineStitch.objects.select_related("machine"))
    page = page_of(request, Machine.objects.prefetch_related(stitches))
    rows = [(machine, [machines.stitch_row(stitch) for stitch in machine.stitches.all()]) for machine in page]
    context = {
        "machines": page,
        "rows": rows,
        "measured": sum(1 for _, stitches in rows for row in stitches if row.measured),
        "section": "machines",
    }
    return render(request, "materials/machine_list.html", context)


@for_helpers
@require_GET
def machine_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """A machine with its stitches, its usual set-up and the steps that are sewn on it."""
    return _machine_page(request, pk)


@for_makers
@require_http_methods(["GET", "POST"])
def machine_new(request: HttpRequest) -> HttpResponse:
    """A machine is noted for the first time."""
    return entering(request, Machine(), _edit)


@for_makers
@require_http_methods(["GET", "POST"])
def machine_change(request: HttpRequest, pk: int) -> HttpResponse:
    """A machine is called otherwise, set otherwise, or makes other stitches; who saves second is told."""
    return changing(request, Machine.objects.all(), pk, _edit)


def _edit(request: HttpRequest, machine: Machine) -> HttpResponse:
    name = machine.name
    form = MachineForm(posted(request), instance=machine)
    if form.is_valid():
        machines.keep_machine(form.instance, form.cleaned_data["makes"])
        messages.success(request, f"{machine.name} is saved.")
        return redirect("machine-detail", machine.pk)
    context = {"form": form, "name": name, "machine": machine, "section": "machines"}
    return answer(request, "materials/machine_form.html", "materials/machine_form.html", context)


@for_makers
@require_POST
def machine_delete(request: HttpRequest, pk: int) -> HttpResponse:
    """A machine leaves the workroom; steps that named it are told."""
    gone = machines.give_away(get_object_or_404(Machine, pk=pk))
    messages.success(request, f"{gone.name} is taken out of the workroom.")
    if gone.steps:
        messages.warning(
            request,
            f"{told(list(gone.steps))} named {gone.name}; any machine of the kind will do there now.",
        )
    return redirect("machine-list")


@for_makers
@require_http_methods(["GET", "POST"])
def stitch_set(request: HttpRequest, pk: int) -> HttpResponse:
    """How a machine is usually set for a stitch; who saves second is told."""
    return changing(request, MachineStitch.objects.select_related("machine"), pk, _set_stitch)


def _set_stitch(request: HttpRequest, stitch: MachineStitch) -> HttpResponse:
    form = StitchForm(posted(request), instance=stitch, display=display())
    if form.is_valid():
        form.save()
        return _done(request, f"{stitch.stitch_type} on {stitch.machine} is set.", stitch.machine_id)
    return _machine_page(request, stitch.machine_id, form=form, at=stitch.pk)


@for_makers
@require_http_methods(["GET", "POST"])
def stitch_measure(request: HttpRequest, pk: int) -> HttpResponse:
    """A length of seam is unpicked and its threads are measured; who saves second is told."""
    return changing(request, MachineStitch.objects.select_related("machine"), pk, _measure)


def _measure(request: HttpRequest, stitch: MachineStitch) -> HttpResponse:
    kept = {name: getattr(stitch, name) for name in ("unpicked_mm", *FIELDS.values())}
    first = kept if stitch.unpicked_mm else {"unpicked_mm": USUAL_SEAM_MM}
    form = UnpickedForm(posted(request), stitch=stitch, initial=first, display=display())
    if form.is_valid():
        threads = {
            place: form.cleaned_data[name] for place, name in FIELDS.items() if name in form.cleaned_data
        }
        machines.keep_measured(stitch, form.cleaned_data["unpicked_mm"], threads, today=timezone.localdate())
        ratio = f"{form.measured.ratio:.2f}"
        text = f"{stitch.stitch_type} on {stitch.machine} takes {ratio} times the seam."
        return _done(request, text, stitch.machine_id)
    return _machine_page(request, stitch.machine_id, form=form, at=stitch.pk, measuring=stitch)


@for_makers
@require_GET
def stitch_measured(request: HttpRequest, pk: int) -> HttpResponse:
    """What the lengths typed so far come to; nothing is kept."""
    stitch = _stitch(pk)
    form = UnpickedForm(request.GET, number=stitch.stitch_type, display=display())
    return render(request, "materials/_measured.html", _measured(stitch, form))


@for_makers
@require_POST
def stitch_forget(request: HttpRequest, pk: int) -> HttpResponse:
    """A measurement is thrown away."""
    stitch = machines.forget_measured(_stitch(pk))
    return _done(
        request,
        f"{stitch.stitch_type} on {stitch.machine} goes by its geometry or the table again.",
        stitch.machine_id,
    )


def _stitch(pk: int) -> MachineStitch:
    return get_object_or_404(MachineStitch.objects.select_related("machine"), pk=pk)


def _measured(stitch: MachineStitch, form: UnpickedForm) -> dict[str, Any]:
    """The ratios of the form, None where it is not filled in or not right; wrong fields are told in words."""
    found = form.measured if form.is_bound and form.is_valid() else None
    filled = [name for name in form.fields if form.is_bound and (form.data.get(name) or "").strip()]
    wrong = [(form[name].label, error) for name in filled for error in form.errors.get(name, ())]
    places = machines.places_in_words(stitch.stitch_type, found) if found else []
    return {"stitch": stitch, "found": found, "places": places, "wrong": wrong}


def _machine_page(
    request: HttpRequest,
    pk: int,
    *,
    form: BaseForm | None = None,
    at: int | None = None,
    measuring: MachineStitch | None = None,
) -> HttpResponse:
    """The page of a machine; the form stands at the stitch `at`."""
    machine = get_object_or_404(Machine.objects.prefetch_related("stitches"), pk=pk)
    steps = machines.steps_on(machine)
    context: dict[str, Any] = {
        "machine": machine,
        "rows": [machines.stitch_row(stitch) for stitch in machine.stitches.all()],
        "steps": steps,
        "told": told(steps) if steps else "",
        "form": form,
        "at": at,
        "section": "machines",
    }
    if measuring is not None and isinstance(form, UnpickedForm):
        context["measuring"] = {**_measured(measuring, form), "name": stitch_name(measuring.stitch_type)}
        example = UnpickedForm(EXAMPLE, number="401")
        context["example"] = example.measured if example.is_valid() else None
    return answer(request, "materials/machine_detail.html", "materials/_machine_stitches.html", context)


def _done(request: HttpRequest, text: str, pk: int) -> HttpResponse:
    return done(request, text, lambda again: _machine_page(again, pk), reverse("machine-detail", args=[pk]))
