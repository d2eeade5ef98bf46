"""How much cloth lies on the table and how often it is spread, in the same words on papers, pages and forms.

A ply is one layer of cloth. Face to face two of them lie as a pair, spread one after the other; folded two lie in each
length, spread at once, and so they do in a tube, which nobody folds. How a lay is spread is therefore told by its way:
its mode, or "tube".
"""

from __future__ import annotations

from planner.core.lays.model import LAYERS, LENGTHS

TUBE = "tube"
#: What one spread of a lay is called, by its way: one, several.
SPREADS = {
    "open": ("ply", "plies"),
    "face_to_face": ("pair of plies", "pairs of plies"),
    "folded": ("folded length", "folded lengths"),
    TUBE: ("tube length", "tube lengths"),
}
_OFTEN = {1: "once", 2: "twice"}


def way_of(mode: str, *, is_tube: bool) -> str:
    """The way of a lay in this mode, of cloth that is a tube or not."""
    return TUBE if is_tube and mode == "folded" else mode


def spreads_in_words(count: int, way: str) -> str:
    """ "1 ply", "3 pairs of plies"."""
    return f"{count} {SPREADS[way][count != 1]}"


def spread_of_colour(count: int, colour: str, way: str) -> str:
    """What is spread of a colour: "2 × ink", "3 pairs of plies of ink", "1 folded length of ink"."""
    return f"{count} × {colour}" if way == "open" else f"{spreads_in_words(count, way)} of {colour}"


def layers_in_words(count: int, way: str) -> str:
    """ "In all 2 plies, in 1 pair: the cloth is spread twice."; "" for open lays: there a spread is a ply."""
    if way == "open" or not count:
        return ""
    mode = "folded" if way == TUBE else way
    plies, times = count * LAYERS[mode], count * LENGTHS[mode]  # type: ignore[index]
    lie = f"in {count} {'pair' if count == 1 else 'pairs'}" if way == "face_to_face" else "two in each length"
    return f"In all {plies} plies, {lie}: the cloth is spread {_OFTEN.get(times, f'{times} times')}."


def lengths_in_words(spreads: int, mode: str) -> str:
    """The lengths of cloth that spreads take: "6 plies" of three pairs, "3 lengths" of three that are folded."""
    count = spreads * LENGTHS[mode]  # type: ignore[index]
    one, several = ("length", "lengths") if mode == "folded" else ("ply", "plies")
    return f"{count} {one if count == 1 else several}"


def edges_in_words(mode: str, *, is_tube: bool) -> tuple[str, str]:
    """What the upper and the lower edge of a drawn lay are: a cutter must not take a fold for a selvedge.

    A tube that is laid open was slit before: where it was cut it has no selvedge.
    """
    if mode == "folded":
        return ("fold", "fold") if is_tube else ("selvedges", "fold")
    if is_tube:
        return "slit edge", "slit edge"
    return ("selvedges", "selvedges") if mode == "face_to_face" else ("selvedge", "selvedge")


def is_selvedge(edge: str) -> bool:
    """Whether an edge is drawn as a double line."""
    return edge.startswith("selvedge")
