"""Two people at the form of one thing: who saves second is told what the other saved, and nothing is lost silently."""

from __future__ import annotations

import hashlib
from typing import Any

from django import forms
from django.db.models import Model
from django.utils.choices import flatten_choices

#: Said of what is ticked or not.
_TICKS = {True: "yes", False: "no"}


class Meanwhile:
    """Mixed into a ModelForm, before all others, or into a form that sets `instance` before it is made, for its fields
    that are named as columns of that. The template carries `version` as a hidden field of that name.

    A form sent with another version than that of the row as it is now is refused once, as `is_stale`: it is shown
    again with what was typed and with what is saved otherwise (`newer`), and bears the new version, so that who
    sends it again means it. A form without a version is not looked at.
    """

    instance: Model
    fields: dict[str, forms.Field]
    data: Any
    is_bound: bool
    cleaned_data: dict[str, Any]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.note_stored()

    def note_stored(self) -> None:
        """Remembers what is saved, before validation writes what was typed into the instance. A form that adds fields
        once it is made, of which something is saved as well, calls it again then."""
        self._stored = self.stored()
        mark = hashlib.sha256(repr(sorted(self._stored.items())).encode()).hexdigest()
        self.version = mark[:16] if self.instance.pk is not None else ""

    def stored(self) -> dict[str, Any]:
        """What is saved of the thing, field by field. A form with a field that is no column adds what stands for it."""
        return {
            field.name: field.value_from_object(self.instance)
            for field in self.instance._meta.concrete_fields
            if field.name in self.fields
        }

    @property
    def is_stale(self) -> bool:
        """Somebody else has saved the thing since this form was shown."""
        sent = self.data.get("version", "") if self.is_bound else ""
        return bool(sent and self.version) and sent != self.version

    @property
    def newer(self) -> list[tuple[str, str]]:
        """Fields that are saved otherwise than they stand in the form, with what is saved: ("Price", "12.50")."""
        found = []
        for name, stored in self._stored.items():
            typed = self.cleaned_data.get(name)
            if (typed.pk if isinstance(typed, Model) else typed) != stored:
                bound = self[name]  # type: ignore[index]
                found.append((str(bound.label), _in_words(bound, stored)))
        return found

    def clean(self) -> Any:
        """Refuses a form that is stale."""
        cleaned = super().clean()  # type: ignore[misc]
        if self.is_stale:
            self.add_error(None, forms.ValidationError(SAVED_MEANWHILE, code="stale"))  # type: ignore[attr-defined]
        return cleaned


#: The reason at the top of a form that is stale.
SAVED_MEANWHILE = "Somebody else saved changes while you were typing. Nothing of yours is saved yet."


def _in_words(bound: forms.BoundField, stored: Any) -> str:
    """What is saved in a field, as it would stand there."""
    field = bound.field
    if stored is None:
        return "nothing"
    if isinstance(stored, bool):
        return _TICKS[stored]
    if isinstance(field, forms.ModelChoiceField):
        row = field.queryset.filter(pk=stored).first()
        return str(row) if row else "nothing"
    if isinstance(field, forms.ChoiceField):
        choices = dict(flatten_choices(field.choices))
        if isinstance(field, forms.MultipleChoiceField):
            return ", ".join(_short(one, str(choices.get(one, one))) for one in stored) or "nothing"
        return str(choices.get(stored, stored))
    words = field.prepare_value(bound.initial)
    return "nothing" if words in (None, "") else str(words)


def _short(stored: str, label: str) -> str:
    """One of several choices: "401" where its label goes on from that, else the label."""
    return stored if label.startswith(stored) else label
