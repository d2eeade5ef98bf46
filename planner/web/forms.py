"""Forms at the door: signing in, choosing a password, adding people."""

from datetime import datetime
from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.models import User
from django.contrib.auth.password_validation import password_validators_help_texts, validate_password
from django.core.exceptions import ValidationError
from django.utils import timezone

from planner.common.forms import PlainWords
from planner.web import throttle
from planner.web.actions import person_called, tidy_name

LONGEST_NAME = 60
LONGEST_PASSWORD = 200


class NameField(forms.CharField):
    """A person's name, in any script; spaces are tidied."""

    def __init__(self, **options: Any) -> None:
        options = {"label": "Name", "max_length": LONGEST_NAME, **options}
        super().__init__(**options)

    def clean(self, value: Any) -> str:
        name = tidy_name(super().clean(value))
        if not all(sign.isprintable() for sign in name):
            raise ValidationError("This name has signs in it that cannot be printed.")
        return name


def _password_field(label: str, autocomplete: str) -> forms.CharField:
    return forms.CharField(
        label=label,
        strip=False,
        max_length=LONGEST_PASSWORD,
        widget=forms.PasswordInput(attrs={"autocomplete": autocomplete}),
    )


class SignInForm(PlainWords, AuthenticationForm):
    """Name and password; too many failures make it wait."""

    username = NameField(widget=forms.TextInput(attrs={"autocomplete": "username", "autofocus": True}))
    password = _password_field("Password", "current-password")
    error_messages = {
        "invalid_login": "Name and password do not fit together. Try again.",
        "inactive": "Name and password do not fit together. Try again.",
    }

    def clean(self) -> dict[str, Any]:
        name = self.cleaned_data.get("username", "")
        address = self.request.META.get("REMOTE_ADDR", "") if self.request else ""
        now = timezone.now()
        waits_until = throttle.wait_until(name, address, now=now)
        if waits_until is not None:
            raise ValidationError(_too_many(waits_until, now), code="wait")
        person = person_called(name)
        if person is not None:
            self.cleaned_data["username"] = person.username
        try:
            cleaned: dict[str, Any] = super().clean()
        except ValidationError:
            throttle.note_failure(name, address, now=now)
            raise
        if self.user_cache is not None:
            throttle.forget(name, address)
        return cleaned


def _too_many(waits_until: datetime, now: datetime) -> str:
    minutes = max(1, round((waits_until - now).total_seconds() / 60))
    return (
        f"Too many tries with this name. Wait {minutes} minute{'s' if minutes > 1 else ''}, then try again. "
        "If the password is lost, a maker can give you a new link."
    )


class PasswordForm(PlainWords, forms.Form):
    """A new password, typed twice."""

    password = _password_field("Password", "new-password")
    again = _password_field("The same password again", "new-password")

    def __init__(self, *args: Any, person: User | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person
        self.fields["password"].help_text = " ".join(password_validators_help_texts())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        password, again = cleaned.get("password"), cleaned.get("again")
        if password and again and password != again:
            self.add_error("again", "The two passwords differ. Type the same one twice.")
        elif password:
            try:
                validate_password(password, self.person or User(username=cleaned.get("name", "")))
            except ValidationError as error:
                self.add_error("password", error)
        return cleaned


class FirstEntryForm(PasswordForm):
    """The first maker: a name and a password."""

    name = NameField(
        label="Your name",
        help_text="You sign in with it, and it stands beside what you do.",
        widget=forms.TextInput(attrs={"autocomplete": "username", "autofocus": True}),
    )
    field_order = ["name", "password", "again"]


class OwnPasswordForm(PasswordForm):
    """Changing one's own password needs the old one."""

    old = _password_field("The password you have now", "current-password")
    field_order = ["old", "password", "again"]

    def clean_old(self) -> str:
        old: str = self.cleaned_data["old"]
        if self.person is None or not self.person.check_password(old):
            raise ValidationError("This is not the password you have now.")
        return old


class NewPersonForm(PlainWords, forms.Form):
    """Somebody who joins the workroom."""

    name = NameField(widget=forms.TextInput(attrs={"autocomplete": "off"}))
    role = forms.ChoiceField(
        label="Works as",
        choices=[("helper", "helper – cuts and sews"), ("maker", "maker – runs the workroom")],
        initial="helper",
        widget=forms.RadioSelect,
    )

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if person_called(name) is not None:
            raise ValidationError("Somebody has this name already.")
        return name
