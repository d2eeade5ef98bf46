"""What comes of an action: it is done, refused, or asks first."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Done:
    """It is done; `text` says what."""

    text: str


@dataclass(frozen=True)
class Refused:
    """It was not done and nothing changed; `text` says why and what to do instead."""

    text: str


@dataclass(frozen=True)
class Asks:
    """It was not done yet: it would throw something away, named in `text`, and wants to be told so again."""

    text: str
