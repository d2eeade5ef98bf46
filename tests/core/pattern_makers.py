"""Pattern files for tests, written line by line from what the open formats say; and a way to damage them.

A DXF is pairs of lines, group code and value. Nothing here knows the code that reads or writes pattern files.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, field

Point = tuple[float, float]


def tags(*pairs: tuple[int, object]) -> str:
    return "".join(f"{code}\n{value}\n" for code, value in pairs)


def polyline(points: Sequence[Sequence[float]], layer: str = "1", *, closed: bool = False) -> str:
    """A POLYLINE; a third number of a point is its bulge."""
    text = tags((0, "POLYLINE"), (8, layer), (66, 1), (70, int(closed)))
    for x, y, *bulge in points:
        text += tags((0, "VERTEX"), (8, layer), (10, x), (20, y), *((42, b) for b in bulge))
    return text + tags((0, "SEQEND"), (8, layer))


def lwpolyline(points: Sequence[Sequence[float]], layer: str = "1", *, closed: bool = False) -> str:
    text = tags((0, "LWPOLYLINE"), (8, layer), (90, len(points)), (70, int(closed)))
    for x, y, *bulge in points:
        text += tags((10, x), (20, y), *((42, b) for b in bulge))
    return text


def line(a: Point, b: Point, layer: str) -> str:
    return tags((0, "LINE"), (8, layer), (10, a[0]), (20, a[1]), (11, b[0]), (21, b[1]))


def point(at: Sequence[float], layer: str, *extra: tuple[int, object]) -> str:
    x, y, *z = at
    return tags((0, "POINT"), (8, layer), (10, x), (20, y), (30, z[0] if z else 0), *extra)


def text(words: str, at: Point = (0, 0), layer: str = "1") -> str:
    return tags((0, "TEXT"), (8, layer), (10, at[0]), (20, at[1]), (40, 5), (1, words))


def arc(centre: Point, radius: float, start: float, end: float, layer: str) -> str:
    return tags(
        (0, "ARC"), (8, layer), (10, centre[0]), (20, centre[1]), (40, radius), (50, start), (51, end)
    )


@dataclass
class PieceBlock:
    """A block of one piece in one size: its texts and whatever else is drawn in it."""

    name: str = "FRONT"
    size: str = "M"
    body: str = ""
    texts: Sequence[str] = ("Quantity: 1",)
    block_name: str = ""
    grain: tuple[Point, Point] | None = ((10, 50), (60, 50))
    says: Sequence[str] | None = None

    def block(self) -> str:
        said = [f"Piece Name: {self.name}", f"Size: {self.size}"] if self.says is None else self.says
        drawn = "".join(text(words) for words in [*said, *self.texts])
        if self.grain:
            drawn += line(*self.grain, "7")
        name = self.block_name or f"{self.name}_{self.size}"
        head = tags((0, "BLOCK"), (8, "1"), (2, name), (70, 0), (10, 0), (20, 0))
        return head + drawn + self.body + tags((0, "ENDBLK"), (8, "1"))

    def insert(self, at: Point) -> str:
        name = self.block_name or f"{self.name}_{self.size}"
        return tags((0, "INSERT"), (8, "1"), (2, name), (10, at[0]), (20, at[1]))


@dataclass
class DxfFile:
    """A whole file. `style` are the texts outside the blocks; `drawn` is whatever else stands there."""

    pieces: Sequence[PieceBlock] = ()
    style: Sequence[str] = ("Style Name: 7001", "Units: METRIC", "Sample Size: M")
    drawn: str = ""
    header: str = ""
    more_blocks: str = ""
    end: str = field(default=tags((0, "EOF")))

    def text(self) -> str:
        header = tags((0, "SECTION"), (2, "HEADER")) + self.header + tags((0, "ENDSEC"))
        blocks = "".join(piece.block() for piece in self.pieces) + self.more_blocks
        if blocks:
            blocks = tags((0, "SECTION"), (2, "BLOCKS")) + blocks + tags((0, "ENDSEC"))
        entities = "".join(text(words) for words in self.style) + self.drawn
        entities += "".join(piece.insert((700 * i, 0)) for i, piece in enumerate(self.pieces))
        return (
            header
            + blocks
            + tags((0, "SECTION"), (2, "ENTITIES"))
            + entities
            + tags((0, "ENDSEC"))
            + self.end
        )

    def content(self) -> bytes:
        return self.text().encode("utf-8")


def rectangle(width: float, height: float, at: Point = (0, 0)) -> list[Point]:
    x, y = at
    return [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]


def edges_of(ring: Sequence[Point], layer: str = "1") -> str:
    """Each side of a ring as an open polyline of its own, out of order and every second one backwards."""
    sides = [(ring[i], ring[(i + 1) % len(ring)]) for i in range(len(ring))]
    mixed = [*sides[1::2], *sides[0::2]]
    return "".join(polyline(side[::-1] if i % 2 else side, layer) for i, side in enumerate(mixed))


def one_piece(body: str, **facts: object) -> bytes:
    """A metric file with one piece in one size."""
    return DxfFile([PieceBlock(body=body, **facts)]).content()  # type: ignore[arg-type]


def rules_file(
    rules: dict[int, Sequence[Point]],
    *,
    sizes: str = "S M L",
    sample: str = "M",
    units: str = "METRIC",
    table: str = "TABLE1",
    end: str = "END\n",
) -> bytes:
    """A table of grade rules, two pairs a line."""
    lines = ["AUTHOR: TEST", f"UNITS: {units}", f"GRADE RULE TABLE: {table}"]
    lines += [f"NUMBER OF SIZES: {len(sizes.split())}", f"SIZE LIST: {sizes}", f"SAMPLE SIZE: {sample}"]
    for number, pairs in rules.items():
        lines.append(f"RULE: DELTA {number}")
        for i in range(0, len(pairs), 2):
            lines.append("  ".join(f"{x:.3f}, {y:.3f}" for x, y in pairs[i : i + 2]))
    return ("\n".join(lines) + "\n" + end).encode()


def curved_ring(width: float, height: float, steps: int) -> list[Point]:
    """A ring with `steps` points: a rectangle whose upper edge is a half sine, as a bodice has a neckline."""
    top = [(width * (1 - i / steps), height - 60 * math.sin(math.pi * i / steps)) for i in range(1, steps)]
    return [(0, 0), (width, 0), (width, height), *top, (0, height)]


def graded_nest(pieces: int, sizes: int, steps: int) -> bytes:
    """A large graded nest: pieces times sizes blocks with `steps` points each, sew lines and notches with them."""
    blocks = []
    for p in range(pieces):
        for s in range(sizes):
            ring = curved_ring(400 + 20 * s + p, 600 + 10 * s, steps)
            inner = [(10 + x * 0.95, 10 + y * 0.97) for x, y in ring]
            corners = [0, 1, 2, len(ring) - 1]
            paths = [ring[a : b + 1] for a, b in itertools.pairwise(corners)]
            paths.append([ring[-1], ring[0]])
            body = "".join(polyline(path) for path in paths[::-1])
            body += "".join(point(ring[i], "2") for i in corners)
            body += "".join(point(at, "3") for at in ring[3:-1])
            body += polyline(inner, "14", closed=True) + point((200, 0, 5), "4")
            blocks.append(PieceBlock(f"PIECE {p}", f"{30 + 2 * s}", body))
    return DxfFile(blocks, style=["Style Name: LARGE", "Units: METRIC"]).content()


def sample_files() -> list[bytes]:
    """Small files that between them hold everything a reader knows, for damaging."""
    bulged = [(0, 0), (100, 0, 0.5), (100, 80), (0, 80)]
    half = rectangle(300, 200)
    spline = tags((0, "SPLINE"), (8, "front"), (70, 0), (71, 3), (72, 8), (73, 4), (74, 0))
    spline += tags(*((40, k) for k in (0, 0, 0, 0, 1, 1, 1, 1)))
    spline += tags(*(pair for x, y in ((0, 0), (0, 90), (90, 90), (90, 0)) for pair in ((10, x), (20, y))))
    ellipse = tags((0, "ELLIPSE"), (8, "sleeve"), (10, 0), (20, 0), (11, 80), (21, 10), (40, 0.5))
    everything = edges_of(half) + line((0, 0), (300, 0), "6") + point((150, 200, 5), "4", (50, 270))
    everything += edges_of([(10, 10), (290, 10), (290, 190), (10, 190)], "14") + point((20, 20), "13")
    everything += polyline([(40, 40), (60, 40), (50, 60)], "11", closed=True) + line((0, 50), (300, 50), "9")
    graded = edges_of(half) + "".join(text(f"# {i}", at) for i, at in enumerate(half, 1))
    return [
        DxfFile([PieceBlock("BACK", s, everything) for s in ("S", "M")]).content(),
        one_piece(polyline(bulged, closed=True) + "".join(point(p[:2], "2") for p in bulged)),
        DxfFile(
            style=["Units: ENGLISH"],
            drawn=spline
            + line((90, 0), (0, 0), "front")
            + ellipse
            + arc((0, 0), 50, 10, 300, "cuff")
            + lwpolyline(bulged, "0", closed=True),
        ).content(),
        one_piece(graded + line((0, 0), (0, 100), "5")),
    ]


NASTY = ["nan", "inf", "-1e300", "1e300", "", "0", "-1", "99999999999999999999", "EOF", "POLYLINE", "\ufffd"]


def damaged(content: bytes, seed: int) -> bytes:
    """The file with a few lines, pairs or bytes changed, dropped, doubled or swapped; the seed says which."""
    chance = random.Random(seed)
    kind = chance.randrange(5)
    if kind == 0 and content:
        return content[: chance.randrange(len(content))]
    if kind == 1:
        data = bytearray(content)
        for _ in range(chance.randrange(1, 8)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        return bytes(data)
    lines = content.decode("utf-8", "replace").split("\n")
    for _ in range(chance.randrange(1, 6)):
        at = chance.randrange(len(lines) // 2) * 2
        _damage(lines, at, chance)
    return "\n".join(lines).encode("utf-8")


def _damage(lines: list[str], at: int, chance: random.Random) -> None:
    """Damages one pair of lines, so that most of the file is still understood."""
    kind = chance.randrange(6)
    if kind == 0:
        lines[at + 1 : at + 2] = [chance.choice(NASTY)]
    elif kind == 1:
        lines[at : at + 1] = [str(chance.choice([0, 1, 8, 10, 20, 40, 42, 70, 71, 210, 1000, -5]))]
    elif kind == 2:
        del lines[at : at + 2]
    elif kind == 3:
        other = chance.randrange(len(lines) // 2) * 2
        lines[at : at + 2], lines[other : other + 2] = lines[other : other + 2], lines[at : at + 2]
    elif kind == 4:
        count = 2 * chance.randrange(1, 12)
        lines[at:at] = lines[at : at + count]
    else:
        numbers = [
            i for i in range(1, len(lines), 2) if lines[i].strip().lstrip("-").replace(".", "").isdigit()
        ]
        if numbers:
            lines[chance.choice(numbers)] = str(chance.choice([chance.uniform(-500, 500), 0, 1e5, 1e-9, -3]))
