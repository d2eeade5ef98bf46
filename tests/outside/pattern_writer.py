"""Pattern files written by hand for tests: group codes in plain text, nothing borrowed from the readers.

Layers as in the ASTM D6673 layer list as summarised: 1 boundary and texts, 2 turn points, 4 and 80 to 83
notches, 5 grade reference, 6 mirror line, 7 grain line, 8 internal lines, 13 drill holes, 14 sew line.
Lengths are in the file's own unit.
"""

import itertools
import math
from collections.abc import Iterable, Sequence

Point = tuple[float, float]
Tags = list[tuple[int, object]]


def tag_text(tags: Iterable[tuple[int, object]], ending: str = "\n") -> str:
    """Group codes and values, each on its own line as ASCII DXF has them."""
    return "".join(f"{code:>3}{ending}{value}{ending}" for code, value in tags)


def text(value: str, at: Point = (0, 0), layer: str = "1") -> Tags:
    """One TEXT entity."""
    return [(0, "TEXT"), (8, layer), (10, at[0]), (20, at[1]), (40, 1.0), (1, value)]


def line(start: Point, end: Point, layer: str = "1") -> Tags:
    """One LINE entity."""
    return [(0, "LINE"), (8, layer), (10, start[0]), (20, start[1]), (11, end[0]), (21, end[1])]


def point(at: Point, layer: str, z: float | None = None, angle: float | None = None) -> Tags:
    """One POINT entity; z is a notch's depth."""
    tags: Tags = [(0, "POINT"), (8, layer), (10, at[0]), (20, at[1])]
    if z is not None:
        tags.append((30, z))
    if angle is not None:
        tags.append((50, angle))
    return tags


def arc(centre: Point, radius: float, start: float, end: float, layer: str = "1") -> Tags:
    """One ARC entity, counter-clockwise from start to end (degrees)."""
    return [
        (0, "ARC"),
        (8, layer),
        (10, centre[0]),
        (20, centre[1]),
        (40, radius),
        (50, start),
        (51, end),
    ]


def polyline(
    points: Sequence[Point],
    layer: str = "1",
    *,
    closed: bool = False,
    bulges: dict[int, float] | None = None,
) -> Tags:
    """One POLYLINE with its VERTEX entities and SEQEND, as Release 12 writes them."""
    tags: Tags = [(0, "POLYLINE"), (8, layer), (66, 1), (70, int(closed))]
    for index, (x, y) in enumerate(points):
        tags += [(0, "VERTEX"), (8, layer), (10, x), (20, y)]
        if bulges and index in bulges:
            tags.append((42, bulges[index]))
    return [*tags, (0, "SEQEND"), (8, layer)]


def lwpolyline(
    points: Sequence[Point],
    layer: str = "1",
    *,
    closed: bool = False,
    bulges: dict[int, float] | None = None,
) -> Tags:
    """One LWPOLYLINE, which general drawing programs write though Release 12 lacks it."""
    tags: Tags = [
        (0, "LWPOLYLINE"),
        (100, "AcDbEntity"),
        (8, layer),
        (100, "AcDbPolyline"),
        (90, len(points)),
        (70, int(closed)),
    ]
    for index, (x, y) in enumerate(points):
        tags += [(10, x), (20, y)]
        if bulges and index in bulges:
            tags.append((42, bulges[index]))
    return tags


def block(name: str, *entities: Tags) -> Tags:
    """One BLOCK with what it holds."""
    tags: Tags = [(0, "BLOCK"), (8, "1"), (2, name), (70, 64), (10, 0.0), (20, 0.0)]
    for entity in entities:
        tags += entity
    return [*tags, (0, "ENDBLK"), (8, "1")]


def insert(name: str, at: Point = (0, 0)) -> Tags:
    """One INSERT of a block."""
    return [(0, "INSERT"), (8, "1"), (2, name), (10, at[0]), (20, at[1])]


