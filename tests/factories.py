"""Small makers of rows for tests: a tiny workroom, quick to build and easy to check by hand.

Makers of things with a unique name return the one that is there when it exists already, so a test may name
"ink jersey" twice. Everything else is made anew. Lengths are mm, cloth on hand is metres.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import User

from planner.core.outline import Edge, Outline, Point, rectangle, unfold
from planner.materials.models import (
    Fabric,
    FabricColour,
    Notion,
    NotionColour,
    Roll,
    StockMove,
    Supplier,
    Workroom,
)
from planner.orders.models import Customer, LineQuantity, Order, OrderLine
from planner.styles.family import options_of
from planner.styles.models import (
    ClothRole,
    Colourway,
    ColourwayCloth,
    Detail,
    Operation,
    Option,
    Piece,
    PieceOutline,
    Seam,
    SeamEdge,
    Size,
    SizeRange,
    Style,
    StyleNotion,
)
from tests.kept_rows import made_once

#: The day on which tests play unless they say otherwise.
TODAY = date(2031, 5, 12)
NOON = datetime(2031, 5, 12, 12, 0, tzinfo=UTC)
SIZES = "XS S M L XL XXL"

#: One order line: style, options by detail, colourway, quantities by size.
Line = tuple[Style, Mapping[str, str], str, Mapping[str, int]]


def make_person(username: str = "ada", *, maker: bool = True) -> User:
    """Somebody who can sign in with the password "needle and thread"; a maker unless told otherwise."""
    person = User.objects.filter(username=username).first()
    return person or User.objects.create_user(username, password="needle and thread", is_staff=maker)


def make_supplier(name: str = "Weaver's Yard") -> Supplier:
    """A supplier."""
    return Supplier.objects.get_or_create(name=name)[0]


def make_fabric(name: str = "jersey", **fields: Any) -> Fabric:
    """A one-way jersey, 1,500 mm wide with 15 mm selvedges (1,470 mm usable), 180 g/m², 12.00 a metre."""
    defaults: dict[str, Any] = {
        "full_width_mm": Decimal("1500"),
        "selvedge_mm": Decimal("15"),
        "weight_gsm": Decimal("180"),
        "stretch_percent": Decimal("40"),
        "damage_percent": Decimal("0"),
        "price": Decimal("12.00"),
    }
    return Fabric.objects.get_or_create(name=name, defaults={**defaults, **fields})[0]


def make_fabric_colour(
    fabric: Fabric | str = "jersey", name: str = "ink", swatch: str = "#26324a"
) -> FabricColour:
    """A fabric in a colour; the fabric may be given by name."""
    fabric = make_fabric(fabric) if isinstance(fabric, str) else fabric
    return FabricColour.objects.get_or_create(fabric=fabric, name=name, defaults={"swatch": swatch})[0]


#: Kind, unit, pack, units in a pack, price of a pack.
_NOTIONS = {
    "clear elastic 6 mm": ("elastic", "m", "25 m roll", "25", "6.00"),
    "overlock thread": ("thread", "m", "5000 m cone", "5000", "4.50"),
    "size label": ("label", "pcs", "100 labels", "100", "9.00"),
    "button 15 mm": ("button", "pcs", "bag of 50", "50", "7.50"),
}


def make_notion(name: str = "clear elastic 6 mm", **fields: Any) -> Notion:
    """A notion; elastic, thread, label and button come with sensible packs, other names as 10 m of tape."""
    kind, unit, pack, quantity, price = _NOTIONS.get(name, ("tape", "m", "10 m card", "10", "3.00"))
    defaults: dict[str, Any] = {
        "kind": kind,
        "unit": unit,
        "pack": pack,
        "pack_quantity": Decimal(quantity),
        "pack_price": Decimal(price),
        "waste_percent": Decimal("0"),
    }
    return Notion.objects.get_or_create(name=name, defaults={**defaults, **fields})[0]


def make_notion_colour(
    notion: Notion | str = "clear elastic 6 mm", name: str = "", swatch: str = ""
) -> NotionColour:
    """A notion in a colour, "" where colour does not matter."""
    notion = make_notion(notion) if isinstance(notion, str) else notion
    return NotionColour.objects.get_or_create(notion=notion, name=name, defaults={"swatch": swatch})[0]


def stock(
    colour: FabricColour | NotionColour,
    quantity: Decimal | float | str,
    *,
    roll: str = "",
    shade_lot: str = "",
    person: User | None = None,
) -> StockMove:
    """Puts metres of cloth (on a roll, when `roll` names one) or units of a notion on the shelf."""
    fields: dict[str, Any] = {"quantity": Decimal(str(quantity)), "reason": "bought", "moved_at": NOON}
    if isinstance(colour, NotionColour):
        return StockMove.objects.create(notion_colour=colour, person=person, **fields)
    on_roll = Roll.objects.create(fabric_colour=colour, number=roll, shade_lot=shade_lot) if roll else None
    return StockMove.objects.create(fabric_colour=colour, roll=on_roll, person=person, **fields)


def make_size_range(names: str = SIZES, name: str = "") -> SizeRange:
    """Sizes in order, as many as `names` has words; the range is called like that unless named."""
    size_range, is_new = SizeRange.objects.get_or_create(name=name or names)
    if is_new:
        words = enumerate(names.split())
        Size.objects.bulk_create(Size(size_range=size_range, name=w, position=i) for i, w in words)
    return size_range


def body_outline(
    length_mm: float, half_width_mm: float, neck_mm: float = 80.0, neck_drop_mm: float = 90.0
) -> Outline:
    """A front or back like a box with a quarter-ellipse neckline, unfolded from its half.

    Edges: hem and neckline, which run over the fold; left and right side, left and right shoulder.
    Area = 2 × (length × half_width − π/4 × neck × neck_drop), less a sliver for the flattened curve.
    """
    steps = 8
    curve: list[Point] = [
        (
            length_mm - neck_drop_mm * math.sin(i / steps * math.pi / 2),
            neck_mm * math.cos(i / steps * math.pi / 2),
        )
        for i in range(1, steps + 1)
    ]
    half = [(0.0, 0.0), (0.0, half_width_mm), (length_mm, half_width_mm), (length_mm, neck_mm), *curve]
    whole = unfold(half, [Edge("hem", 0), Edge("side", 1), Edge("shoulder", 2), Edge("neckline", 3)])
    return Outline(whole.points, tuple(_sided(whole, i) for i in range(len(whole.edges))))


def _sided(whole: Outline, index: int) -> Edge:
    """An edge that is there twice is called left or right after the half it lies in."""
    edge, path = whole.edges[index], whole.edge_path(index)
    if len(whole.edge_paths(edge.name)) == 1:
        return edge
    return Edge(f"{'left' if path[0][1] + path[-1][1] > 0 else 'right'} {edge.name}", edge.start)


def band_outline(length_mm: float, width_mm: float = 44.0) -> Outline:
    """A band that runs round the body: its length lies across the grain (y), its width along it (x)."""
    return rectangle(width_mm, length_mm, ("end", "fold edge", "end", "neckline"))


def make_style(
    number: str = "110",
    name: str = "box top",
    *,
    sizes: str = SIZES,
    body: str = "jersey",
    rib: str = "rib",
    colourways: Sequence[str] = ("ink",),
    with_outlines: bool = True,
) -> Style:
    """A tiny complete style.

    Front and back (role body), detail "neck" with the options "self band" (a band of body cloth) and
    "rib band" (of rib); seams shoulder (twice), side (twice) and neck (once, length of the band); operations;
    6 mm clear elastic along the shoulders with 20 mm tails; one size label. Each name in `colourways` is a
    colour of both fabrics and of the thread. In the first size the front is 600 mm long and its half 250 mm
    wide, so a shoulder is 170 mm; each further size adds 15 mm and 12.5 mm.

    In an empty workroom it is made once a process, later its rows are put in. The workroom's habits may be there.
    """
    how = (number, name, sizes, body, rib, tuple(colourways), with_outlines)
    made_once(f"style {how}", lambda: _make_style(*how), beside=Workroom)
    return Style.objects.select_related("size_range", "base_size").get(number=number)


def _make_style(
    number: str, name: str, sizes: str, body: str, rib: str, colourways: Sequence[str], with_outlines: bool
) -> None:
    size_range = make_size_range(sizes)
    in_order = list(size_range.sizes.all())
    style = Style.objects.create(
        number=number, name=name, size_range=size_range, base_size=in_order[len(in_order) // 2]
    )
    roles = {
        role: ClothRole.objects.create(style=style, name=role, position=i)
        for i, role in enumerate(("body", "rib"))
    }
    neck = Detail.objects.create(style=style, name="neck")
    options = {
        option: Option.objects.create(detail=neck, name=option, position=i)
        for i, option in enumerate(("self band", "rib band"))
    }
    pieces = _make_pieces(style, roles, options)
    if with_outlines:
        _make_outlines(pieces, in_order)
    _make_sewing(style, pieces, options)
    for position, colour in enumerate(colourways):
        _make_colourway(style, roles, {"body": body, "rib": rib}, colour, position)


def make_built_on(
    base: Style, number: str = "111", name: str = "long box top", *, colourways: Sequence[str] = ("moss",)
) -> Style:
    """A style built on another, with colourways of its own that fill the base's roles and nothing else."""
    style = Style.objects.create(
        number=number, name=name, base=base, size_range=base.size_range, base_size=base.base_size
    )
    roles = {role.name: role for role in base.roles.all()}
    for position, colour in enumerate(colourways):
        _make_colourway(style, roles, {"body": "jersey", "rib": "rib"}, colour, position)
    return style


