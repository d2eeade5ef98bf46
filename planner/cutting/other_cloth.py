"""Lays that a cloth is no longer made for: narrower than they are, with another pattern, or to be laid otherwise."""

from __future__ import annotations

from planner.core.cloth import as_cut, repeats_mm
from planner.core.lays.items import pieces_on
from planner.core.lays.matched import SAME_MM
from planner.core.lays.model import PlannedLay
from planner.core.spec import Workshop
from planner.cutting.narrow_cloth import any_wider


def why_unlike_cloth(lay: PlannedLay, shop: Workshop) -> str:
    """Why no more of a lay is to be cut as it is, "that is wider than the cloth is now"; "" where it may be.

    What a cloth leaves freer than it did, as pieces that may lie either way up now, speaks against no lay. No query.
    """
    cloth = shop.cloths[lay.cloths[0]]
    if any_wider([lay], shop.cloths):
        return "that is wider than the cloth is now"
    if lay.mode not in cloth.modes:
        return "the cloth is not to be laid so any more"
    if cloth.one_way and not lay.job.one_way:
        return "its pieces may lie either way up, and on the cloth all point the same way now"
    made_for = (lay.job.repeat_length_mm, lay.job.repeat_width_mm)
    if any(abs(then - now) >= SAME_MM for then, now in zip(made_for, repeats_mm(cloth), strict=True)):
        return "the pattern of the cloth comes again otherwise now"
    return _why_unlike_pieces(lay, shop)


def _why_unlike_pieces(lay: PlannedLay, shop: Workshop) -> str:
    """The same of its pieces: those of a batch are kept as planned, so only their cloth can make others of them."""
    plies = lay.plies[0]
    cloth = shop.cloths[plies.cloth]
    for item in lay.job.items:
        slot = plies.slots[item.garment_no - 1]
        for piece in pieces_on(slot, plies.cloth, shop):
            if piece.name != item.piece:
                continue
            if piece.beside_on(shades=cloth.shades) not in {"", item.beside}:
                return "the cloth shades, and its pieces do not lie side by side"
            now = as_cut(piece.cut_outline(slot.size, plies.cloth), cloth)
            sides = ((now.length_mm, item.outline.length_mm), (now.width_mm, item.outline.width_mm))
            if any(abs(one - other) >= SAME_MM for one, other in sides):
                return "its pieces are cut to another size now"
    return ""
