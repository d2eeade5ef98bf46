"""Forms for the parts of a style. Each knows its style and offers only what belongs to it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.html import escape

from planner.common.fields import LengthField, QuantityField
from planner.common.forms import PlainWords
from planner.common.meanwhile import Meanwhile
from planner.core.spec.styles import own_word
from planner.materials.models import NotionColour
from planner.styles.actions import next_position
from planner.styles.family import numbers_of, option_key, options_of, parts_of, sharing
from planner.styles.models import (
    ClothRole,
    Colourway,
    Operation,
    Option,
    Piece,
    Seam,
    Size,
    Style,
    StyleNotion,
)


class OptionChoice(forms.ModelChoiceField):
    """An option named together with its detail."""

    def label_from_instance(self, obj: Option) -> str:
        return f"{obj.detail.name}: {obj.name}"


class PartForm(Meanwhile, PlainWords, forms.ModelForm):
    """A part of a style: its name is told apart in the style, a new one goes behind the others.

    In a style built on a base the choices are those of the base and its own.
    """

    #: How names of fields begin that are no columns, but of which something is saved: their `initial`.
    beside_columns: tuple[str, ...] = ()

    def __init__(self, style: Style, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.style = style
        self.instance.style = style
        if "option" in self.fields:
            options = Option.objects.filter(pk__in=[option.pk for option in options_of(style)])
            self.fields["option"] = OptionChoice(
                options.select_related("detail").order_by("detail__position", "detail__pk", "position"),
                required=False,
                label="Belongs to the option",
                empty_label="every garment",
                error_messages={"invalid_choice": "Please choose one of the list."},
            )

    def stored(self) -> dict[str, Any]:
        beside = {
            name: field.initial for name, field in self.fields.items() if name.startswith(self.beside_columns)
        }
        return super().stored() | beside

    @property
    def note(self) -> str:
        """Which other styles a change reaches, or ""."""
        if isinstance(self.instance, Colourway):
            return ""
        if self.instance.pk:
            what, others = "are built on this style and change with it", sharing(self.instance)
        else:
            what, others = (
                "are built on this style and get it too",
                [*self.style.built_on_it.order_by("number")],
            )
        if len(others) == 1:
            what = what.replace("are", "is").replace("change", "changes").replace("get", "gets")
        return f"{numbers_of(others)} {what}." if others else ""

    def siblings(self) -> Any:
        """All parts of this kind in the style."""
        return type(self.instance)._default_manager.filter(style=self.style)

    def of_base(self) -> Any:
        """All parts of this kind in the style's base."""
        return type(self.instance)._default_manager.filter(style=self.style.base_id)

    def clean_name(self) -> str:
        name = " ".join(self.cleaned_data["name"].split())
        if self.siblings().exclude(pk=self.instance.pk).filter(name__iexact=name).exists():
            raise ValidationError(f"The style has one called {name} already.")
        return self._as_in_family(name)

    def _related(self) -> Any:
        """The styles whose parts this one meets: its base, or those built on it."""
        return self.style.built_on_it.all() if self.style.base_id is None else [self.style.base_id]

    def _as_in_family(self, name: str) -> str:
        """A name with the letters it has in the base, or in a style built on this one: "Front" there is "front".

        Parts are the same where their names are. A name that is kept as it was stays, and colourways are no parts of
        the base.
        """
        if isinstance(self.instance, Colourway) or name == self.instance.name:
            return name
        namesakes = type(self.instance)._default_manager.filter(style__in=self._related(), name__iexact=name)
        names = list(namesakes.order_by("pk").values_list("name", flat=True))
        return name if name in names or not names else names[0]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if "option" in self.fields and data.get("name") and "option" not in self.errors:
            text = self._met_in_family(data["name"], data.get("option"))
            if text:
                self.add_error("option", text)
        return data

    def _met_in_family(self, name: str, option: Option | None) -> str:
        """Why a part may not be called like one of the base, or of a style built on this one, in other garments.

        Of the same option it takes that one's place; of another both would be there, and seams could not tell
        them apart.
        """
        namesakes = type(self.instance)._default_manager.filter(style__in=self._related(), name=name)
        for other in namesakes.select_related("style", "option__detail"):
            if option_key(other.option) == option_key(option):
                continue
            apart = option and other.option and option.detail.name == other.option.detail.name
            if not apart:
                where = ": ".join(option_key(other.option) or ()) or "every garment"
                place = (
                    "takes its place" if other.style_id == self.style.base_id else "is replaced by it there"
                )
                return (
                    f"Style {other.style.number} has a {name} too, for {where}. One of the same name "
                    f"{place}, so it must belong to the same garments."
                )
        return ""

    def save(self, commit: bool = True) -> Any:  # noqa: FBT001, FBT002 - Django's own signature
        if self.instance.pk is None and hasattr(self.instance, "position"):
            self.instance.position = self._place()
        return super().save(commit)

    def _place(self) -> int:
        """Behind all others; that of the base's namesake where it takes its place."""
        replaced = self.of_base().filter(name=self.cleaned_data.get("name")).first()
        if replaced is not None and isinstance(replaced, Operation):
            return int(replaced.position)
        return max(next_position(self.siblings()), next_position(self.of_base()))


class RoleForm(PartForm):
    """A cloth role."""

    class Meta:
        model = ClothRole
        fields = ["name"]
        help_texts = {"name": "For example body, rib, facing, contrast."}


