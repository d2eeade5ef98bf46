"""What is typed in this room."""

from __future__ import annotations

from dataclasses import dataclass

from django import forms
from django.http import QueryDict

MOST_IN_A_BOX = 9_999
#: No more than so many may be cut beyond what is ordered of one size.
MOST_EXTRA = 99


@dataclass(frozen=True)
class Boxes:
    """The boxes of the page that fills a batch: what they ask for, what was typed, what is wrong with it.

    Those for how many more may be cut are told apart by `extra`.
    """

    wanted: dict[int, int]
    typed: dict[int, str]
    errors: dict[int, str]
    extra: dict[int, int]
    extra_typed: dict[int, str]
    extra_errors: dict[int, str]

    @property
    def is_right(self) -> bool:
        """Whether all could be read."""
        return not self.errors and not self.extra_errors

    @property
    def filled(self) -> set[int]:
        """The boxes into which something was typed."""
        return {pk for typed in (self.typed, self.extra_typed) for pk, text in typed.items() if text}


#: The boxes of a page that was only opened.
NOTHING_TYPED = Boxes({}, {}, {}, {}, {}, {})


def read_boxes(data: QueryDict) -> Boxes:
    """Reads boxes named `q-<line quantity>`, and `x-<line quantity>` for how many more; blank counts as none."""
    wanted, typed, errors = _numbers(data, "q", MOST_IN_A_BOX)
    extra, extra_typed, extra_errors = _numbers(data, "x", MOST_EXTRA)
    return Boxes(wanted, typed, errors, extra, extra_typed, extra_errors)


def read_taken_out(data: QueryDict) -> tuple[dict[int, int], dict[int, str], dict[int, str]]:
    """Reads boxes named `n-<batch item>`, how many of it are taken out: numbers, what was typed, what is wrong."""
    return _numbers(data, "n", MOST_IN_A_BOX)


def _numbers(
    data: QueryDict, prefix: str, most: int
) -> tuple[dict[int, int], dict[int, str], dict[int, str]]:
    """Whole numbers up to `most` by the key behind the prefix, what was typed, what is wrong."""
    numbers: dict[int, int] = {}
    typed: dict[int, str] = {}
    errors: dict[int, str] = {}
    for name in data:
        head, _, key = name.partition("-")
        if head != prefix or not (key.isascii() and key.isdigit()) or len(key) > 18:
            continue
        pk, text = int(key), data[name].strip()[:20]
        typed[pk] = text
        if not text:
            continue
        if not (text.isascii() and text.isdigit()) or len(text) > 6 or int(text) > most:
            errors[pk] = f"type a whole number up to {most}"
            continue
        numbers[pk] = int(text)
    return numbers, typed, errors


class LongerForm(forms.Form):
    """How much longer to nest."""

    seconds = forms.TypedChoiceField(
        label="Go on for",
        coerce=int,
        choices=[
            (20, "20 seconds"),
            (60, "1 minute"),
            (300, "5 minutes"),
            (1800, "half an hour"),
            (28800, "until morning (8 h)"),
        ],
        initial=20,
    )
