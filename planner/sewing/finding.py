"""Finding a bundle by what somebody types off its ticket."""

from __future__ import annotations

import re

from planner.cutting.models import Bundle


def find_bundle(typed: str) -> Bundle | None:
    """The bundle of a number as it is printed, or short: "B-0007-03", "b 7 3", "7-3". At most two queries."""
    typed = typed.strip()[:40]
    if not typed:
        return None
    exact = Bundle.objects.filter(number__iexact=typed).first()
    if exact is not None:
        return exact
    figures = re.fullmatch(r"(?:b[\s\-]*)?(\d{1,9})[\s\-/]+(\d{1,9})", typed, re.IGNORECASE | re.ASCII)
    if figures is None:
        return None
    batch, bundle = (int(part) for part in figures.groups())
    return Bundle.objects.filter(number=f"B-{batch:04d}-{bundle:02d}").first()
