"""How much cloth lies on the table and how often it is spread, in the same words on papers, pages and forms.

A ply is one layer of cloth. Face to face two of them lie as a pair, spread one after the other; folded (or a tube) two
lie in each length, spread at once.
"""

from __future__ import annotations

from planner.core.lays.model import LAYERS, LENGTHS

#: What one spread of a lay is called, by its mode: one, several.
SPREADS = {
    "open": ("ply", "plies"),
    "face_to_face": ("pair of plies", "pairs of plies"),
    "folded": ("folded length", "folded lengths"),
}
_OFTEN = {1: "once", 2: "twice"}


def spreads_in_words(count: int, mode: str) -> str:
    """ "1 ply", "3 pairs of plies"."""
    return f"{count} {SPREADS[mode][count != 1]}"


def spread_of_colour(count: int, colour: str, mode: str) -> str:
    """What is spread of a colour: "2 × ink", "3 pairs of plies of ink", "1 folded length of ink"."""
    return f"{count} × {colour}" if mode == "open" else f"{spreads_in_words(count, mode)} of {colour}"


def layers_in_words(count: int, mode: str) -> str:
    """ "In all 2 plies, in 1 pair: the cloth is spread twice."; "" for open lays: there a spread is a ply."""
    if mode == "open" or not count:
        return ""
    plies, times = count * LAYERS[mode], count * LENGTHS[mode]  # type: ignore[index]
    lie = (
        f"in {count} {'pair' if count == 1 else 'pairs'}" if mode == "face_to_face" else "two in each length"
    )
    return f"In all {plies} plies, {lie}: the cloth is spread {_OFTEN.get(times, f'{times} times')}."


def lengths_in_words(spreads: int, mode: str) -> str:
    """The lengths of cloth that spreads take: "6 plies" of three pairs, "3 lengths" of three that are folded."""
    count = spreads * LENGTHS[mode]  # type: ignore[index]
    one, several = ("length", "lengths") if mode == "folded" else ("ply", "plies")
    return f"{count} {one if count == 1 else several}"
