"""What every rule over a style returns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong with a style, said by `str`."""

    stops: ClassVar[bool] = True
    section: ClassVar[str] = "pieces"
