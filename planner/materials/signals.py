"""What other rooms may want to hear of, and to say something about, without being known here."""

from __future__ import annotations

from typing import Any

from django.dispatch import Signal

#: The workroom was saved; `room` is the Workroom. Receivers return sentences to be told to whoever saved it.
workroom_saved = Signal()


def said_of(room: Any) -> list[str]:
    """What the other rooms say of the workroom as it was just saved."""
    return [text for _, texts in workroom_saved.send(sender=type(room), room=room) for text in texts or ()]
