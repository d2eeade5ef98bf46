"""What several rooms assert of an answer."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse


def assert_refused_at(answer: HttpResponse, field: str, said: str = "", typed: object = None) -> Any:
    """The answer refuses a form for one field alone: says why there and keeps what was `typed`, where that is given."""
    assert answer.status_code == 422
    form = answer.context["form"]
    assert list(form.errors) == [field]
    assert said in form.errors[field][0]
    if typed is not None:
        assert str(form[field].value()) == str(typed)
    return form
