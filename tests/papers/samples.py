"""Invented papers with curved pieces, ordinary and unusual."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from planner.core.pattern_files.model import Marks, Notch
from planner.papers.buy_data import BuyLine, BuyList
from planner.papers.data import (
    BundleTicket,
    ClothLine,
    CountRow,
    CutSheet,
    DrawnPiece,
    GarmentCut,
    Heading,
    LayPaper,
    LengthRow,
    PlyRow,
    Point,
    RollPart,
    SizeRow,
    TicketStep,
)

HEADING = Heading("Quay Lane Workroom", "B-0007", "3 March 2026", "20 March 2026")

JAPANESE = "ひがしの布工房 綿天竺 藍色"
GREEK = "Ύφασμα ζέρσεϊ σκούρο μπλε"
CYRILLIC = "Ткань трикотажная тёмно-синяя"
POLISH = "Ściągacz prążkowany źdźbło żółć"
TAGS = '<b>&"Rib" <font size=40>'
LONG = ("Long-sleeved gathered tunic with a very long name " * 7)[:300]
UNBROKEN = "Donaudampfschifffahrtsgesellschaft" * 9


def curve(start: Point, bend: Point, end: Point, steps: int = 12) -> list[Point]:
    """Points of a quadratic curve, the first one left out."""
    found = []
    for i in range(1, steps + 1):
        t = i / steps
        found.append(
            (
                (1 - t) ** 2 * start[0] + 2 * t * (1 - t) * bend[0] + t**2 * end[0],
                (1 - t) ** 2 * start[1] + 2 * t * (1 - t) * bend[1] + t**2 * end[1],
            )
        )
    return found


def body(grow: float = 0.0, neck_depth: float = 90.0) -> list[Point]:
    """A whole front or back: hem at x = 0, shoulders at the far end, 480 mm wide and more."""
    w, h = 480 + grow, 640 + grow * 0.4
    half: list[Point] = [(0, w / 2)]
    half += curve(half[-1], (h * 0.35, w / 2 - 26), (h * 0.62, w / 2 - 4))
    half += curve(half[-1], (h * 0.68, w / 2 - 62), (h - 38, w / 2 - 52))
    half += [(h, 88)]
    half += curve(half[-1], (h - neck_depth, 88), (h - neck_depth, 0))
    return half + [(x, -y) for x, y in reversed(half[:-1])]


def sleeve(grow: float = 0.0) -> list[Point]:
    """A short sleeve with a curved head."""
    w, h = 380 + grow, 230 + grow * 0.2
    half: list[Point] = [(0, w / 2 - 22), (h - 120, w / 2)]
    half += curve(half[-1], (h - 70, w / 2 - 60), (h - 40, w / 4))
    half += curve(half[-1], (h, w / 8), (h, 0))
    return half + [(x, -y) for x, y in reversed(half[:-1])]


def band(length: float = 524.0, width: float = 44.0) -> list[Point]:
    """A strip cut across the cloth."""
    return [(0, -length / 2), (width, -length / 2), (width, length / 2), (0, length / 2)]


def at(shape: list[Point], x: float, y: float, *, turned: bool = False) -> tuple[Point, ...]:
    """The shape with the lower left corner of its box at x, y; `turned` by 180 degrees first."""
    points = [(-px, -py) for px, py in shape] if turned else shape
    left, low = min(p[0] for p in points), min(p[1] for p in points)
    return tuple((px - left + x, py - low + y) for px, py in points)


def _column(
    shapes: list[tuple[str, str, list[Point]]], x: float, width: float, first: int, *, turned: bool = False
) -> tuple[list[DrawnPiece], float]:
    """Shapes one above the other across the cloth from x; the pieces and the x they end at."""
    pieces, y, end = [], 4.0, x
    for name, size, shape in shapes:
        outline = at(shape, x, y, turned=turned)
        top = max(p[1] for p in outline)
        if top > width:
            continue
        pieces.append(
            DrawnPiece(first + len(pieces), name, "110", size, False, 180 if turned else 0, outline)
        )
        y = top + 4
        end = max(end, max(p[0] for p in outline))
    return pieces, end + 4


def lay(number: int = 1, *, one_way: bool = True, mode: str = "open") -> LayPaper:
    """A lay of three sizes on a jersey 1460 mm wide."""
    width = 1460.0
    plan: list[list[tuple[str, str, list[Point]]]] = [
        [("front", "S", body(0)), ("back", "S", body(0, 30)), ("front", "M", body(20))],
        [("back", "M", body(20, 30)), ("front", "L", body(40))],
        [("back", "L", body(40, 30)), *[("sleeve", s, sleeve(g)) for s, g in (("S", 0), ("M", 8))]],
        [("sleeve", s, sleeve(g)) for s, g in (("S", 0), ("M", 8), ("L", 16))],
        [("neckband", "S", band(500)), ("neckband", "M", band(524))],
        [("neckband", "L", band(548)), ("sleeve", "L", sleeve(16))],
    ]
    pieces: list[DrawnPiece] = []
    x = 4.0
    for index, column in enumerate(plan):
        turned = not one_way and index % 2 == 1
        found, x = _column(column, x, width, len(pieces) + 1, turned=turned)
        pieces += found
    return LayPaper(
        number=number,
        fabric="Cotton jersey 180",
        plies=(("ink", 2), ("chalk white", 1)),
        mode=mode,
        one_way=one_way,
        lay_width_mm=width,
        marker_length_mm=x,
        end_allowance_mm=20.0,
        efficiency=0.7934,
        nested=True,
        cloth_m=3 * (x + 40) / 1000,
        garments=(
            "110 Harbour top, rib band, S",
            "110 Harbour top, rib band, M",
            "110 Harbour top, rib band, L",
        ),
        size_counts=(("S", 3), ("M", 3), ("L", 3)),
        pieces=tuple(pieces),
        bundles=("B-0007-01", "B-0007-02", "B-0007-03", "B-0007-04"),
    )


def crowded_lay(count: int = 200) -> LayPaper:
    """Very many pieces on one long lay."""
    shapes = [("front", body), ("back", lambda g: body(g, 30)), ("sleeve", sleeve)]
    sizes = ("XXS", "XS", "S", "M", "L", "XL", "2XL", "3XL")
    pieces: list[DrawnPiece] = []
    x, y, end = 4.0, 4.0, 4.0
    while len(pieces) < count:
        i = len(pieces)
        name, make = shapes[i % 3]
        size = sizes[(i // 3) % len(sizes)]
        outline = at(make(4.0 * (i % 8)), x, y)
        if max(p[1] for p in outline) > 1460:
            x, y = end + 4, 4.0
            continue
        pieces.append(DrawnPiece(i + 1, name, "110", size, i % 2 == 1, 0, outline))
        y = max(p[1] for p in outline) + 4
        end = max(end, max(p[0] for p in outline))
    counts = tuple((size, 8) for size in sizes)
    return replace(lay(2), pieces=tuple(pieces), marker_length_mm=end + 4, size_counts=counts)


def cuts(colour: str, first: int, *, neck: str = "rib band") -> tuple[GarmentCut, ...]:
    """Garments a, b and c in three bundles, the first of them with this number."""
    choice = f"{colour} (neck: {neck})"
    return tuple(
        GarmentCut(sign, "110", size, choice, f"B-0007-{first + n:02d}")
        for n, (sign, size) in enumerate((("a", "S"), ("b", "M"), ("c", "L")))
    )


def stacked_lay(number: int = 1, *, mode: str = "open", one_way: bool = True) -> LayPaper:
    """Nine plies of ink from two rolls and cloth to be bought, one of chalk with another neck on top; notches."""
    layers = 1 if mode == "open" else 2
    rows, first = [], 1
    for colour, spreads, roll, made in (
        ("ink", 2, RollPart("R-12", "4471", 2, 5000.0), cuts("ink", 1)),
        ("ink", 5, RollPart("R-13", "4480", 5, 12700.0), cuts("ink", 4)),
        ("ink", 2, RollPart("", "", 2, 5000.0), cuts("ink", 4)),
        ("chalk white", 1, None, cuts("chalk", 7, neck="facing")),
    ):
        last = first + spreads * layers - 1
        rows.append(PlyRow(first, last, colour, roll, made))
        first = last + 1
    signs = dict(zip("SML", "abc", strict=True))
    return replace(
        lay(number, mode=mode, one_way=one_way),
        plies=(("ink", 9), ("chalk white", 1)),
        size_counts=(("S", 1), ("M", 1), ("L", 1)),
        ply_rows=tuple(rows),
        pieces=tuple(
            replace(
                piece,
                garment=signs[piece.size],
                bundles=("B-0007-01", "B-0007-04"),
                marks=notched(piece.outline),
            )
            for piece in lay(number, one_way=one_way).pieces
        ),
    )


def notched(outline: tuple[Point, ...]) -> Marks:
    """Two notches in the middle of edges."""
    (ax, ay), (bx, by) = outline[0], outline[1]
    inwards = math.degrees(math.atan2(by - ay, bx - ax)) + 90
    return Marks(
        notches=(
            Notch((ax + bx) / 2, (ay + by) / 2, angle_deg=inwards),
            Notch(ax + (bx - ax) / 4, ay + (by - ay) / 4, depth_mm=8.0, angle_deg=inwards),
        )
    )


def rib_lay() -> LayPaper:
    """Bands only, on a tube of rib."""
    pieces = []
    x = 4.0
    for number, (size, length) in enumerate((("S", 500.0), ("M", 524.0), ("L", 548.0)), start=1):
        pieces.append(DrawnPiece(number, "neckband", "110", size, False, 0, at(band(length), x, 4)))
        x += 48
    return replace(
        lay(3, mode="folded"),
        fabric="Cotton rib 1 × 1",
        plies=(("ink", 2),),
        lay_width_mm=560.0,
        marker_length_mm=x,
        pieces=tuple(pieces),
        bundles=(),
        efficiency=0.81,
    )


def demand_rows(sizes: tuple[str, ...] = ("XS", "S", "M", "L", "XL", "2XL")) -> tuple[SizeRow, ...]:
    """Two colourways of one style, one of another."""
    return (
        SizeRow(
            "110",
            "Harbour top",
            "neck: rib band; sleeve: short",
            "ink",
            sizes,
            tuple(range(1, len(sizes) + 1)),
        ),
        SizeRow(
            "110",
            "Harbour top",
            "neck: rib band; sleeve: short",
            "chalk",
            sizes,
            (0, 2, 3, 2, 0, 0, *[1] * 20)[: len(sizes)],
        ),
        SizeRow("214", "Lantern dress", "sleeve: long with cuff", "moss", sizes, (1,) * len(sizes)),
    )


def cut_sheet_data(
    sizes: tuple[str, ...] = ("XS", "S", "M", "L", "XL", "2XL"), *, imperial: bool = False
) -> CutSheet:
    """A batch of three lays."""
    pieces = ("front", "back", "sleeve", "neckband")
    return CutSheet(
        heading=HEADING,
        demand=demand_rows(sizes),
        cloths=(
            ClothLine("Cotton jersey 180", "ink", 7.42, 7.81, 0.0, "8.0 m", "nested lays, 5 % shrinkage"),
            ClothLine("Cotton jersey 180", "chalk white", 2.48, 2.61, 3.2, "nothing", "nested lays"),
            ClothLine("Cotton rib 1 × 1", "ink", 0.38, 0.42, 0.0, "0.5 m", "estimate at 78 % efficiency"),
        ),
        lays=(lay(1), lay(2, one_way=False), rib_lay()),
        counts=tuple(
            CountRow(
                "110",
                "rib band, short",
                colour,
                piece,
                "Cotton rib 1 × 1" if piece == "neckband" else "Cotton jersey 180",
                sizes,
                tuple((2 if piece == "sleeve" else 1) * (i + 1) for i in range(len(sizes))),
            )
            for colour in ("ink", "chalk")
            for piece in pieces
        ),
        lengths=(
            LengthRow("clear elastic 6 mm", "110", "S", "shoulder", 158.0, None, 6),
            LengthRow("clear elastic 6 mm", "110", "M", "shoulder", 162.0, None, 10),
            LengthRow("clear elastic 6 mm", "214", "S", "shoulder", 162.0, None, 2),
            LengthRow("neckband", "110", "S", "neck", 500.0, 44.0, 3),
            LengthRow("neckband", "110", "M", "neck", 524.0, 44.0, 5),
        ),
        notions=(
            ("thread, ink, cone 5000 m", "4 cones"),
            ("size label", "27"),
            ("care label", "27"),
            ("clear elastic 6 mm", "12.4 m"),
        ),
        notes=("The ink jersey comes in two rolls: keep them apart.",),
        imperial=imperial,
    )


STEPS = (
    TicketStep(
        1,
        "Tape shoulders with clear elastic and join",
        "overlock",
        "514",
        1.2,
        "tape guide on, elastic unstretched",
    ),
    TicketStep(2, "Set sleeves flat", "overlock", "514", 2.1, "differential 1.3"),
    TicketStep(3, "Close sides and sleeves", "overlock", "514", 2.4, ""),
    TicketStep(4, "Join neckband into a ring", "lockstitch", "301", 0.5, "stretch needle 75"),
    TicketStep(5, "Set neckband", "overlock", "504", 1.8, "join a little behind the left shoulder seam"),
    TicketStep(
        6, "Topstitch neck", "coverstitch", "406", 1.6, "start 15 mm into the back; flatten seam crossings"
    ),
    TicketStep(7, "Hem sleeves", "coverstitch", "406", 1.4, ""),
    TicketStep(8, "Hem body", "coverstitch", "406", 1.7, ""),
    TicketStep(9, "Sew in labels", "lockstitch", "301", 0.8, ""),
    TicketStep(10, "Trim, press, check", "hand", "", 2.0, "count the needle back in"),
)


def full_steps() -> tuple[TicketStep, ...]:
    """The operations with machine, settings and quality notes as a thorough maker sets them down."""
    return tuple(
        replace(
            step,
            machine="Window overlock" if step.machine == "overlock" else step.machine,
            stitch_length_mm=2.5 if step.stitch_type else None,
            differential_feed=1.3 if step.machine == "overlock" else None,
            tension_note="loopers a little looser" if step.stitch_type == "514" else "",
            needle_note="stretch 75" if step.stitch_type in {"514", "406"} else "",
            quality_note=LOOKS.get(step.position, ""),
        )
        for step in STEPS
    )


LOOKS = {
    1: "elastic caught all along",
    5: "join of the band just behind the shoulder seam, band lies flat",
    6: "both needle rows on the cloth, none on the fold",
    8: "hem the same depth all round",
}


def many_steps(count: int) -> tuple[TicketStep, ...]:
    """As many operations as asked for, every second one with a note."""
    return tuple(
        TicketStep(
            i,
            f"{STEPS[i % 10].name}",
            STEPS[i % 10].machine,
            STEPS[i % 10].stitch_type,
            1.0 + i / 10,
            f"set-up note number {i}" if i % 2 else "",
        )
        for i in range(1, count + 1)
    )


def ticket(number: int = 3, steps: tuple[TicketStep, ...] = STEPS) -> BundleTicket:
    """One bundle of the batch."""
    return BundleTicket(
        number=f"B-0007-{number:02d}",
        batch="B-0007",
        style="110",
        style_name="Harbour top",
        options="neck: rib band; sleeve: short",
        colourway="ink",
        size=("XS", "S", "M", "L", "XL", "2XL")[number % 6],
        quantity=5 + number % 6,
        lay=1,
        shade_lot="roll 2, lot 4471",
        order="O-0031 Ferry Street",
        due_on="20 March 2026",
        pieces=(("front", 5), ("back", 5), ("sleeve", 10), ("neckband", 5)),
        notions=("10 × clear elastic 162 mm", "5 size labels M", "5 care labels"),
        steps=steps,
        url=f"http://192.168.1.20:8000/b/q7Zt{number:06d}Kd3vXw2LmPa/",
    )


def buy_list_data() -> BuyList:
    """Two suppliers and something without one."""
    return BuyList(
        heading=HEADING,
        lines=(
            BuyLine(
                "Millrace Cloth",
                "Cotton jersey 180",
                "ink",
                "7.81 m",
                "0 m",
                "8.0 m",
                "72.00",
                "for lays 1 and 2",
            ),
            BuyLine("Millrace Cloth", "Cotton rib 1 × 1", "ink", "0.42 m", "0 m", "0.5 m", "5.25"),
            BuyLine(
                "Ropewalk Haberdashery", "clear elastic 6 mm", "", "12.4 m", "2 m", "1 roll of 25 m", "4.10"
            ),
            BuyLine(
                "Ropewalk Haberdashery",
                "thread, cone 5000 m",
                "ink",
                "1 840 m",
                "0 cones",
                "4 cones",
                "15.60",
                "one a position of the overlock",
            ),
            BuyLine("", "size label", "", "27", "10", "1 pack of 100", "6.00"),
        ),
        total="102.95",
        currency="EUR",
    )


def with_names(change: Callable[[str], str]) -> tuple[CutSheet, BundleTicket, BuyList]:
    """The samples with every free name changed."""
    sheet, one, buy = cut_sheet_data(), ticket(), buy_list_data()
    sheet = replace(
        sheet,
        heading=replace(HEADING, workroom=change(HEADING.workroom)),
        demand=tuple(
            replace(
                r, style_name=change(r.style_name), options=change(r.options), colourway=change(r.colourway)
            )
            for r in sheet.demand
        ),
        cloths=tuple(replace(r, fabric=change(r.fabric), colour=change(r.colour)) for r in sheet.cloths),
        lays=tuple(
            replace(
                one_lay,
                fabric=change(one_lay.fabric),
                plies=tuple((change(c), n) for c, n in one_lay.plies),
                pieces=tuple(replace(p, name=change(p.name)) for p in one_lay.pieces),
            )
            for one_lay in sheet.lays
        ),
        counts=tuple(replace(r, piece=change(r.piece), cloth=change(r.cloth)) for r in sheet.counts),
        lengths=tuple(replace(r, what=change(r.what), where=change(r.where)) for r in sheet.lengths),
        notions=tuple((change(a), b) for a, b in sheet.notions),
        notes=tuple(change(n) for n in sheet.notes),
    )
    one = replace(
        one,
        style_name=change(one.style_name),
        options=change(one.options),
        colourway=change(one.colourway),
        order=change(one.order),
        pieces=tuple((change(p), n) for p, n in one.pieces),
        notions=tuple(change(n) for n in one.notions),
        steps=tuple(replace(s, name=change(s.name), setup_note=change(s.setup_note)) for s in one.steps),
    )
    buy = replace(
        buy,
        lines=tuple(
            replace(line, supplier=change(line.supplier), item=change(line.item), note=change(line.note))
            for line in buy.lines
        ),
    )
    return sheet, one, buy


def circle(radius: float, steps: int = 60) -> list[Point]:
    """A round piece."""
    return [
        (radius * math.cos(2 * math.pi * i / steps), radius * math.sin(2 * math.pi * i / steps))
        for i in range(steps)
    ]
