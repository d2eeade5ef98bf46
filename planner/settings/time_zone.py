"""Where the workroom is, by its clock: which day is today, and what stands beside what was done and printed."""

import os
import zoneinfo
from pathlib import Path

import tzlocal
from django.core.exceptions import ImproperlyConfigured

#: Where there is such a folder Django takes no zone that is not in it.
_SYSTEM = Path("/usr/share/zoneinfo")


def time_zone() -> str:
    """The name of the time zone that NOTCHBOOK_TIME_ZONE says, such as "Europe/Lisbon", else that of this machine.

    UTC where a machine does not say where it is. Raises ImproperlyConfigured for a name that no zone has.
    """
    wanted = os.environ.get("NOTCHBOOK_TIME_ZONE", "").strip()
    if not wanted:
        return _of_this_machine()
    if not _is_known(wanted):
        raise ImproperlyConfigured(
            f"NOTCHBOOK_TIME_ZONE: there is no time zone “{wanted[:60]}”. Its names are like Europe/Lisbon or UTC."
        )
    return wanted


def _of_this_machine() -> str:
    try:
        name = tzlocal.get_localzone_name()
    except (LookupError, OSError, ValueError):
        return "UTC"
    return name if name and _is_known(name) else "UTC"


def _is_known(name: str) -> bool:
    try:
        zoneinfo.ZoneInfo(name)
    except (LookupError, OSError, ValueError):
        return False
    return not _SYSTEM.exists() or (_SYSTEM / name).exists()
