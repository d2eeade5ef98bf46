"""The one door to all readers: bytes of a pattern file in, pieces and findings out.

Each reader is imported when the first file of its kind comes: the library for DXF takes half a second to load, and
every page that may read a pattern file would wait for it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from shapely.errors import ShapelyError

from planner.core.pattern_files.grade_rules import looks_like_rules
from planner.core.pattern_files.model import MOST_BYTES, Finding, PatternFileError, ReadPattern

#: How files begin that are no drawing we read, and what to do about each.
PACKED = (
    b"PK\x03\x04",
    b"PK\x05\x06",
    b"\x1f\x8b",
    b"BZh",
    b"7z\xbc\xaf",
    b"Rar!",
    b"\xfd7zXZ",
    b"\x28\xb5\x2f\xfd",
)
PICTURES = (b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"II*\0", b"MM\0*", b"BM", b"RIFF", b"8BPS")
XML_STARTS = (b"<", b"\xff\xfe<\0", b"\xfe\xff\0<")


class NotUnderstoodError(PatternFileError):
    """A file that a library for drawings or geometry stumbled over; nothing we knew to look for was wrong with it."""


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
    for file_name, file in ((name, content), (rules_name or "the grade rules", rules)):
        if file is not None and len(file) > MOST_BYTES:
            raise PatternFileError(
                f"{file_name}: larger than {MOST_BYTES // 1_000_000} MB, which is more than is read"
            )
    head = content[:64].removeprefix(b"\xef\xbb\xbf").lstrip()
    is_svg = head.startswith(XML_STARTS)
    if not is_svg:
        _refuse_others(content, name)
    try:
        if is_svg:
            from planner.core.pattern_files.svg import read_svg

            pattern = read_svg(content, name=name, units=units, mend=mend)
            if rules is not None:
                text = f"{rules_name or 'the grade rules'}: an SVG has no points that rules could move"
                pattern = _with(pattern, Finding("rules", "ignored", "", "", text))
        else:
            pattern = _read_dxf(content, name, rules, rules_name, units, mend=mend)
    except PatternFileError:
        raise
    # The last resort: whatever a damaged file makes the libraries for drawings and geometry do, the caller gets the
    # one error it knows. Our own code refuses what it can tell before; the fuzz tests look at what is caught here.
    except (
        ValueError,
        ArithmeticError,
        LookupError,
        TypeError,
        AttributeError,
        RecursionError,
        MemoryError,
        ShapelyError,
    ) as fault:
        raise _not_understood(name) from fault
    return _say_extension(pattern, is_svg=is_svg, name=name)


def _read_dxf(
    content: bytes,
    name: str,
    rules: bytes | None,
    rules_name: str,
    units: Literal["mm", "in"] | None,
    *,
    mend: bool,
) -> ReadPattern:
    from ezdxf.lldxf.const import DXFError

    from planner.core.pattern_files.dxf import read_dxf

    try:
        return read_dxf(content, name=name, rules=rules, rules_name=rules_name, units=units, mend=mend)
    except DXFError as fault:
        raise _not_understood(name) from fault


def _not_understood(name: str) -> NotUnderstoodError:
    return NotUnderstoodError(f"{name}: the file is damaged in a way that is not understood")


def _refuse_others(content: bytes, name: str) -> None:
    """Raises PatternFileError, with what to do about it, for a file that is no DXF."""
    from planner.core.pattern_files.dxf_tags import looks_like_dxf

    if not content.strip():
        raise PatternFileError(f"{name}: the file is empty")
    if content.startswith(PACKED):
        raise PatternFileError(f"{name}: a packed file; unpack it first and choose the drawing inside")
    if content.startswith(b"%PDF"):
        raise PatternFileError(f"{name}: a PDF; export the pattern as DXF or SVG instead")
    if content.startswith(PICTURES):
        raise PatternFileError(f"{name}: a picture; a DXF or SVG drawing is needed")
    if b"Binary DXF" in content[:22]:
        raise PatternFileError(f"{name}: a binary DXF; export it as an ASCII (text) DXF")
    if content[:2] == b"AC" and content[2:6].isdigit():
        raise PatternFileError(f"{name}: a binary drawing; export it as an ASCII (text) DXF")
    if looks_like_dxf(content):
        if b"\0" in content:
            raise PatternFileError(f"{name}: the DXF file is damaged: it holds bytes that are no text")
        return
    if looks_like_rules(content):
        raise PatternFileError(
            f"{name}: a table of grade rules; choose the drawing (DXF) that it belongs to as well"
        )
    raise PatternFileError(f"{name}: neither a DXF nor an SVG drawing")


def _say_extension(pattern: ReadPattern, *, is_svg: bool, name: str) -> ReadPattern:
    """With a finding where the file's name says it is something else."""
    extension = name.rpartition(".")[2].lower() if "." in name else ""
    kind = "SVG" if is_svg else "DXF"
    if extension in ("", kind.lower()):
        return pattern
    text = f"the name ends with .{extension[:20]}, but it holds {kind}"
    return _with(pattern, Finding("extension", "assumed", "", "", text))


def _with(pattern: ReadPattern, finding: Finding) -> ReadPattern:
    return replace(pattern, findings=(*pattern.findings, finding))
