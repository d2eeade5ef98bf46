"""Grade rule tables (`.rul`) as ASTM D6673 has them: how far each numbered point moves in each size."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.core.outline import Point
from planner.core.pattern_files.model import PatternFileError, Units
from planner.core.pattern_files.texts import units_of
from planner.core.units import MM_PER_INCH

#: No table of a garment has more sizes or rules than this.
MOST_SIZES = 100
MOST_RULES = 20_000
#: No point moves further than this between two sizes of a garment (mm).
LARGEST_MOVE_MM = 5_000.0

_HEADER = re.compile(r"^\s*([A-Za-z][A-Za-z ]*?)\s*:\s*(.*)$")
_RULE = re.compile(r"^\s*RULE\s*:?\s*(?:DELTA)?\s*[:#]?\s*(\d{1,6})\b", re.IGNORECASE)
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")


@dataclass(frozen=True)
class GradeRules:
    """A table of grade rules in mm: for each rule and size how far its points move from the base size."""

    file_name: str
    table: str
    units: Units | None
    sizes: tuple[str, ...]
    sample_size: str
    moves: Mapping[int, Mapping[str, Point]]
    #: Plain sentences on what had to be assumed.
    assumed: tuple[str, ...] = ()


def looks_like_rules(content: bytes) -> bool:
    """True where a file begins as a table of grade rules."""
    head = content[:4_000].upper()
    return b"SIZE LIST" in head or re.search(rb"^\s*RULE\s*:?\s*DELTA", head, re.MULTILINE) is not None


def read_rules(content: bytes, *, name: str, scale: float | None, default_scale: float) -> GradeRules:
    """Reads a table of grade rules.

    `scale` is mm for one unit where the maker says so, `default_scale` where neither she nor the table does.
    Raises PatternFileError where it is none, is cut off or contradicts itself.
    """
    lines = content.decode("utf-8", "replace").lstrip("\ufeff").splitlines()
    if b"\0" in content or not looks_like_rules(content):
        raise PatternFileError(f"{name}: this is no table of grade rules")
    header, bodies, ended = _split(lines, name)
    sizes = _sizes(header, name)
    sample = header.get("SAMPLE SIZE", "")
    by_word = {size.casefold(): size for size in sizes}
    if sample.casefold() not in by_word:
        raise PatternFileError(f"{name}: the sample size “{sample[:40]}” is not in the list of sizes")
    sample = by_word[sample.casefold()]
    units = units_of(header.get("UNITS", ""))
    in_mm = scale or {"METRIC": 1.0, "ENGLISH": MM_PER_INCH}.get(units or "", default_scale)
    moves: dict[int, Mapping[str, Point]] = {}
    assumed: list[str] = [] if ended else ["the table does not end with END"]
    if units is None and scale is None:
        assumed.append("the table does not state its units; those of the drawing were taken")
    for number, text in bodies:
        move = _moves(text, number, sizes, sample, in_mm, name, assumed)
        if number in moves and moves[number] != move:
            raise PatternFileError(f"{name}: rule {number} stands there twice, with different moves")
        moves[number] = move
    return GradeRules(name, header.get("GRADE RULE TABLE", ""), units, sizes, sample, moves, tuple(assumed))


def _split(lines: Sequence[str], name: str) -> tuple[dict[str, str], list[tuple[int, str]], bool]:
    """The header by key, the rules with their text, and whether the end mark was there."""
    header: dict[str, str] = {}
    bodies: list[tuple[int, list[str]]] = []
    last_key = ""
    for line in lines:
        if line.strip().upper() == "END":
            return header, [(number, " ".join(body)) for number, body in bodies], True
        rule = _RULE.match(line)
        if rule:
            bodies.append((int(rule[1]), []))
            if len(bodies) > MOST_RULES:
                raise PatternFileError(f"{name}: more than {MOST_RULES:,} rules, which is more than is read")
        elif bodies:
            bodies[-1][1].append(line)
        elif head := _HEADER.match(line):
            last_key = " ".join(head[1].upper().split())
            header[last_key] = head[2].strip()
        elif last_key == "SIZE LIST" and line.strip():
            header[last_key] += f" {line.strip()}"  # a long list goes on in the next line
    return header, [(number, " ".join(body)) for number, body in bodies], False


def _sizes(header: Mapping[str, str], name: str) -> tuple[str, ...]:
    stated = header.get("SIZE LIST", "")
    # Sizes stand with blanks between, or with commas where their names hold blanks.
    for pattern in (r"\s+", r"\s*[,;]\s*", r"\t+|\s{2,}"):
        sizes = tuple(size.strip(" ,;") for size in re.split(pattern, stated) if size.strip(" ,;"))
        if str(len(sizes)) == header.get("NUMBER OF SIZES", str(len(sizes))).strip():
            break
    else:
        listed, said = len(stated.split()), header["NUMBER OF SIZES"][:20]
        raise PatternFileError(
            f"{name}: the list of sizes does not hold the number of sizes it says ({listed} listed, {said} said)"
        )
    if not sizes:
        raise PatternFileError(f"{name}: the table of grade rules lists no sizes")
    if len(sizes) > MOST_SIZES:
        raise PatternFileError(f"{name}: more than {MOST_SIZES} sizes, which is more than is read")
    if len({size.casefold() for size in sizes}) != len(sizes):
        raise PatternFileError(f"{name}: a size stands in the list of sizes twice")
    return sizes


def _moves(
    text: str,
    number: int,
    sizes: Sequence[str],
    sample: str,
    in_mm: float,
    name: str,
    assumed: list[str],
) -> Mapping[str, Point]:
    left_over = re.sub(r"[\s,;]", "", _NUMBER.sub("", text))
    values = [float(value) * in_mm for value in _NUMBER.findall(text)]
    if left_over:
        raise PatternFileError(f"{name}: rule {number} holds something that is no number")
    if len(values) != 2 * len(sizes):
        raise PatternFileError(
            f"{name}: rule {number} has {len(values)} numbers for {len(sizes)} sizes (two each): is the file cut off?"
        )
    if not all(math.isfinite(value) and abs(value) <= LARGEST_MOVE_MM for value in values):
        raise PatternFileError(f"{name}: rule {number} moves a point impossibly far")
    pairs = dict(zip(sizes, zip(values[0::2], values[1::2], strict=True), strict=True))
    base = pairs[sample]
    if math.hypot(*base) > 1e-9:
        assumed.append(f"rule {number} moves the sample size itself; its moves are taken relative to that")
        pairs = {size: (x - base[0], y - base[1]) for size, (x, y) in pairs.items()}
    return pairs
