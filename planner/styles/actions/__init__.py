"""What makers do to styles: one function, one transaction, one result."""

from planner.styles.actions.files import (
    NewSizes,
    NewStyle,
    Taken,
    TakenPiece,
    Taking,
    already_taken,
    hold_file,
    last_answers,
    take_over,
    throw_away,
    waiting_files,
)
from planner.styles.actions.outlines import drop_outline, keep_outlines
from planner.styles.actions.parts import drop_part, move_part, next_position, reason_to_keep
from planner.styles.actions.results import Asks, Done, Refused
from planner.styles.actions.seams import ConfirmedStep, make_proposed
from planner.styles.actions.sizes import change_sizes
from planner.styles.actions.styles import copy_style, new_style, set_retired

__all__ = [
    "Asks",
    "ConfirmedStep",
    "Done",
    "NewSizes",
    "NewStyle",
    "Refused",
    "Taken",
    "TakenPiece",
    "Taking",
    "already_taken",
    "change_sizes",
    "copy_style",
    "drop_outline",
    "drop_part",
    "hold_file",
    "keep_outlines",
    "last_answers",
    "make_proposed",
    "move_part",
    "new_style",
    "next_position",
    "reason_to_keep",
    "set_retired",
    "take_over",
    "throw_away",
    "waiting_files",
]
