"""What all questions about a pattern file have in common: lenient answers, and fields that come with the answers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from planner.common.fields import LengthField
from planner.common.forms import PlainWords
from planner.core.pattern_files.model import ReadPattern
from planner.styles.reviewing import Known

LEFT_OUT = "-"


class Asking(PlainWords, forms.Form):
    """A form of which fields there are follows from what was answered so far."""

    pattern: ReadPattern
    known: Known
    remembered: dict[str, Any]
    #: Which size of the file is shown.
    shown_size: str

    def _plainly(self) -> None:
        """The house's words for fields that were added here."""
        for field in self.fields.values():
            field.error_messages["required"] = field.error_messages.get("unanswered", "Please fill this in.")
            if "invalid_choice" in field.error_messages:
                field.error_messages["invalid_choice"] = "Please choose one of the list."
            for validator in field.validators:
                if getattr(validator, "code", "") == "max_length":
                    validator.message = "At most %(limit_value)s letters, please; this has %(show_value)s."

    def _length(self, **kwargs: Any) -> LengthField:
        """A length in the workroom's units."""
        field = LengthField(**kwargs)
        field.use_display(self.display)
        return field

    def _answer(self, name: str, values: Sequence[Any]) -> None:
        data = self.data.copy()
        data.setlist(name, [str(value) for value in values])
        self.data = data

    def lenient(self, name: str) -> Any:
        """The answer to a field, or its guess where there is none or it makes no sense yet."""
        field = self.fields.get(name)
        if field is None:
            return None
        if not self.is_bound:
            return field.initial
        raw = field.widget.value_from_datadict(self.data, self.files, self.add_prefix(name))
        try:
            return field.clean(raw)
        except ValidationError:
            return field.initial
