"""What other rooms may want to hear of a style, and to say something about, without being known here."""

from __future__ import annotations

from typing import Any

from django.dispatch import Signal

#: Pieces, outlines or what they hang on were changed; `style` is the Style. Receivers return sentences to be told to
#: whoever changed it.
style_changed = Signal()


def said_of_style(style: Any) -> list[str]:
    """What the other rooms say of a style as it was just changed."""
    return [text for _, texts in style_changed.send(sender=type(style), style=style) for text in texts or ()]