def _make_pieces(
    style: Style, roles: Mapping[str, ClothRole], options: Mapping[str, Option]
) -> dict[str, Piece]:
    rows = [
        Piece(style=style, name="front", role=roles["body"], position=0),
        Piece(style=style, name="back", role=roles["body"], position=1),
        Piece(
            style=style,
            name="self neck band",
            role=roles["body"],
            option=options["self band"],
            position=2,
            is_band=True,
        ),
        Piece(
            style=style,
            name="rib neck band",
            role=roles["rib"],
            option=options["rib band"],
            position=3,
            is_band=True,
        ),
    ]
    return {piece.name: piece for piece in Piece.objects.bulk_create(rows)}


def _make_outlines(pieces: Mapping[str, Piece], sizes: Sequence[Size]) -> None:
    rows = []
    for i, size in enumerate(sizes):
        length, half = 600 + 15.0 * i, 250 + 12.5 * i
        shapes = {
            "front": body_outline(length, half),
            "back": body_outline(length, half, neck_drop_mm=30),
            "self neck band": band_outline(420 + 10.0 * i),
            "rib neck band": band_outline(370 + 10.0 * i, 64),
        }
        for name, shape in shapes.items():
            rows.append(
                PieceOutline(piece=pieces[name], size=size, shape=shape.as_json(), area_mm2=shape.area_mm2)
            )
    PieceOutline.objects.bulk_create(rows)


