"""Outlines as people type or paste them: one point a line, with units, names of edges and curves.

A line is `x, y` or `x, y, edge name`: x along the grain, y across it, the name that of the edge which starts
at this point. Values are parted by a tab, a semicolon, or a comma with a space behind it; so `12,5 cm; 3 cm`
and `12.5 cm, 3 cm` say the same. A line `# neckline` names the edge that starts at the next point. Blank lines
count as lines but say nothing.

The word `curve` behind a point or its edge name (`9, 0, neckline curve`) makes a curve through the points from
here on, until an edge with another name begins or a line says `straight`; see :mod:`planner.core.curves`.

Measures of a paper piece from its fold are lines too: how far down the fold, how far out from it, the edge
that begins there. They start and end on the fold, where out is 0.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from planner.core.curves import smooth_line
from planner.core.grow_points import mirror_image, way_round
from planner.core.outline import LARGEST_MM, Edge, Outline, OutlineError, Point, make_outline, unfold
from planner.core.units import UnitError, length_as_typed, parse_length_mm

#: A traced curve needs a few hundred points; more than this is a picture, not a pattern.
MOST_POINTS = 2_000
#: Enough for the most points with long names; what is longer is not looked at.
MOST_CHARACTERS = 200_000
LONGEST_NAME = 40
#: After this many wrong lines the rest would only be more of the same.
MOST_PROBLEMS = 20

_TWO_BARE_NUMBERS = re.compile(r"([-+−]?[\d.,]+)\s+([-+−]?[\d.,]+)")
_COMMA_AND_SPACE = re.compile(r",\s+")
_CURVE_WORD = re.compile(r"(?:(?P<name>.*?)[\s,;]+)?(?P<word>curved?|straight)", re.IGNORECASE | re.DOTALL)
_HEADINGS = {("x", "y"), ("along", "across"), ("length", "width"), ("down", "out"), ("down", "across")}


@dataclass(frozen=True, slots=True)
class LineProblem:
    """What is wrong with a line (counted from 1), or with the whole where `line` is 0."""

    line: int
    text: str

    def __str__(self) -> str:
        return f"line {self.line}: {self.text}" if self.line else self.text


@dataclass(frozen=True, slots=True)
class TypedPoints:
    """Points in mm, the edges that start at them, the line each point stands on, and what was wrong.

    `curved` are the indexes of the points where a curved stretch begins; it is not yet drawn.
    """

    points: tuple[Point, ...]
    edges: tuple[Edge, ...]
    lines: tuple[int, ...]
    problems: tuple[LineProblem, ...]
    curved: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class TypedOutline:
    """An outline, or None and the reasons why not."""

    outline: Outline | None
    problems: tuple[LineProblem, ...]


def read_outline(text: str, *, unit: str = "cm", half: bool = False) -> TypedOutline:
    """The outline that was typed; bare numbers are in `unit` ("mm", "cm", "m", "in", "yd").

    With `half` the points are one half of the piece, drawn from the fold line y = 0 back to it, and are
    unfolded.
    Never raises for bad text: the problems name the lines.
    """
    return _outline_of(read_points(text, unit=unit), half=half)


def read_from_fold(text: str, *, unit: str = "cm") -> TypedOutline:
    """The whole piece from measures of its half: lines of how far down the fold, how far out, edge name.

    Down is −x, so that the top or neck point is x = 0 in every size; bare numbers are in `unit`.
    Never raises for bad text: the problems name the lines.
    """
    typed = _as_half(read_points(text, unit=unit))
    if typed.problems:
        return TypedOutline(None, typed.problems)
    return _outline_of(typed, half=True)


def _as_half(typed: TypedPoints) -> TypedPoints:
    """Measures down and out as points of a half; each that cannot be one is answered at its line."""
    problems = list(typed.problems)
    last = len(typed.points) - 1
    for i, (_, out_mm) in enumerate(typed.points):
        if i in (0, last) and abs(out_mm) > 1e-3:
            words = "start" if i == 0 else "end"
            text = f"The measures {words} on the fold: this point is 0 out from it."
            problems.append(LineProblem(typed.lines[i], text))
        elif out_mm < 0:
            problems.append(LineProblem(typed.lines[i], "This is out on the other side of the fold."))
    points = tuple((0.0 - down_mm, out_mm) for down_mm, out_mm in typed.points)
    return replace(typed, points=points, problems=tuple(problems[:MOST_PROBLEMS]))


def _outline_of(typed: TypedPoints, *, half: bool) -> TypedOutline:
    """Draws the curves and unfolds a half."""
    if typed.problems:
        return TypedOutline(None, typed.problems)
    if len(typed.points) < 3:
        problem = LineProblem(0, f"An outline needs at least three points; this has {len(typed.points)}.")
        return TypedOutline(None, (problem,))
    try:
        if half:
            _check_half(typed)
        line = smooth_line(typed.points, typed.edges, typed.curved, half=half)
        lines = tuple(typed.lines[i] for i in line.origins)
        typed = replace(typed, points=line.points, edges=line.edges, lines=lines)
        if len(typed.points) > MOST_POINTS:
            text = (
                f"The curves make {len(typed.points):,} points of this; an outline may have {MOST_POINTS:,}."
            )
            return TypedOutline(None, (LineProblem(0, text),))
        if half:
            outline = unfold(typed.points, typed.edges or (Edge("outline", 0),))
        else:
            outline = make_outline(typed.points, typed.edges)
    except _LineError as problem:
        return TypedOutline(None, (problem.problem,))
    except OutlineError as problem:
        return TypedOutline(None, (_placed(str(problem), typed, half=half),))
    return TypedOutline(outline, ())


def read_points(text: str, *, unit: str = "cm") -> TypedPoints:
    """Points and edges as typed, not yet checked as an outline; at most :data:`MOST_POINTS`."""
    if len(text) > MOST_CHARACTERS:
        problem = LineProblem(
            0, f"This is {len(text):,} characters long; at most {MOST_CHARACTERS:,} are read."
        )
        return TypedPoints((), (), (), (problem,))
    points: list[Point] = []
    lines: list[int] = []
    names: dict[int, str] = {}
    shapes: dict[int, bool] = {}
    problems: list[LineProblem] = []
    for number, line in enumerate(text.splitlines(), 1):
        content = line.strip(" \r\f\v")
        if not content.strip() or (not points and _is_heading(content)):
            continue
        if len(points) >= MOST_POINTS:
            problems.append(LineProblem(number, f"An outline may have at most {MOST_POINTS:,} points."))
            break
        try:
            _take_line(content, unit, points, names, shapes)
        except (UnitError, OutlineError) as problem:
            problems.append(LineProblem(number, str(problem)))
            if len(problems) >= MOST_PROBLEMS:
                break
            continue
        if len(points) > len(lines):
            lines.append(number)
    if not problems and any(index >= len(points) for index in names):
        problems.append(LineProblem(0, f"No point follows the edge name “{names[max(names)]}”."))
    edges = tuple(Edge(name, index) for index, name in sorted(names.items()))
    curved = _curved(len(points), names, shapes)
    return TypedPoints(tuple(points), edges, tuple(lines), tuple(problems), curved)


def _curved(count: int, names: Mapping[int, str], shapes: Mapping[int, bool]) -> frozenset[int]:
    """Where the stretch that begins at a point is curved: as said there, else as before, edge by edge."""
    curved: set[int] = set()
    bends = False
    for i in range(count):
        bends = shapes.get(i, bends and i not in names)
        if bends:
            curved.add(i)
    return frozenset(curved)


def as_typed(outline: Outline, *, unit: str = "cm") -> str:
    """The outline as lines that :func:`read_outline` reads back, to a tenth of a millimetre."""
    names: Mapping[int, str] = {edge.start: edge.name for edge in outline.edges}
    return "\n".join(_typed_row(x, y, names.get(i, ""), unit) for i, (x, y) in enumerate(outline.points))


def as_typed_from_fold(outline: Outline, *, unit: str = "cm") -> str:
    """A folded piece as lines that :func:`read_from_fold` reads back; "" where its halves differ.

    A curve is written as the points it was flattened to.
    """
    mirror = mirror_image(outline)
    fold = [i for i, twin in enumerate(mirror or ()) if i == twin]
    if len(fold) != 2:
        return ""
    top = max(0.0, outline.bounds_mm[2])
    middle = outline.points[fold[0]][1]
    order = way_round(outline, fold)
    names = {edge.start: edge.name for edge in outline.edges}
    before = max(
        (edge for edge in outline.edges if edge.start <= order[0]), key=lambda e: e.start, default=None
    )
    names.setdefault(order[0], (before or outline.edges[-1]).name)
    names.pop(order[-1], None)
    rows = [(top - outline.points[i][0], outline.points[i][1] - middle, names.get(i, "")) for i in order]
    return "\n".join(_typed_row(*row, unit) for row in rows)


def _typed_row(x: float, y: float, name: str, unit: str) -> str:
    row = f"{_bare(x, unit)}; {_bare(y, unit)}"
    # Behind a point these would be read as a curve, as more fields, or as a number.
    if name and (_CURVE_WORD.fullmatch(name) or ";" in name or not _has_letter(name)):
        return f"# {name}\n{row}"
    return f"{row}; {name}" if name else row


def _bare(mm: float, unit: str) -> str:
    """A length in `unit` without its unit; length_as_typed does not know negative zero."""
    value = round(mm, 2) + 0.0
    typed = length_as_typed(abs(value), unit).rsplit(" ", 1)[0]
    return f"-{typed}" if value < 0 and typed != "0" else typed


def _take_line(
    content: str, unit: str, points: list[Point], names: dict[int, str], shapes: dict[int, bool]
) -> None:
    """Adds what one line says. Raises UnitError or OutlineError with what is wrong with it."""
    if content.lstrip().startswith("#"):
        name = _edge_name(content.lstrip().lstrip("#"), alone=True)
        _name_edge(names, len(points), name)
        return
    x_text, y_text, name_text = _parted(content)
    point = (_coordinate(x_text, unit), _coordinate(y_text, unit))
    shape = _CURVE_WORD.fullmatch(name_text)
    if shape:
        name_text = (shape["name"] or "").strip()
    if name_text:
        _name_edge(names, len(points), _edge_name(name_text))
    if shape:
        shapes[len(points)] = shape["word"].lower() != "straight"
    points.append(point)


def _name_edge(names: dict[int, str], index: int, name: str) -> None:
    if index in names:
        raise OutlineError(f"Two names, “{names[index]}” and “{name}”, for the edge that starts here.")
    names[index] = name


def _parted(content: str) -> tuple[str, str, str]:
    """The two values and the edge name ("" for none) of a line."""
    for fields in _ways_to_part(content):
        if len(fields) == 4 and _CURVE_WORD.fullmatch(fields[3].strip()):
            fields = [*fields[:2], " ".join(fields[2:]).strip()]
        if 2 <= len(fields) <= 3 and all(field.strip() for field in fields[:2]):
            x, y, *rest = (field.strip() for field in fields)
            return x, y, rest[0] if rest else ""
    raise OutlineError(f"“{content[:40]}” is no point. Write x, y – for example 12.5 cm, 3 cm.")


def _ways_to_part(content: str) -> list[list[str]]:
    """The line parted by the first separator that it holds; a comma may also be a decimal comma."""
    for separator in ("\t", ";"):
        if separator in content:
            fields = content.split(separator)
            while len(fields) > 2 and not fields[-1].strip():  # spreadsheets leave empty cells behind
                fields.pop()
            return [fields]
    if _COMMA_AND_SPACE.search(content):
        return [_COMMA_AND_SPACE.split(content)]
    bare = _TWO_BARE_NUMBERS.fullmatch(content.strip())
    if bare:
        return [[bare[1], bare[2]]]
    return [content.split(",")]


def _is_heading(content: str) -> bool:
    """A first row of a spreadsheet that names its columns."""
    try:
        x, y, _ = _parted(content)
    except OutlineError:
        return False
    return (x.lower(), y.lower()) in _HEADINGS


def _has_letter(name: str) -> bool:
    return any(ch.isalpha() for ch in name)


def _edge_name(text: str, *, alone: bool = False) -> str:
    """The name of an edge; one that stands `alone` in its line may be a number."""
    name = " ".join(text.split())
    if not _has_letter(name) and not (alone and any(ch.isdigit() for ch in name)):
        raise OutlineError(f"“{name}” is no name for an edge. Name it, for example, neckline or side.")
    if len(name) > LONGEST_NAME:
        raise OutlineError(f"An edge name has at most {LONGEST_NAME} letters; this has {len(name)}.")
    return name


def _coordinate(text: str, unit: str) -> float:
    value = float(parse_length_mm(text, unit, allow_negative=True))
    if abs(value) > LARGEST_MM:
        raise OutlineError(f"“{text}” is more than 20 m away. Is the unit right?")
    return value


class _LineError(Exception):
    """A slip that belongs to a line of what was typed."""

    def __init__(self, line: int, text: str) -> None:
        super().__init__(text)
        self.problem = LineProblem(line, text)


def _check_half(typed: TypedPoints) -> None:
    if not typed.edges:
        return
    if typed.edges[0].start != 0:
        text = "The first point of a half must name its edge, because others are named."
        raise _LineError(typed.lines[0], text)
    if typed.edges[-1].start >= len(typed.points) - 1:
        text = f"The edge “{typed.edges[-1].name}” starts at the last point, where the half ends."
        raise _LineError(typed.lines[-1], text)


def _placed(reason: str, typed: TypedPoints, *, half: bool) -> LineProblem:
    """The reason as a sentence; where two typed lines cross, with the first line that does."""
    crossing = _first_crossing(typed.points, closed=not half) if "crosses itself" in reason else None
    if crossing is not None:
        first, second = (typed.lines[i] for i in crossing)
        if first == second:
            return LineProblem(first, "The outline crosses itself: the curve from here meets itself.")
        return LineProblem(
            second, f"The outline crosses itself: the stretch from here meets the one from line {first}."
        )
    if "crosses itself" in reason:
        reason = "the outline crosses itself" + (" when it is unfolded" if half else "")
    return LineProblem(0, reason[0].upper() + reason[1:] + ".")


def _first_crossing(points: tuple[Point, ...], *, closed: bool) -> tuple[int, int] | None:
    """Indexes of the starts of the first two stretches that cross or touch away from a shared corner."""
    from shapely import STRtree
    from shapely.geometry import LineString

    last = len(points) if closed else len(points) - 1
    stretches = [LineString([points[i], points[(i + 1) % len(points)]]) for i in range(last)]
    tree = STRtree(stretches)
    pairs = sorted((int(b), int(a)) for a, b in tree.query(stretches, predicate="intersects").T if a < b)
    for later, earlier in pairs:
        beside = later - earlier == 1 or (closed and earlier == 0 and later == last - 1)
        if not beside or stretches[earlier].intersection(stretches[later]).length > 0:
            return earlier, later
    return None
