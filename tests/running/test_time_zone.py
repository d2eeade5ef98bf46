"""Today and the clock are those of the place where the workroom is."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
import tzlocal
from django.core.exceptions import ImproperlyConfigured

from planner.settings.time_zone import time_zone
from tests.running.conftest import ROOT

_TOLD = "from django.utils import timezone; print(timezone.localtime().utcoffset())"


def test_a_workroom_goes_by_the_clock_of_its_machine(tmp_path: Path) -> None:
    """Kolkata: five and a half hours from UTC on every day of the year (IANA time zone database)."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("NOTCHBOOK_")}
    own = {
        "TZ": "Asia/Kolkata",
        "NOTCHBOOK_DATA": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "planner.settings.local",
    }
    ran = subprocess.run(
        [sys.executable, "-c", _TOLD], env=kept | own, cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert ran.stdout == "5:30:00\n"


def test_another_place_can_be_named(monkeypatch: pytest.MonkeyPatch, subtests: pytest.Subtests) -> None:
    monkeypatch.setenv("NOTCHBOOK_TIME_ZONE", "Europe/Lisbon")
    assert time_zone() == "Europe/Lisbon"
    for wrong in ("Lisbon", "Europe", "../Lisbon", "+01:00"):
        with subtests.test(wrong):
            monkeypatch.setenv("NOTCHBOOK_TIME_ZONE", wrong)
            with pytest.raises(ImproperlyConfigured, match="Europe/Lisbon"):
                time_zone()


def test_a_machine_that_does_not_say_where_it_is_goes_by_utc(
    monkeypatch: pytest.MonkeyPatch, subtests: pytest.Subtests
) -> None:
    monkeypatch.delenv("NOTCHBOOK_TIME_ZONE", raising=False)

    def unsure() -> str:
        raise LookupError("two zones are named")

    for what, said in (("unsure", unsure), ("nothing", lambda: None), ("a place", lambda: "Somewhere/Else")):
        with subtests.test(what):
            monkeypatch.setattr(tzlocal, "get_localzone_name", said)
            assert time_zone() == "UTC"