def _make_sewing(style: Style, pieces: Mapping[str, Piece], options: Mapping[str, Option]) -> None:
    steps = [
        ("join shoulders", "overlock", "504", "2.00", None, "elastic in the seam, 1 : 1"),
        ("close sides", "overlock", "504", "3.00", None, ""),
        (
            "set self band",
            "overlock",
            "504",
            "3.50",
            "self band",
            "join of the band behind the shoulder seam",
        ),
        ("set rib band", "overlock", "504", "3.00", "rib band", "join of the band behind the shoulder seam"),
        ("hem", "coverstitch", "406", "4.00", None, ""),
    ]
    operations = {
        row.name: row
        for row in Operation.objects.bulk_create(
            Operation(
                style=style,
                position=i,
                name=name,
                machine=machine,
                stitch_type=stitch,
                standard_minutes=Decimal(minutes),
                option=options.get(option or ""),
                setup_note=note,
            )
            for i, (name, machine, stitch, minutes, option, note) in enumerate(steps)
        )
    }
    plans = [
        ("shoulder", None, "join shoulders", (("front", "left shoulder"), ("back", "left shoulder"))),
        ("side", None, "close sides", (("front", "left side"), ("back", "left side"))),
        (
            "neck, self band",
            "self band",
            "set self band",
            (("self neck band", "neckline"), ("front", "neckline")),
        ),
        (
            "neck, rib band",
            "rib band",
            "set rib band",
            (("rib neck band", "neckline"), ("front", "neckline")),
        ),
    ]
    seams = Seam.objects.bulk_create(
        Seam(
            style=style,
            name=n,
            option=options.get(o or ""),
            times=1 + (o is None),
            operation=operations[op],
            position=i,
        )
        for i, (n, o, op, _) in enumerate(plans)
    )
    SeamEdge.objects.bulk_create(
        SeamEdge(seam=seam, piece=pieces[piece], edge=edge, side=min(i + 1, 2), position=i)
        for seam, (_, _, _, edges) in zip(seams, plans, strict=True)
        for i, (piece, edge) in enumerate(edges)
    )
    elastic, label = make_notion_colour("clear elastic 6 mm"), make_notion_colour("size label")
    StyleNotion.objects.bulk_create(
        [
            StyleNotion(
                style=style, notion_colour=elastic, basis="seam", seam=seams[0], tail_mm=Decimal("20")
            ),
            StyleNotion(style=style, notion_colour=label, basis="garment", quantity=Decimal("1")),
        ]
    )


