"""Finding a bundle by what somebody types off its ticket."""

from __future__ import annotations

import re

from planner.cutting.models import Bundle


def find_bundle(typed: str) -> Bundle | None:
    """The bundle of a number as it is printed, or short: "B-0007-03", "b 7 3", "7-3", "7-3b". At most two queries."""
    typed = typed.strip()[:40]
    if not typed:
        return None
    exact = Bundle.objects.filter(number__iexact=typed).first()
    if exact is not None:
        return exact
    figures = re.fullmatch(
        r"(?:b[\s\-]*)?(\d{1,9})[\s\-/]+(\d{1,9})([a-z]{0,2})", typed, re.IGNORECASE | re.ASCII
    )
    if figures is None:
        return None
    batch, bundle, letter = figures.groups()
    return Bundle.objects.filter(number=f"B-{int(batch):04d}-{int(bundle):02d}{letter.lower()}").first()
