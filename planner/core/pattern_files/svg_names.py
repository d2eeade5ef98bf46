"""What names in a drawing say: which are a person's own, which tell a size, which say what a line is.

Names that programs give by themselves ("g12", "Layer 1", "path3") count as none. A name that is a size alone ("M",
"size 38") gives the size; else a name that ends in one ("front_M", "front-38", "front 2XL") is taken apart. A number
of one digit is a size only where it stands alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

AUTOMATIC = re.compile(
    r"(layer|group|g|path|svg|rect|polygon|polyline|ellipse|circle|line|use|symbol|object|shape|outline|piece)?"
    r"[\s_.-]*\d*(-\d+)*",
    re.IGNORECASE,
)
LETTERS = r"(?:X{0,5}[SL]|M|\d{1,2}X[SL]|X{0,3}[SML][/-]X{0,3}[SML])"
SIZE_ALONE = re.compile(rf"(?:size[\s_.:-]*)?({LETTERS}|\d{{1,3}}(?:[/-]\d{{1,3}})?)", re.IGNORECASE)
SIZE_AT_END = re.compile(
    rf"(.*?\S)[\s_.-]+(?:size[\s_.:-]*)?({LETTERS}|\d{{2,3}}(?:[/-]\d{{2,3}})?)", re.IGNORECASE
)


#: What the name of a line or layer says about it.
ANYWHERE = {"grain": "grain", "mirror": "fold", "notch": "notch", "internal": "internal"}
AS_WORD = {"fold": "fold", "foldline": "fold", "sew": "sew", "sewing": "sew", "sewline": "sew"}
#: Words of pieces, not of marks: a notched collar, a sew-on pocket.
NO_MARK = re.compile(r"notched|sew(?:ed|n)?[\s_-]*(?:on|in|down)\b")
#: Words in the name of a line drawn in a piece that say no more than that it is one.
LINE_WORDS = frozenset(
    {"internal", "internals", "inner", "line", "lines", "mark", "marks", "marking", "markings", "layer", "path",
     "stitch", "stitching", "topstitching", "placement", "detail", "details", ""}
)  # fmt: skip


def says_more_than_a_line(label: str) -> bool:
    """Whether the name of an internal line may be that of a piece ("internal facing") as well."""
    return not LINE_WORDS.issuperset(re.split(r"[^a-z]+", label.lower()))


def is_name(label: str) -> bool:
    """Whether a label is a name or size that somebody gave, not one that a program made up."""
    return bool(label) and (SIZE_ALONE.fullmatch(label) is not None or not AUTOMATIC.fullmatch(label))


def name_and_size(labels: Iterable[str]) -> tuple[str, str]:
    """Name and size from the names of groups and line, from outside inwards; "" for what none of them says."""
    size, names = "", []
    for label in labels:
        if match := SIZE_ALONE.fullmatch(label.strip()):
            size = match[1].upper()
        elif label:
            names.append(label.strip())
    if not names:
        return "", size
    if not size and (match := SIZE_AT_END.fullmatch(names[-1])):
        return match[1].rstrip(" _.-"), match[2].upper()
    if size and (match := SIZE_AT_END.fullmatch(names[-1])) and match[2].upper() == size:
        return match[1].rstrip(" _.-"), size
    return names[-1], size


def part_of(label: str, *, closed: bool) -> str:
    """What a label says a line is; "" where it says nothing. A closed line is never a fold."""
    plain = NO_MARK.sub(" ", label.lower())
    words = set(re.split(r"[^a-z]+", plain))
    found = [part for word, part in ANYWHERE.items() if word in plain]
    found += [part for word, part in AS_WORD.items() if word in words]
    return next((part for part in found if not (closed and part == "fold")), "")
