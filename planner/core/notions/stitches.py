"""Which machine makes which stitch types of ISO 4915, and where their threads run on it.

Rooms share these rules: the workroom's own machines in one, the steps of a style in another.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from types import MappingProxyType

from planner.core.notions.thread import STITCH_TYPES
from planner.core.spec import Position

#: What a machine or a place of work is called in a sentence: on an overlock, on an iron, by hand.
KIND_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "sewing machine": "a sewing machine",
        "overlock": "an overlock",
        "coverstitch": "a coverstitch machine",
        "other": "another machine",
        "iron": "an iron",
        "hand": "hand work",
    }
)

#: Which machine sews which stitch types of ISO 4915 (common practice).
STITCHES: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "sewing machine": frozenset({"101", "301", "304", "401"}),
        "overlock": frozenset({"401", "503", "504", "514", "516"}),
        "coverstitch": frozenset({"101", "401", "406", "407", "602", "605", "607"}),
        "iron": frozenset(),
        "hand": frozenset(),
    }
)
#: A machine of no usual kind may make any of them.
ANY_STITCH: frozenset[str] = frozenset().union(*STITCHES.values())


def made_by(kind: str) -> frozenset[str]:
    """The stitch types that machines of a kind make; nothing for an iron or by hand."""
    return ANY_STITCH if kind == "other" else STITCHES.get(kind, frozenset())


def stitch_name(number: str) -> str:
    """A stitch type with its name: "504 three-thread overedge"; the bare number where it has none."""
    known = STITCH_TYPES.get(number)
    return f"{number} {known.name}" if known else number


def whole_name(kind: str) -> str:
    """The kind of machine as it stands in a sentence."""
    return KIND_WORDS.get(kind, kind)


def makers_of(number: str) -> tuple[str, ...]:
    """The usual kinds of machine that make a stitch type."""
    return tuple(kind for kind, made in STITCHES.items() if number in made)


def why_not(kind: str, number: str) -> str:
    """Why a machine of this kind does not make a stitch type, or "" where it does."""
    made = made_by(kind)
    if number in made:
        return ""
    if not made:
        return f"No stitch is sewn with {whole_name(kind)}: choose none."
    who = " or ".join(whole_name(maker) for maker in makers_of(number))
    return f"{stitch_name(number)} is not made by {whole_name(kind)}" + (f", but by {who}." if who else ".")


def why_not_this(name: str, noted: Collection[str], number: str) -> str:
    """Why one of the workroom's own machines does not make a stitch type; "" where it does or none are noted."""
    if not noted or number in noted:
        return ""
    made = ", ".join(sorted(noted))
    return f"{name} is noted as making {made}, not {number}. Note {number} at the machine, or take another."


#: Threads of a stitch type at the needles, at the loopers (or the bobbin) and as cover thread on top: how many
#: run at each, from memory of the standard.
_THREADS_AT: Mapping[str, tuple[int, int, int]] = MappingProxyType(
    {
        "101": (1, 0, 0),
        "301": (1, 1, 0),
        "304": (1, 1, 0),
        "401": (1, 1, 0),
        "406": (2, 1, 0),
        "407": (3, 1, 0),
        "503": (1, 1, 0),
        "504": (1, 2, 0),
        "512": (2, 2, 0),
        "514": (2, 2, 0),
        "516": (2, 3, 0),
        "602": (2, 1, 1),
        "605": (3, 1, 1),
        "607": (4, 1, 1),
    }
)
_POSITIONS: tuple[Position, ...] = ("needle", "looper", "cover")


def threads_at(number: str) -> dict[Position, int]:
    """How many threads run at each position of a stitch type; positions without any are left out.

    Raises KeyError for an unknown stitch type.
    """
    return {place: count for place, count in zip(_POSITIONS, _THREADS_AT[number], strict=True) if count}


def place_word(number: str, place: Position, count: int = 1) -> str:
    """What a position is called on the machine: needle, looper, bobbin (of a lockstitch), cover thread."""
    word: str = place
    if place == "looper" and number in {"301", "304"}:
        word = "bobbin"
    elif place == "cover":
        word = "cover thread"
    return word if count == 1 else f"{word}s"


def threads_in_words(number: str) -> str:
    """The threads of a stitch type: "1 needle, 2 loopers"."""
    return ", ".join(
        f"{count} {place_word(number, place, count)}" for place, count in threads_at(number).items()
    )
