"""Thread measured on the maker's own machine: a length of seam is unpicked and every thread measured.

Ratios are thread length per length of seam, for each position and in all. Lengths are mm.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.core.notions.stitches import place_word, threads_at
from planner.core.notions.thread import ratio_from_unpicked
from planner.core.spec import Position
from planner.core.too_wide import measure_in_words
from planner.core.units import Display, format_length

#: A length that is easy to sew, cut out and unpick (that of the published worked example).
USUAL_SEAM_MM = 150.0
#: On less, a thread end is a tenth of the result; more than this nobody unpicks.
SHORTEST_SEAM_MM, LONGEST_SEAM_MM = 30.0, 3000.0
#: A thread lies in its seam at least once along it; knits give a little when the thread is out.
LEAST_OF_A_THREAD = 0.9
#: No thread of any stitch type is anywhere near so long; it is a slip of the unit.
MOST_OF_A_THREAD = 30.0


@dataclass(frozen=True, slots=True)
class UnpickedProblem:
    """What is wrong with a length that was typed; `where` is a position or "seam"."""

    where: Position | str
    text: str


@dataclass(frozen=True, slots=True)
class Measured:
    """What unpicking gave: the ratio at each position, and in all."""

    ratios: Mapping[Position, float]
    ratio: float


def unpicked_problems(
    number: str, seam_mm: float, threads_mm: Mapping[Position, float], display: Display = "metric"
) -> tuple[UnpickedProblem, ...]:
    """What cannot be right in lengths unpicked from a seam of this stitch type.

    `threads_mm` holds for each position the length of all its threads together.
    """
    if not SHORTEST_SEAM_MM <= seam_mm <= LONGEST_SEAM_MM:
        return (UnpickedProblem("seam", _good_length(display)),)
    found = []
    for place, count in threads_at(number).items():
        length = threads_mm.get(place)
        if length is None:
            continue
        least, most = (count * share * seam_mm for share in (LEAST_OF_A_THREAD, MOST_OF_A_THREAD))
        if length < least:
            runs = "is" if count == 1 else f"is {count} times"
            found.append(
                UnpickedProblem(
                    place,
                    f"Too short: {_threads(number, place, count)} {runs} as long as the seam at the very "
                    f"least, {measure_in_words(count * seam_mm, display)} here.",
                )
            )
        elif length > most:
            found.append(
                UnpickedProblem(
                    place,
                    f"That is {length / seam_mm:.0f} times the seam. No stitch takes so much: is the unit right?",
                )
            )
    return tuple(found)


def _good_length(display: Display) -> str:
    least = measure_in_words(SHORTEST_SEAM_MM, display, at_least=True)
    if display == "metric":
        most, good = f"{LONGEST_SEAM_MM / 1000:.0f} m", f"{USUAL_SEAM_MM / 10:.0f} cm"
    else:
        most, good = format_length(LONGEST_SEAM_MM, display), format_length(USUAL_SEAM_MM, display, "small")
    return f"Unpick between {least} and {most} of seam; {good} is a good length."


def _threads(number: str, place: Position, count: int) -> str:
    """ "the looper thread", "the needle thread of all 2 together"."""
    word = "cover thread" if place == "cover" else f"{place_word(number, place)} thread"
    return f"the {word}" if count == 1 else f"the {word} of all {count} together"


def measured(number: str, seam_mm: float, threads_mm: Mapping[Position, float]) -> Measured:
    """Ratios of what was unpicked: length at a position / length of seam, their sum in all.

    Raises ValueError where a position of the stitch type was not measured or a length is not above zero.
    """
    places = threads_at(number)
    if set(places) - set(threads_mm):
        raise ValueError(f"stitch type {number} has threads that were not measured")
    lengths = [threads_mm[place] for place in places]
    whole = ratio_from_unpicked(seam_mm, lengths)
    return Measured({place: threads_mm[place] / seam_mm for place in places}, whole)
