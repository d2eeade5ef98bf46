"""Words of a pattern file: `Key: value` texts, sizes, quantities, and what remarks may mean."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from planner.core.pattern_files.model import Units

METRIC_WORDS = frozenset({"metric", "mm", "millimeter", "millimeters", "millimetre", "millimetres"})
ENGLISH_WORDS = frozenset({"english", "imperial", "in", "inch", "inches", '"'})
#: A garment has no more of one piece than this.
MOST_OF_ONE_PIECE = 200

_RULE = re.compile(r"#\s*(\d{1,6})\b")
_TIMES_N = re.compile(r"(?:^|[\s,;])[x×*]\s*(\d{1,3})(?!\w)", re.IGNORECASE)
_N_TIMES = re.compile(r"(?<![\w.,])(\d{1,3})\s*[x×*]\s*([^\W\d_][^\W\d_ .-]*)?(?!\d)", re.IGNORECASE)
_CUT_N = re.compile(r"\bcut\s+(\d{1,3})\b|\b(\d{1,3})\s*(?:pcs?|pieces?)\b", re.IGNORECASE)
_PAIRS = re.compile(r"(?:\b(\d{1,3})\s*)?\bpairs?\b", re.IGNORECASE)
_LETTER_SIZE = re.compile(r"\d+\s*x{1,3}\s*(?:[sl]t?)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Guess:
    """What a remark may say about how often a piece is cut, and from which cloth."""

    count: int | None = None
    pair: bool | None = None
    role: str = ""
    remark: str = ""


def key_and_value(text: str) -> tuple[str, str] | None:
    """`Piece Name: FRONT` as ("piece name", "FRONT"); None for any other text."""
    key, colon, value = text.partition(":")
    if not colon or not key.strip():
        return None
    return " ".join(key.replace("_", " ").split()).lower(), value.strip()


def keyed(texts: Iterable[str]) -> dict[str, list[str]]:
    """All `Key: value` texts by key; a key may stand there more than once."""
    found: dict[str, list[str]] = {}
    for text in texts:
        pair = key_and_value(text)
        if pair:
            found.setdefault(pair[0], []).append(pair[1])
    return found


def first_of(found: dict[str, list[str]], *keys: str) -> str:
    """The first value that is not empty under one of these keys, the keys in order."""
    return next((value for key in keys for value in found.get(key, ()) if value), "")


def rule_number(text: str) -> int | None:
    """The number of the grade rule in `# 12`; None for any other text."""
    match = _RULE.match(text.strip())
    return int(match[1]) if match else None


def units_of(value: str) -> Units | None:
    """Units as a file states them; None where it states none that is known."""
    word = value.strip().strip(".").lower()
    if word in METRIC_WORDS:
        return "METRIC"
    return "ENGLISH" if word in ENGLISH_WORDS else None


def quantity_of(value: str) -> tuple[int, bool | None] | None:
    """`2` as (2, None), `1,1` (one right and one left) as (2, True); None where it is neither."""
    match = re.fullmatch(r"\s*(\d{1,4})(?:\.0*)?(?:\s*[,;/+]\s*(\d{1,4}))?\s*", value)
    if not match:
        return None
    right, left = int(match[1]), int(match[2] or 0)
    count = right + left
    if not 0 < count <= MOST_OF_ONE_PIECE:
        return None
    if match[2] is None:
        return count, None
    return count, right == left


def guess_from(remarks: Sequence[str]) -> Guess:
    """A guess from `Annotation` or `Category`: `2XFABRIC`, `1XRIB`, `10 X1`, `CUT 1 PAIR`; to be confirmed.

    Where the number stands behind the sign (`10 X1`) the one before it is taken for the piece's own number.
    """
    for remark in remarks:
        guess = _guess(remark)
        if guess:
            return guess
    return Guess()


def _guess(remark: str) -> Guess | None:
    text = _LETTER_SIZE.sub(" ", remark)  # 2XL is a size, not two of L
    pairs = _PAIRS.search(text)
    if pairs:
        return _sensible(2 * int(pairs[1] or 1), "", remark, pair=True)
    behind = _TIMES_N.search(text)
    if behind:
        return _sensible(int(behind[1]), "", remark)
    before = _N_TIMES.search(text)
    if before:
        return _sensible(int(before[1]), (before[2] or "").lower(), remark)
    cut = _CUT_N.search(text)
    if cut:
        return _sensible(int(cut[1] or cut[2]), "", remark)
    return None


def _sensible(count: int, role: str, remark: str, *, pair: bool | None = None) -> Guess | None:
    return Guess(count, pair, role, remark) if 0 < count <= MOST_OF_ONE_PIECE else None
