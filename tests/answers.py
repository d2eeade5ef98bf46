"""What several rooms assert of an answer."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.http import HttpResponse

#: What is typed wrongly in a field, and what is said there.
Wrong = tuple[str, str, str]


def in_few_forms(wrong: Iterable[Wrong]) -> list[list[Wrong]]:
    """Put together so that each form has one at most in every field, for it says all that is wrong at once."""
    forms: list[list[Wrong]] = []
    for one in wrong:
        free = next((form for form in forms if one[0] not in [field for field, *_ in form]), None)
        if free is None:
            forms.append(free := [])
        free.append(one)
    return forms


def assert_all_refused(answer: HttpResponse, wrong: Iterable[Wrong]) -> Any:
    """The answer refuses a form for just these fields: says why at each and keeps what was typed."""
    assert answer.status_code == 422
    form, said = answer.context["form"], {field: words for field, _, words in wrong}
    assert set(form.errors) == set(said)
    for field, typed, words in wrong:
        assert words in form.errors[field][0], (field, typed)
        assert str(form[field].value()) == typed, field
    return form


def assert_refused_at(answer: HttpResponse, field: str, said: str = "", typed: object = None) -> Any:
    """The answer refuses a form for one field alone: says why there and keeps what was `typed`, where that is given."""
    assert answer.status_code == 422
    form = answer.context["form"]
    assert list(form.errors) == [field]
    assert said in form.errors[field][0]
    if typed is not None:
        assert str(form[field].value()) == str(typed)
    return form
