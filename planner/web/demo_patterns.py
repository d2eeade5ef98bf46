"""The pieces of the demo, read from the pattern files of the fixtures by the same readers as everybody's."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from django.conf import settings

from planner.core.pattern_files.model import ReadPiece
from planner.core.pattern_files.read import read_pattern

PATTERNS = settings.BASE_DIR / "fixtures" / "patterns"


def read_pieces(name: str, folder: Path = PATTERNS) -> Mapping[str, Mapping[str, ReadPiece]]:
    """The pieces of a pattern file of the demo: by name, then by size."""
    return _read(name, (folder / name).read_bytes())


@lru_cache(maxsize=8)
def _read(name: str, content: bytes) -> Mapping[str, Mapping[str, ReadPiece]]:
    """The same bytes are read once: the demo may be loaded again and again, by tests most of all."""
    pattern = read_pattern(content, name=name)
    return {piece: pattern.of(piece) for piece in pattern.piece_names()}