class PieceForm(PartForm):
    """A piece, without its outlines."""

    template = "styles/piece_fields.html"

    count = QuantityField(
        whole=True, minimum=1, maximum=60, label="Pieces in a garment", initial=1, widget=forms.TextInput
    )
    seam_allowance_mm = LengthField(
        default_unit="mm", maximum_mm=60, label="Seam allowance in the outline", initial=Decimal(7)
    )

    together = forms.BooleanField(
        label="Cut the pair together",
        required=False,
        help_text="Its two halves lie next to each other, on any cloth.",
    )

    class Meta:
        model = Piece
        fields = [
            "name", "role", "option", "count", "pair", "may_turn", "is_band", "seam_allowance_mm", "beside",
        ]  # fmt: skip
        labels = {
            "role": "Cut from the cloth",
            "pair": "Cut as a mirrored pair",
            "may_turn": "May be turned end for end",
            "is_band": "A band, shorter than its opening",
            "beside": "Lies side by side with",
        }
        help_texts = {"name": "For example front, sleeve, neck band."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["role"].queryset = parts_of(self.style, ClothRole)
        self.fields["role"].empty_label = None
        if self.instance.pair and self.instance.beside == own_word(self.instance.name):
            self.initial.update(together=True, beside="")
        used = escape(", ".join(sorted(self._words())))  # hints may hold markup, words of people may not
        self.fields["beside"].help_text = (
            "A word of yours, for example body: pieces of a garment with the same word are cut next to each other "
            "where the cloth shades, as its form says. Left empty, it may lie anywhere."
            + (f" In use: {used}." if used else "")
        )

    def _words(self) -> set[str]:
        """The words that other pieces have."""
        others = parts_of(self.style, Piece).exclude(pk=self.instance.pk).exclude(beside="")
        return set(others.values_list("beside", flat=True))

    def clean_beside(self) -> str:
        """The word, as other pieces have it where only capitals and spaces differ."""
        word = " ".join(self.cleaned_data["beside"].split())
        return next((other for other in self._words() if other.casefold() == word.casefold()), word)

    def clean_count(self) -> int:
        return int(self.cleaned_data["count"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("pair") and data.get("count", 2) % 2:
            self.add_error("count", "A mirrored pair is cut an even number of times, for example 2.")
        if data.get("together") and not data.get("pair"):
            self.add_error(
                "together", "Only a mirrored pair can be cut together: tick that too, or take this tick off."
            )
        elif data.get("together") and not data.get("beside") and "beside" not in self.errors:
            data["beside"] = own_word(data.get("name", ""))
        return data


class NotionForm(PartForm):
    """What garments, pieces, orders or seams take of a notion."""

    template = "styles/notion_fields.html"

    quantity = QuantityField(
        above=0, minimum=None, maximum=9999, label="So many", initial=Decimal(1), required=False,
        widget=forms.TextInput, help_text="Metres where the notion is counted in metres.",
    )  # fmt: skip
    ratio = QuantityField(
        above=0, minimum=None, maximum=5, label="Length for one length of seam", initial=Decimal(1),
        required=False, widget=forms.TextInput, help_text="1 for clear elastic cut 1 : 1.",
    )  # fmt: skip
    tail_mm = LengthField(
        default_unit="mm", maximum_mm=500, label="Tail at each end", initial=Decimal(20), required=False
    )

    class Meta:
        model = StyleNotion
        fields = ["notion_colour", "option", "size", "basis", "quantity", "piece", "seam", "ratio", "tail_mm"]
        labels = {
            "notion_colour": "Notion", "basis": "Counted", "piece": "For the piece", "seam": "Along the seam",
            "size": "Only in the size",
        }  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        colours = NotionColour.objects.select_related("notion").exclude(notion__kind="thread")
        self.fields["notion_colour"].queryset = colours
        self.fields["notion_colour"].help_text = "Thread is not listed: it follows from seams and colourway."
        for name, model in (("seam", Seam), ("piece", Piece)):
            self.fields[name].queryset = parts_of(self.style, model)
            self.fields[name].empty_label = "–"
        self.fields["size"].queryset = Size.objects.filter(size_range=self.style.size_range_id)
        self.fields["size"].empty_label = "every size"

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        basis = data.get("basis")
        if basis == StyleNotion.Basis.SEAM:
            self._check_along(data)
        else:
            data["seam"] = None
        if basis == StyleNotion.Basis.PIECE:
            if not data.get("piece") and "piece" not in self.errors:
                self.add_error("piece", "Choose the piece it is counted for.")
        else:
            data["piece"] = None
        if basis == StyleNotion.Basis.ORDER and data.get("size"):
            self.add_error("size", "An order is of many sizes: choose every size, or count by the garment.")
        for name in ("seam", "piece"):
            self._check_together(name, data)
        for name, usual in (("quantity", Decimal(1)), ("ratio", Decimal(1)), ("tail_mm", Decimal(20))):
            if data.get(name) is None and name not in self.errors:
                data[name] = usual
        return data

    def _check_along(self, data: dict[str, Any]) -> None:
        if not data.get("seam") and "seam" not in self.errors:
            self.add_error("seam", "Choose the seam it is sewn along.")
        notion = data.get("notion_colour")
        if notion and notion.notion.unit != "m":
            self.add_error("basis", f"{notion} is counted in pieces, so it cannot run along a seam.")

    def _check_together(self, name: str, data: dict[str, Any]) -> None:
        """A piece or seam of another option of the same detail is never in the garments that take the notion."""
        part, option = data.get(name), data.get("option")
        theirs = part.option if part else None
        if option is None or theirs is None or option == theirs:
            return
        detail = option.detail.name
        if theirs.detail.name == detail and theirs.name != option.name:
            self.add_error(
                name,
                f"{part} belongs to {detail}: {theirs.name}; no garment has it together with {option.name}.",
            )
