"""Elastic and tape cut to length for a size, in words, for whoever sews them in."""

from __future__ import annotations

from collections.abc import Collection

from planner.core.notions.along import SeamError, as_printed
from planner.core.notions.lengths import LengthAlong, length_along, lengths_along
from planner.core.spec import Garment, NotionUse, OperationSpec, StyleSpec
from planner.core.units import Display, format_length, plain_number
from planner.cutting.wording import THIN, named


def along_in_words(
    use: NotionUse,
    style: StyleSpec,
    garment: Garment,
    display: Display = "metric",
    bundle_of: int | None = None,
    counted: Collection[str] = (),
) -> str:
    """ "clear elastic 6 mm, along shoulder: 2 × 172 mm" for one garment with two shoulders.

    On the ticket of a bundle of so many, of which the steps say where: "6 × 172 mm clear elastic 6 mm". Without the
    lengths where the seam cannot be measured any more; "" where the garment has no such seam. What is counted in pieces
    (the names of such notions are `counted`) has no length: "2 × zip 20 cm, along placket".
    """
    words = f"{named(use.notion)}, along {use.seam}"
    try:
        found = length_along(use, style, garment)
    except SeamError:
        return words  # a style that has changed since does not say
    if found is None:
        return ""
    if use.notion.notion in counted:
        along = f", along {use.seam}" if bundle_of is None else ""
        return f"{found.count * (bundle_of or 1)} × {named(use.notion)}{along}"
    if bundle_of is not None:
        return f"{_in_words(found, bundle_of, display)} {named(use.notion)}"
    return f"{words}: {_in_words(found, 1, display)}"


def sewn_in(
    operation: OperationSpec,
    style: StyleSpec,
    garment: Garment,
    display: Display = "metric",
    counted: Collection[str] = (),
) -> str:
    """What one operation sews into each garment: "2 × 172 mm clear elastic 6 mm"; "" for nothing.

    Notions with a name among the `counted` have no length.
    """
    try:
        found = [one for one in lengths_along(style, garment) if one.seam.operation == operation.name]
    except SeamError:
        return ""
    return "; ".join(
        f"{one.count} × {named(one.use.notion)}"
        if one.use.notion.notion in counted
        else f"{_in_words(one, 1, display)} {named(one.use.notion)}"
        for one in found
    )


def _in_words(found: LengthAlong, garments: int, display: Display) -> str:
    """As the cut sheet has it: to a tenth of a millimetre, or in inches to the sixteenth."""
    if display == "imperial":
        each = format_length(found.length_mm, display, "small")
    else:
        each = f"{plain_number(as_printed(found.length_mm, 1))}{THIN}mm"
    return f"{found.count * garments} × {each}"
