"""Invented pieces for the tests of writers, and hypothesis strategies for them."""

import math

from hypothesis import strategies as st

from planner.core.lays.model import Placement
from planner.core.outline import Edge, Outline, Point, make_outline, rectangle
from planner.core.pattern_files.model import Marks, Notch
from planner.core.pattern_files.to_write import LayToWrite, PieceToWrite, StyleToWrite

#: A small front, not the same as its mirror image.
FRONT = make_outline(
    [(0, 0), (500, 0), (520, 40), (640, 60), (600, 250), (350, 300), (0, 310)],
    [Edge("hem", 6), Edge("side", 0), Edge("armhole", 1), Edge("shoulder", 3), Edge("neckline", 4)],
)
MARKS = Marks(
    notches=(
        Notch(100.0, 0.0, "V", 5.0, 90.0),
        Notch(0.0, 100.0, "slit", 4.0, 0.0),
        Notch(250.0, 0.0, "T", 6.0, 90.0),
    ),
    lines=(((50.0, 50.0), (90.0, 50.0), (90.0, 80.0)),),
    cutouts=(((100.0, 100.0), (120.0, 100.0), (120.0, 120.0)),),
    holes=((200.0, 200.0), (220.0, 200.0)),
    sew_lines=(((10.0, 10.0), (490.0, 10.0), (490.0, 50.0)),),
    stripe_lines=(((20.0, 150.0), (60.0, 150.0)),),
)
PIECE = PieceToWrite("front", "M", FRONT, MARKS, count=2, pair=True, role="body", note="cut on one layer")


def style_of(piece: PieceToWrite) -> StyleToWrite:
    """A style of one piece in one size, called like it."""
    return StyleToWrite(piece.name, (piece,), piece.size)


STYLE = StyleToWrite(
    "Tank 110",
    (
        PIECE,
        PieceToWrite("front", "L", FRONT.scaled(1.1, 1.05), count=2, pair=True, role="body"),
        PieceToWrite("neck band", "M", rectangle(600, 40), count=1, role="rib"),
        PieceToWrite("neck band", "L", rectangle(620, 40), count=1, role="rib"),
    ),
    sample_size="M",
)
LAY = LayToWrite(
    "B-0007 lay 1",
    1400.0,
    700.0,
    (
        Placement("110", "front", "M", 1, False, 0, FRONT.points),
        Placement("110", "front", "M", 1, True, 180, FRONT.mirrored().turned(180).moved(1300.0, 20.0).points),
    ),
)

names = (
    st.text(min_size=1, max_size=20).map(lambda t: "".join(c for c in t if c.isprintable())).map(str.strip)
)
#: Names as shops write them, and some that no file format likes. Beyond the basic plane DXF R12 knows no letters, and a
#: caret at the end of a text begins a control character.
nameable = names.filter(lambda name: name and all(ord(c) <= 0xFFFF for c in name) and not name.endswith("^"))


@st.composite
def outlines(draw: st.DrawFn) -> Outline:
    """A ring round its middle that cannot cross itself, with corners sharp and flat, and edges that start anywhere."""
    n = draw(st.integers(4, 14))
    reach = draw(st.lists(st.floats(60.0, 700.0), min_size=n, max_size=n))
    points: list[Point] = [
        (r * math.cos(math.tau * i / n), r * math.sin(math.tau * i / n)) for i, r in enumerate(reach)
    ]
    starts = draw(st.sets(st.integers(0, n - 1), min_size=1, max_size=6))
    called = draw(
        st.lists(st.sampled_from(["hem", "side", "neckline", "arm & hole", "é<\"'>"]), min_size=6, max_size=6)
    )
    return make_outline(points, [Edge(name, s) for name, s in zip(called, sorted(starts), strict=False)])


@st.composite
def pieces(draw: st.DrawFn) -> PieceToWrite:
    """A piece with a name, a size and a count; the size may be missing."""
    pair = draw(st.booleans())
    count = draw(st.integers(1, 6)) * (2 if pair else 1)
    size = draw(st.sampled_from(["", "S", "2XL", "38", "12/14"]))
    return PieceToWrite(
        draw(nameable),
        size,
        draw(outlines()),
        count=count,
        pair=pair,
        role=draw(st.sampled_from(["", "body", "rib"])),
    )
