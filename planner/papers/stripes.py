"""What a cutter has to see to on cloth with stripes or checks, in words for papers and screens."""

from __future__ import annotations

from collections.abc import Sequence

from planner.core.lays.matched import Stripes
from planner.core.listed import listed
from planner.papers import amounts
from planner.papers.data import LayPaper

#: The lay is made for this repeat, and cloth is rarely what it is said to be.
MEASURE = "Measure the repeat on the cloth itself before cutting: the lay is made for this one."
#: Why a ply is that much longer than its marker (common practice), where several lie on one another and where one does.
NEXT = (
    "Every ply is counted one repeat longer, as is usual, for the next one begins at the same stripe; what it does not"
    " take stays on the roll."
)
ALONE = (
    "Its ply is counted one repeat longer, as is usual, so that it may begin at any stripe; what it does not take stays"
    " on the roll."
)
PINNED = "In two layers the upper one is matched: pin the lower to it, stripe on stripe."


def lay_stripes_in_words(lay: LayPaper, *, imperial: bool = False) -> str:
    """The same of a lay on paper."""
    plies = sum(count for _, count in lay.plies)
    return stripes_in_words(lay.stripes, lay.mode, plies, imperial=imperial) if lay.stripes else ""


def stripes_in_words(stripes: Stripes, mode: str, spreads: int, *, imperial: bool = False) -> str:
    """ "Striped, repeat 6 cm along: stripe on stripe in every ply. Matched at: side (front, back). Measure …" """
    both = stripes.along_mm > 0 and stripes.across_mm > 0
    words = (
        f"{'Striped or checked' if both else 'Striped'}, repeat {repeat_in_words(stripes, imperial=imperial)}"
    )
    if stripes.matched and (spreads > 1 or mode != "open"):
        words += ": stripe on stripe in every ply"
    begins = ""
    if stripes.matched and stripes.along_mm:
        begins = NEXT if spreads > 1 or mode == "face_to_face" else ALONE
    seams = "; ".join(f"{seam} ({', '.join(pieces)})" for seam, pieces in stripes.matched)
    matched = f"Matched at: {seams}." if seams else "No seam of these pieces is marked for it to run on over."
    pinned, now = PINNED if mode != "open" else "", _changed(stripes, imperial=imperial)
    return " ".join(filter(None, (f"{words}.", begins, matched, pinned, now or MEASURE)))


def _changed(stripes: Stripes, *, imperial: bool) -> str:
    """What to do where the cloth does not have the repeat any more that the lay is made for; "" where it has."""
    if stripes.now is None:
        return ""
    now = lengths_in_words(*stripes.now, imperial=imperial)
    repeat = f"a repeat of {now}" if now else "no repeat"
    return f"By now the cloth is noted with {repeat}: have the lay planned anew before it is cut."


def repeat_in_words(stripes: Stripes, *, imperial: bool = False) -> str:
    """ "6 cm along and 4 cm across", "5.7 cm along once washed"."""
    repeat = lengths_in_words(stripes.along_mm, stripes.across_mm, imperial=imperial)
    return f"{repeat} once washed" if stripes.is_washed else repeat


def lengths_in_words(along_mm: float, across_mm: float, *, imperial: bool = False) -> str:
    """ "6 cm along and 4 cm across"; "" for none."""
    ways = ((along_mm, "along"), (across_mm, "across"))
    return listed([f"{amounts.length(mm, imperial=imperial)} {way}" for mm, way in ways if mm > 0])


def repeats_to_measure(lays: Sequence[LayPaper], *, imperial: bool = False) -> tuple[str, ...]:
    """ "Measure the repeat of striped jersey on the cloth itself: its lays are made for 6 cm along." """
    told = {
        (lay.fabric, repeat_in_words(lay.stripes, imperial=imperial)): None
        for lay in lays
        if lay.stripes and not lay.is_cut
    }
    return tuple(
        f"Measure the repeat of {fabric} on the cloth itself: its lays are made for {repeat}."
        for fabric, repeat in told
    )
