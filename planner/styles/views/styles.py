"""The list of styles, a style's page, and what is done with a style as a whole."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from planner.common.access import for_helpers, for_makers
from planner.common.forms import status_of
from planner.common.same_moment import one_after_the_other
from planner.styles import actions, checks
from planner.styles.forms import CopyForm, NewStyleForm, SizesForm, StyleForm
from planner.styles.models import Style
from planner.styles.page import list_rows
from planner.styles.parts import SECTIONS
from planner.styles.spec_heads import specs_without_shapes
from planner.styles.views.common import (
    after_change,
    alone_with,
    back_to,
    page_context,
    sections_again,
    style_of,
)

PAGE = 50


@for_helpers
def style_list(request: HttpRequest) -> HttpResponse:
    """Every style with its sizes, a drawing, and what it lacks."""
    words = request.GET.get("q", "")[:80]
    retired = request.GET.get("retired") == "1"
    sold = Style.objects.sold()
    specs = specs_without_shapes(sold)
    answer = checks.answer(checks.stopping(spec) for spec in specs.values())
    shown = (Style.objects.filter(retired=True) if retired else sold).matching(words).for_list()
    page = Paginator(shown, PAGE).get_page(request.GET.get("page"))
    styles = list(page.object_list)
    if retired:
        specs = specs_without_shapes(Style.objects.filter(pk__in=[style.pk for style in styles]))
    context = {
        "answer": answer,
        "rows": list_rows(styles, specs),
        "page": page,
        "q": words,
        "retired": retired,
    }
    return render(request, "styles/style_list.html", context)


@for_makers
def style_new(request: HttpRequest) -> HttpResponse:
    """A new style; of two people who give one number at once the second is told."""
    if request.method != "POST":
        return _new(request)
    return one_after_the_other(lambda: _new(request))


def _new(request: HttpRequest) -> HttpResponse:
    form = NewStyleForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        style = actions.new_style(
            number=data["number"],
            name=data["name"],
            sizes=data["size_range"] or data["sizes"],
            base_size=data["base_size"],
            roles=data["roles"],
            for_children=data["for_children"],
            base=data["base"],
        )
        next_step = "its colourways, and what it has besides" if style.base else "its pieces"
        messages.success(request, f"{style} is there. Next: {next_step}.")
        return redirect("style-detail", style.number)
    return render(request, "styles/style_new.html", {"form": form}, status=status_of(form))


@for_helpers
def style_detail(request: HttpRequest, number: str) -> HttpResponse:
    """A style with everything it is made of."""
    return render(request, "styles/style_detail.html", page_context(number, size=request.GET.get("size", "")))


@for_helpers
def style_section(request: HttpRequest, number: str, section: str) -> HttpResponse:
    """One section of a style's page; the whole page where it is opened by itself."""
    style = style_of(number)
    if section not in SECTIONS:
        return redirect("style-detail", number)
    if not request.htmx:
        query = f"?{request.GET.urlencode()}" if request.GET else ""
        return HttpResponseRedirect(f"{reverse('style-detail', args=[number])}{query}#section-{section}")
    return sections_again(request, style, section)


@for_makers
def style_change(request: HttpRequest, number: str) -> HttpResponse:
    """Number, name and note of a style; who saves second is told."""
    return alone_with(request, number, lambda: _change(request, number))


def _change(request: HttpRequest, number: str) -> HttpResponse:
    style = style_of(number)
    form = StyleForm(request.POST or None, instance=style)
    if request.method == "POST" and form.is_valid():
        style = form.save()
        messages.success(request, "Kept.")
        return redirect("style-detail", style.number)
    context = {"form": form, "style": style_of(number)} if form.errors else {"form": form, "style": style}
    return render(request, "styles/style_change.html", context, status=status_of(form))


@for_makers
def style_copy(request: HttpRequest, number: str) -> HttpResponse:
    """A new style made from this one; of two people who give one number at once the second is told."""
    if request.method != "POST":
        return _copy(request, number)
    return one_after_the_other(lambda: _copy(request, number))


def _copy(request: HttpRequest, number: str) -> HttpResponse:
    style = style_of(number)
    form = CopyForm(request.POST or None, initial={"name": style.name})
    if request.method == "POST" and form.is_valid():
        copy = actions.copy_style(style, **form.cleaned_data)
        messages.success(
            request, f"{copy} is a copy of {style}. Change what you like; {style.number} stays as it is."
        )
        return redirect("style-detail", copy.number)
    return render(request, "styles/style_copy.html", {"form": form, "style": style}, status=status_of(form))


@for_makers
@require_POST
def style_retire(request: HttpRequest, number: str) -> HttpResponse:
    """Takes a style out of sale, or back."""
    style = style_of(number)
    done = actions.set_retired(style, retired=request.POST.get("retired") == "1")
    messages.success(request, done.text)
    return back_to(style)


@for_makers
def style_sizes(request: HttpRequest, number: str) -> HttpResponse:
    """The sizes of a style."""
    style = style_of(number)
    form = SizesForm(style, request.POST or None)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        result = actions.change_sizes(
            style,
            data["sizes"],
            base_size=data["base_size"],
            only_this=data.get("only_this", False),
            even_with_outlines=data["even_with_outlines"],
        )
        match result:
            case actions.Done(text):
                return after_change(request, style, "sizes", text, also=("pieces", "outlines"))
            case actions.Refused(text):
                form.add_error("sizes", text)
            case actions.Asks(text):
                form.ask(text)
    template = "styles/_sizes_form.html" if request.htmx else "styles/sizes_form.html"
    return render(request, template, {"form": form, "style": style}, status=status_of(form))