def drawing(
    blocks: Sequence[Tags],
    entities: Sequence[Tags] = (),
    *,
    header: Tags | None = None,
    layers: Sequence[str] = (),
    inserts: bool = True,
) -> Tags:
    """A whole file; with header None there is no HEADER section at all, with no layers no TABLES."""
    tags: Tags = []
    if header is not None:
        tags += [(0, "SECTION"), (2, "HEADER"), *header, (0, "ENDSEC")]
    if layers:
        tags += [(0, "SECTION"), (2, "TABLES"), (0, "TABLE"), (2, "LAYER"), (70, len(layers))]
        for name in layers:
            tags += [(0, "LAYER"), (2, name), (70, 0), (62, 7), (6, "CONTINUOUS")]
        tags += [(0, "ENDTAB"), (0, "ENDSEC")]
    if blocks:
        tags += [(0, "SECTION"), (2, "BLOCKS")]
        for one in blocks:
            tags += one
        tags.append((0, "ENDSEC"))
    tags += [(0, "SECTION"), (2, "ENTITIES")]
    for entity in entities:
        tags += entity
    if inserts:
        for index, one in enumerate(blocks):
            tags += insert(str(one[2][1]), (1000.0 * index, -500.0 * index))
    return [*tags, (0, "ENDSEC"), (0, "EOF")]


def style_texts(units: str | None = "METRIC", sample: str = "M", style: str = "Testweave") -> list[Tags]:
    """The style's system texts in the ENTITIES section."""
    values = [f"STYLE NAME: {style}", "CREATION DATE: 01-02-2024", f"SAMPLE SIZE: {sample}"]
    if units is not None:
        values.append(f"UNITS: {units}")
    return [text(value) for value in values]


def rule_table(
    sizes: Sequence[str],
    sample: str,
    rules: dict[int, Sequence[Point]],
    *,
    units: str = "METRIC",
    name: str = "TESTGRADE",
    per_line: int = 2,
) -> bytes:
    """A grade rule table: pairs in SIZE LIST order, wrapped after `per_line` of them."""
    lines = [
        "ASTM/D13Proposal 1 Version: D 6673-04",
        "AUTHOR: TEST",
        "CREATION DATE: 01-02-2024",
        f"UNITS: {units}",
        f"GRADE RULE TABLE: {name}",
        f"NUMBER OF SIZES: {len(sizes)}",
        "SIZE LIST: " + " ".join(sizes),
        f"SAMPLE SIZE: {sample}",
    ]
    for number, pairs in rules.items():
        lines.append(f"RULE: DELTA {number}")
        for start in range(0, len(pairs), per_line):
            lines.append(" ".join(f"{x:.6g}, {y:.6g}" for x, y in pairs[start : start + per_line]))
    lines.append("END")
    return ("\n".join(lines) + "\n").encode("ascii")


def to_bytes(tags: Tags, encoding: str = "ascii", ending: str = "\n") -> bytes:
    """The file's bytes."""
    return tag_text(tags, ending).encode(encoding)


def shoelace(points: Sequence[Point]) -> float:
    """Area of a polygon, the surveyor's formula; always positive."""
    total = 0.0
    for (x0, y0), (x1, y1) in zip(points, [*points[1:], points[0]], strict=True):
        total += x0 * y1 - x1 * y0
    return abs(total) / 2


def length(points: Sequence[Point]) -> float:
    """Length of an open run of points."""
    return sum(math.dist(a, b) for a, b in itertools.pairwise(points))


def ellipse(centre: Point, rx: float, ry: float, start: float, end: float, steps: int = 90) -> list[Point]:
    """Points on an ellipse from start to end in degrees, both included."""
    angles = [math.radians(start + (end - start) * step / steps) for step in range(steps + 1)]
    return [(centre[0] + rx * math.cos(a), centre[1] + ry * math.sin(a)) for a in angles]


def rotated(points: Sequence[Point], degrees: float, offset: Point = (0, 0)) -> list[Point]:
    """Points turned about (0, 0), counter-clockwise, and then moved by the offset."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return [(x * c - y * s + offset[0], x * s + y * c + offset[1]) for x, y in points]
