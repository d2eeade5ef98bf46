"""The one door to all readers: bytes of a pattern file in, pieces and findings out."""

from __future__ import annotations

from typing import Literal

from planner.core.pattern_files.model import PatternFileError, ReadPattern


def read_pattern(
    content: bytes,
    *,
    name: str,
    rules: bytes | None = None,
    rules_name: str = "",
    units: Literal["mm", "in"] | None = None,
    mend: bool = False,
) -> ReadPattern:
    """Reads a DXF (with its grade rules, if any) or an SVG; what it is, is told from its content.

    `name` is the file's name, for messages. `units` is the maker's answer where the file does not say; it wins over
    the file, with a finding. Pieces with mends are only given with `mend`; without it a finding of the level "ask"
    stands in their place. Raises PatternFileError where nothing can be read.
    """
    raise PatternFileError(f"{name}: no reader takes this file yet")