def _make_colourway(
    style: Style, roles: Mapping[str, ClothRole], fabrics: Mapping[str, str], colour: str, position: int
) -> Colourway:
    thread = make_notion_colour("overlock thread", colour)
    colourway = Colourway.objects.create(style=style, name=colour, thread=thread, position=position)
    ColourwayCloth.objects.bulk_create(
        ColourwayCloth(
            colourway=colourway, role=roles[role], fabric_colour=make_fabric_colour(fabric, colour)
        )
        for role, fabric in fabrics.items()
    )
    return colourway


def make_customer(name: str = "Tidewater Stores") -> Customer:
    """A customer."""
    return Customer.objects.get_or_create(name=name)[0]


def make_order(
    lines: Sequence[Line] = (),
    *,
    number: str = "",
    customer: Customer | None = None,
    stock_make: bool = False,
    due_on: date = date(2031, 6, 2),
    state: str = "open",
    person: User | None = None,
    entered_on: date = TODAY,
) -> Order:
    """An order of a customer (or, with `stock_make`, of nobody).

    `lines` are (style, options by detail, colourway, quantities by size):
    ``make_order([(style, {"neck": "rib band"}, "ink", {"S": 2, "M": 3})])``. Raises DoesNotExist or KeyError
    for an option, a colourway or a size that the style does not have.
    """
    buyer = None if stock_make else customer or make_customer()
    order = Order.objects.create(
        number=number or f"O-{Order.objects.count() + 1:04d}",
        customer=buyer,
        due_on=due_on,
        state=state,
        entered_by=person,
        entered_on=entered_on,
    )
    for position, (style, options, colourway, quantities) in enumerate(lines):
        line = OrderLine.objects.create(
            order=order, style=style, colourway=style.colourways.get(name=colourway), position=position
        )
        offered = {(option.detail.name, option.name): option for option in options_of(style)}
        line.options.set([offered[choice] for choice in options.items()])
        sizes = {size.name: size for size in Size.objects.filter(size_range=style.size_range_id)}
        LineQuantity.objects.bulk_create(
            LineQuantity(line=line, size=sizes[size], quantity=n) for size, n in quantities.items()
        )
    return order
