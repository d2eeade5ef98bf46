"""What other rooms may want to hear of, and to say something about, without being known here."""

from __future__ import annotations

from typing import Any

from django.dispatch import Signal

#: A roll was counted, cloth taken or cut off it, or a flaw noted; `roll` is the Roll. Receivers return sentences as for
#: the workroom.
roll_changed = Signal()
#: A cloth was changed; `fabric` is the Fabric as it is now. Receivers return sentences as for the workroom.
cloth_saved = Signal()
#: The width of a roll was put right; `roll` is the Roll, read with its cloth. Receivers return sentences too.
roll_width_changed = Signal()
#: The workroom was saved; `room` is the Workroom. Receivers return sentences to be told to whoever saved it.
workroom_saved = Signal()


def said_of(room: Any) -> list[str]:
    """What the other rooms say of the workroom as it was just saved."""
    return [text for _, texts in workroom_saved.send(sender=type(room), room=room) for text in texts or ()]


def said_of_roll(roll: Any) -> list[str]:
    """What the other rooms say of a roll with what is left on it now."""
    return [text for _, texts in roll_changed.send(sender=type(roll), roll=roll) for text in texts or ()]


def said_of_cloth(fabric: Any) -> list[str]:
    """What the other rooms say of a cloth as it was just saved."""
    return [text for _, texts in cloth_saved.send(sender=type(fabric), fabric=fabric) for text in texts or ()]


def said_of_width(roll: Any) -> list[str]:
    """What the other rooms say of a roll with the width it has now."""
    return [
        text for _, texts in roll_width_changed.send(sender=type(roll), roll=roll) for text in texts or ()
    ]
