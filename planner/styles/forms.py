"""Forms for a style as a whole: new, copied, renamed, its sizes."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from planner.common.forms import PlainWords
from planner.common.meanwhile import Meanwhile
from planner.styles.models import SizeRange, Style

MOST_SIZES = 30
MOST_ROLES = 12

_NUMBER = re.compile(r"\w(?:[\w .+-]*\w)?")


def words_of(text: str) -> list[str]:
    """Names typed with spaces, commas, semicolons or slashes between them."""
    return [word for word in re.split(r"[\s,;/]+", text) if word]


def names_of(text: str) -> list[str]:
    """Names typed with commas, semicolons or line ends between them; they may hold spaces."""
    return [" ".join(name.split()) for name in re.split(r"[,;\n]+", text) if name.strip()]


def _checked_sizes(text: str) -> list[str]:
    sizes = words_of(text)
    if not sizes:
        raise ValidationError("Type at least one size, for example XS S M L XL XXL.")
    if len(sizes) > MOST_SIZES:
        raise ValidationError(f"At most {MOST_SIZES} sizes, please; these are {len(sizes)}.")
    too_long = next((size for size in sizes if len(size) > 12), None)
    if too_long:
        raise ValidationError(f"“{too_long[:30]}” is too long for a size; it may have 12 letters.")
    twice = next((size for size in sizes if [s.lower() for s in sizes].count(size.lower()) > 1), None)
    if twice:
        raise ValidationError(f"The size {twice} stands there twice.")
    return sizes


def checked_number(number: str, *, but: Style | None = None) -> str:
    if not _NUMBER.fullmatch(number) or number.lower() == "new":
        raise ValidationError(
            "A style number has letters, figures, spaces, points and hyphens, for example 110-B."
        )
    others = Style.objects.exclude(pk=but.pk) if but else Style.objects
    there = others.filter(number__iexact=number).first()
    if there:
        raise ValidationError(f"There is a style with this number already: {there}.")
    return number


class NewStyleForm(PlainWords, forms.Form):
    """A new style with its sizes and roles."""

    number = forms.CharField(
        max_length=20, help_text="As you call it on tickets and labels, for example 110."
    )
    name = forms.CharField(max_length=120)
    base = forms.ModelChoiceField(
        Style.objects.none(), required=False, label="Built on", empty_label="no other style",
        help_text="It has that style’s sizes and all its parts, and gets what is added there later. "
        "For good: it cannot be changed afterwards.",
        error_messages={"invalid_choice": "Please choose one of the list."},
    )  # fmt: skip
    size_range = forms.ModelChoiceField(
        SizeRange.objects.none(), required=False, label="Sizes", empty_label="other sizes, as you type them"
    )
    sizes = forms.CharField(
        max_length=400, required=False, label="Other sizes", help_text="From small to large: XS S M L XL XXL"
    )
    base_size = forms.CharField(
        max_length=12, required=False, label="Base size", help_text="The size the pattern was drafted in."
    )
    roles = forms.CharField(
        max_length=400, required=False, label="Cloth roles", initial="body",
        help_text="Which cloths the pieces are cut from, with commas between: body, rib",
    )  # fmt: skip
    for_children = forms.BooleanField(required=False, label="For children")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["size_range"].queryset = SizeRange.objects.prefetch_related("sizes")
        self.fields["size_range"].label_from_instance = _range_label
        self.fields["base"].queryset = Style.objects.can_be_built_on()

    def clean_number(self) -> str:
        return checked_number(self.cleaned_data["number"])

    def clean_roles(self) -> list[str]:
        roles = names_of(self.cleaned_data["roles"])
        if not roles and not self.cleaned_data.get("base"):
            raise ValidationError("Name at least one cloth role, for example body.")
        if len(roles) > MOST_ROLES:
            raise ValidationError(f"At most {MOST_ROLES} roles, please; these are {len(roles)}.")
        if any(len(role) > 40 for role in roles):
            raise ValidationError("A role may have at most 40 letters.")
        if len({role.lower() for role in roles}) < len(roles):
            raise ValidationError("A role stands there twice.")
        return roles

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("base") is not None:
            return self._clean_built_on(data)
        if not data.get("base_size"):
            self.add_error("base_size", "Please fill this in.")
        size_range, typed = data.get("size_range"), data.get("sizes", "")
        if size_range is None:
            try:
                data["sizes"] = _checked_sizes(typed)
            except ValidationError as problem:
                self.add_error("sizes", problem)
                return data
        elif typed.strip():
            self.add_error("sizes", "Choose sizes from the list or type other ones, not both.")
            return data
        names = [size.name for size in size_range.sizes.all()] if size_range else data["sizes"]
        _match_base_size(self, names)
        return data

    def _clean_built_on(self, data: dict[str, Any]) -> dict[str, Any]:
        """Sizes are those of the base, and roles it has already are not entered a second time."""
        base = data["base"]
        sizes = [size.name for size in base.size_range.sizes.all()]
        typed = words_of(data.get("sizes", ""))
        chosen = data.get("size_range")
        if (chosen and chosen != base.size_range) or (typed and typed != sizes):
            where = "size_range" if chosen and chosen != base.size_range else "sizes"
            self.add_error(where, f"{base} has the sizes {' '.join(sizes)}, and so has what is built on it.")
        data["size_range"] = base.size_range
        data["base_size"] = data.get("base_size") or base.base_size.name
        there = {name.casefold() for name in base.roles.values_list("name", flat=True)}
        data["roles"] = [role for role in data.get("roles", []) if role.casefold() not in there]
        _match_base_size(self, sizes)
        return data


def _range_label(size_range: SizeRange) -> str:
    return " ".join(size.name for size in size_range.sizes.all()) or size_range.name


def _match_base_size(form: forms.Form, names: list[str]) -> None:
    """Takes "l" for "L"; refuses a base size that is none of the sizes."""
    typed = form.cleaned_data.get("base_size")
    if not typed:
        return
    match = next((name for name in names if name.lower() == typed.lower()), None)
    if match is None:
        form.add_error("base_size", f"{typed} is not one of the sizes {', '.join(names)}.")
    else:
        form.cleaned_data["base_size"] = match


class StyleForm(Meanwhile, PlainWords, forms.ModelForm):
    """Number, name and note of a style."""

    class Meta:
        model = Style
        fields = ["number", "name", "note", "for_children"]
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}
        labels = {"for_children": "For children"}

    def clean_number(self) -> str:
        return checked_number(self.cleaned_data["number"], but=self.instance)


class CopyForm(PlainWords, forms.Form):
    """Number and name of a copy."""

    number = forms.CharField(max_length=20, label="Number of the copy")
    name = forms.CharField(max_length=120, label="Name of the copy")

    def clean_number(self) -> str:
        return checked_number(self.cleaned_data["number"])


class SizesForm(PlainWords, forms.Form):
    """The sizes of a style, typed in order."""

    sizes = forms.CharField(max_length=400, help_text="From small to large, with spaces between.")
    base_size = forms.CharField(max_length=12, label="Base size")
    only_this = forms.BooleanField(
        required=False, label="Only this style: give it sizes of its own",
    )  # fmt: skip
    even_with_outlines = forms.BooleanField(
        required=False, label="Take the outlines of sizes that go away too", widget=forms.HiddenInput
    )

    def __init__(self, style: Style, *args: Any, **kwargs: Any) -> None:
        sizes = " ".join(size.name for size in style.size_range.sizes.all())
        super().__init__(*args, initial={"sizes": sizes, "base_size": style.base_size.name}, **kwargs)
        others = list(style.size_range.styles.exclude(pk=style.pk).order_by("number")[:6])
        is_bound_to_family = style.base_id is not None or style.built_on_it.exists()
        if others and is_bound_to_family:
            self.fields["sizes"].help_text = f"They change for style {_few(others)} too."
        if others and not is_bound_to_family:
            self.fields["only_this"].help_text = f"Otherwise they change for style {_few(others)} too."
        else:
            del self.fields["only_this"]

    def ask(self, text: str) -> None:
        """Shows the tick box that lets outlines go, with the reason beside it."""
        self.fields["even_with_outlines"].widget = forms.CheckboxInput()
        self.add_error("even_with_outlines", text)

    def clean_sizes(self) -> list[str]:
        return _checked_sizes(self.cleaned_data["sizes"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if "sizes" in data:
            _match_base_size(self, data["sizes"])
        return data


def _few(styles: list[Style]) -> str:
    """The first five numbers."""
    return ", ".join(style.number for style in styles[:5]) + (" …" if len(styles) > 5 else "")
