"""What every form of the house has in common: plain words, and the units of the workroom."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models.fields import BLANK_CHOICE_DASH

from planner.common.fields import LengthField, WeightField

#: Django's own words, said plainly. Figures are formatted by the validators that raise them.
_PLAIN = {
    "required": "Please fill this in.",
    "invalid_choice": "Please choose one of the list.",
    "invalid": "This cannot be read. Please type it again.",
}


#: What stands in a box of choices before anything is chosen; Django has dashes there.
CHOOSE = "choose one"


class PlainWords:
    """Mixed into a Form or ModelForm. `display` is the workroom's "metric" or "imperial"."""

    fields: dict[str, forms.Field]

    def __init__(self, *args: Any, display: str = "metric", **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        self.display = display
        for field in self.fields.values():
            if isinstance(field, LengthField | WeightField):
                field.use_display(display)
                # A bare number takes this unit: an empty box has to say so too.
                field.widget.attrs.setdefault("placeholder", field.default_unit)
            for code, text in _PLAIN.items():
                if code in field.error_messages:
                    field.error_messages[code] = text
            if isinstance(field, forms.CharField) and field.max_length:
                _say_length_plainly(field)
            if isinstance(field, forms.ChoiceField):
                _say_blank_plainly(field)


def status_of(form: forms.BaseForm) -> int:
    """200 for a form that is shown or was right, 422 for one that is shown again with what is wrong.

    409 where somebody else saved the same meanwhile (:class:`planner.common.meanwhile.Meanwhile`).
    """
    if getattr(form, "is_stale", False):
        return 409
    return 422 if form.is_bound and not form.is_valid() else 200


def _say_blank_plainly(field: forms.ChoiceField) -> None:
    dashes = BLANK_CHOICE_DASH[0][1]
    if isinstance(field, forms.ModelChoiceField):
        if field.empty_label == dashes:
            field.empty_label = CHOOSE
        return
    choices = list(field.choices)
    if choices and choices[0] == BLANK_CHOICE_DASH[0]:
        field.choices = [("", CHOOSE), *choices[1:]]


def _say_length_plainly(field: forms.CharField) -> None:
    for validator in field.validators:
        if getattr(validator, "code", "") == "max_length":
            validator.message = "At most %(limit_value)s letters, please; this has %(show_value)s."
