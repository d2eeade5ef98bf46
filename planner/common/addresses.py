"""Where the addresses lead that are printed or handed out."""

from __future__ import annotations

from django.conf import settings


def only_on_this_computer() -> bool:
    """Whether a phone cannot open them, as Notchbook was started without letting the network in."""
    return "//127.0.0.1" in settings.BASE_URL
