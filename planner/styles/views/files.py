"""Pattern files: brought in, looked through, taken over or thrown away."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from planner.common.access import for_makers
from planner.common.forms import status_of
from planner.core.pattern_files.model import PatternFileError
from planner.styles import actions
from planner.styles.models import PatternFile, Style
from planner.styles.review_forms import ReviewForm
from planner.styles.reviewing_grain import turned_as_answered
from planner.styles.reviewing_known import known_of, read_held
from planner.styles.reviewing_page import review_page
from planner.styles.reviewing_questions import units_of
from planner.styles.reviewing_uploads import FilesForm, StyleFromFileForm, Upload
from planner.styles.views.common import display, style_of, tell_others


@for_makers
def files_hold(request: HttpRequest, number: str) -> HttpResponse:
    """Pattern files for a style, and those of it that wait to be looked through."""
    style = style_of(number)
    form = FilesForm(request.POST, request.FILES) if request.method == "POST" else FilesForm()
    if request.method == "POST" and form.is_valid():
        held = [_hold(request, style, upload) for upload in form.cleaned_data["files"]]
        return redirect("file-review", held[0].pk)
    context = {
        "form": form,
        "style": style,
        "waiting": actions.waiting_files(style).select_related("read_by").defer("content", "rules"),
    }
    return render(request, "styles/review_files.html", context, status=status_of(form))


@for_makers
def style_from_file(request: HttpRequest) -> HttpResponse:
    """A style that is to be made from a pattern file."""
    form = StyleFromFileForm(request.POST, request.FILES) if request.method == "POST" else StyleFromFileForm()
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        told = {"style": {"number": data["number"], "name": data["name"]}}
        return redirect("file-review", _hold(request, None, data["files"][0], told).pk)
    context = {
        "form": form,
        "waiting": actions.waiting_files(None).select_related("read_by").defer("content", "rules"),
    }
    return render(request, "styles/review_new_style.html", context, status=status_of(form))


def _hold(
    request: HttpRequest, style: Style | None, upload: Upload, answers: Mapping[str, Any] | None = None
) -> PatternFile:
    # The day is a field of its own; two files of one day are told apart by the clock.
    at = timezone.localtime().strftime("%H:%M")
    return actions.hold_file(
        style,
        name=upload.name,
        content=upload.content,
        rules_name=upload.rules_name,
        rules=upload.rules,
        answers={**(answers or {}), "at": at},
        person=request.user,
        today=timezone.localdate(),
    )


@for_makers
def file_review(request: HttpRequest, pk: int) -> HttpResponse:
    """A file under review: what is in it, what it leaves open, what it would change; taken over by POST."""
    file = PatternFile.objects.select_related("style__size_range", "style__base_size").filter(pk=pk).first()
    if file is None:
        messages.error(
            request, "This file is not here any more: somebody threw it away. Nothing was changed."
        )
        return redirect("style-list")
    if file.taken_at is not None and request.method != "POST":
        messages.info(request, f"{file.name} was taken over already; this is its style.")
        return redirect("style-detail", file.style.number)
    if file.taken_at is not None:
        return _too_late(request, file)
    try:
        form = _review_form(request, file)
    except PatternFileError as problem:
        messages.error(request, f"{problem} Throw it away, or bring it in again.")
        return redirect(*(["files-hold", file.style.number] if file.style else ["style-from-file"]))
    looks = request.method == "GET" or "look" in request.POST
    if not looks and form.is_valid():
        result = actions.take_over(
            file, form.taking(), person=request.user, today=timezone.localdate(), now=timezone.now()
        )
        if isinstance(result, actions.Taken):
            return _after_taking(request, result)
        return _refused(request, file, form, result.text)
    if looks:
        form.only_look()
    return _shown(request, file, form, status=200 if looks else 422)


def _review_form(request: HttpRequest, file: PatternFile) -> ReviewForm:
    data = request.POST if request.method == "POST" else None
    remembered = actions.last_answers(file.style)
    units = units_of(data if data is not None else remembered)
    plain = pattern = read_held(file, None)
    wrong = ""
    if plain.asks_units and units:
        try:
            pattern = read_held(file, units)
        except PatternFileError as problem:
            wrong = str(problem)
    form = ReviewForm(
        turned_as_answered(pattern, data if data is not None else remembered),
        known_of(file.style),
        data,
        plain=plain,
        remembered=remembered,
        new_style=file.answers.get("style", {}) if file.style is None else None,
        display=display(),
    )
    if wrong:
        form.wrong_units = wrong
    return form


def _refused(request: HttpRequest, file: PatternFile, form: ReviewForm, text: str) -> HttpResponse:
    """The page as things are now, with the reason; away from it where the file is taken or gone."""
    now = PatternFile.objects.filter(pk=file.pk).first()
    if now is None or now.taken_at is not None:
        messages.error(request, text)
        return redirect("style-detail", now.style.number) if now and now.style else redirect("style-list")
    form = _review_form(request, now)
    form.is_valid()
    form.add_error(None, text)
    return _shown(request, now, form, status=409)


def _too_late(request: HttpRequest, file: PatternFile) -> HttpResponse:
    messages.error(request, actions.already_taken(file))
    return redirect("style-detail", file.style.number)


def _after_taking(request: HttpRequest, taken: actions.Taken) -> HttpResponse:
    """To the next file of the style that waits, else to the style."""
    messages.success(request, taken.text)
    tell_others(request, taken.style)
    waiting = actions.waiting_files(taken.style).filter(read_by=request.user).only("pk", "name").first()
    if waiting is not None:
        messages.info(request, f"Next: {waiting.name}.")
        return redirect("file-review", waiting.pk)
    return redirect("style-detail", taken.style.number)


def _shown(request: HttpRequest, file: PatternFile, form: ReviewForm, *, status: int) -> HttpResponse:
    template = "styles/_review.html" if request.htmx else "styles/review.html"
    context = {"page": review_page(file, file.style, form), "form": form, "style": file.style}
    return render(request, template, context, status=status)


@for_makers
@require_POST
def file_throw_away(request: HttpRequest, pk: int) -> HttpResponse:
    """Forgets a file under review."""
    file = get_object_or_404(PatternFile.objects.select_related("style"), pk=pk)
    style = file.style
    match actions.throw_away(file):
        case actions.Refused(text):
            messages.error(request, text)
        case actions.Done(text):
            messages.success(request, text)
    return redirect("style-detail", style.number) if style else redirect("style-list")
