"""Hand-made styles, cloths and workshops whose figures can be checked with a pencil. No database."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from planner.core.outline import Edge, Outline, make_outline, rectangle
from planner.core.spec import (
    Cloth,
    ClothKey,
    ColourwaySpec,
    Demand,
    EdgeRef,
    Garment,
    Notion,
    NotionKey,
    NotionUse,
    OperationSpec,
    PieceSpec,
    SeamSpec,
    StyleSpec,
    Workshop,
    make_options,
)
from planner.core.walk import SeamWalk

SIZES = ("S", "M", "L")
JERSEY = ClothKey("jersey", "ink")
RIB = ClothKey("rib", "ink")
THREAD = NotionKey("sewing thread", "ink")
ELASTIC = NotionKey("clear elastic 6 mm")
LABEL = NotionKey("size label")


def make_cloth(key: ClothKey = JERSEY, **changes: Any) -> Cloth:
    """1,400 mm usable, 180 g/m², two-way, nothing lost to ends, washing or flaws, 10.00 a metre by 0.1 m."""
    plain = Cloth(
        key=key,
        usable_width_mm=1400.0,
        weight_gsm=180.0,
        one_way=False,
        end_allowance_mm=0.0,
        price=Decimal("10.00"),
    )
    return replace(plain, **changes)


def make_notion(key: NotionKey, **changes: Any) -> Notion:
    """An elastic on 25 m rolls at 4.00, no waste, none in stock."""
    plain = Notion(
        key=key,
        kind="elastic",
        unit="m",
        pack="25 m roll",
        pack_quantity=Decimal("25"),
        pack_price=Decimal("4.00"),
    )
    return replace(plain, **changes)


def body_outline(length_mm: float, width_mm: float) -> Outline:
    """A rectangle with two shoulders of 150 mm at its top and the neck between them.

    Edges: hem, side, shoulder, neck, shoulder, side. Sides and shoulders come twice under one name.
    """
    w, top = width_mm, length_mm
    points = [(0, w), (0, 0), (top, 0), (top, 150), (top, w - 150), (top, w)]
    names = ["hem", "side", "shoulder", "neck", "shoulder", "side"]
    return make_outline(points, [Edge(name, i) for i, name in enumerate(names)])


def make_tee(number: str = "1", **changes: Any) -> StyleSpec:
    """A boxy top in S, M and L; the body is 700 × 480, 500 or 520 mm, the sleeve 200 × 400 mm.

    In M: front and back 350,000 mm² each, two sleeves of 80,000 mm²: 860,000 mm² of jersey. The neck is a rib
    band (400 × 60 mm of rib) or a self band (400 × 40 mm of jersey). Shoulders 150 mm, sides 700 mm.
    """
    widths = dict(zip(SIZES, (480.0, 500.0, 520.0), strict=True))
    body = {size: body_outline(700.0, width) for size, width in widths.items()}
    sleeve = same_in_all(rectangle(200.0, 400.0, ("underarm", "hem", "underarm", "head")))
    rib_band = same_in_all(rectangle(400.0, 60.0, ("seam", "join", "seam", "join")))
    self_band = same_in_all(rectangle(400.0, 40.0, ("seam", "join", "seam", "join")))
    rib, plain = ("neck", "rib band"), ("neck", "self band")
    tee = StyleSpec(
        number=number,
        name="boxy top",
        sizes=SIZES,
        base_size="M",
        details={"neck": ("rib band", "self band")},
        pieces=(
            PieceSpec("front", "body", 1, False, True, None, body),
            PieceSpec("back", "body", 1, False, True, None, body),
            PieceSpec("sleeve", "body", 2, True, True, None, sleeve),
            PieceSpec("rib band", "rib", 1, False, True, rib, rib_band, is_band=True),
            PieceSpec("self band", "body", 1, False, True, plain, self_band, is_band=True),
        ),
        seams=(
            SeamSpec(
                "shoulder",
                None,
                (EdgeRef("front", "shoulder"), EdgeRef("back", "shoulder", 2)),
                2,
                "shoulders",
            ),
            SeamSpec("side", None, (EdgeRef("front", "side"), EdgeRef("back", "side", 2)), 2, "sides"),
            SeamSpec("rib neck", rib, (EdgeRef("rib band", "seam"),), 1, "neck"),
            SeamSpec("self neck", plain, (EdgeRef("self band", "seam"),), 1, "neck"),
        ),
        operations=(
            OperationSpec("shoulders", None, 1, "overlock", "504", 1.5),
            OperationSpec("neck", None, 2, "sewing machine", "301", 3.0),
            OperationSpec("sides", None, 3, "overlock", "504", 2.5),
            OperationSpec("press", None, 4, "iron", "", 1.0),
        ),
        notions=(
            NotionUse(ELASTIC, None, "seam", seam="shoulder", tail_mm=20.0),
            NotionUse(LABEL, None, "garment", quantity=1),
        ),
        colourways={"ink": ColourwaySpec("ink", {"body": JERSEY, "rib": RIB}, THREAD)},
    )
    return replace(tee, **changes)


def same_in_all(outline: Outline) -> dict[str, Outline]:
    """One outline for every size."""
    return dict.fromkeys(SIZES, outline)


def make_shop(
    *styles: StyleSpec,
    jersey: Cloth | None = None,
    notions: Mapping[NotionKey, Notion] | None = None,
    **changes: Any,
) -> Workshop:
    """The boxy top (or the given styles), plain jersey and rib, thread by 1,000 m cones, elastic, labels."""
    stock = {
        THREAD: make_notion(
            THREAD, kind="thread", pack="1000 m cone", pack_quantity=Decimal(1000), pack_price=Decimal("3.00")
        ),
        ELASTIC: make_notion(ELASTIC),
        LABEL: make_notion(LABEL, kind="label", unit="pcs", pack="100 labels", pack_quantity=Decimal(100)),
    }
    cloths = {JERSEY: jersey or make_cloth(), RIB: make_cloth(RIB, usable_width_mm=1000.0)}
    plain = Workshop(
        styles={style.number: style for style in styles or (make_tee(),)},
        cloths=cloths,
        notions={**stock, **(notions or {})},
    )
    return replace(plain, **changes)


def wanted(quantity: int, size: str = "M", neck: str = "rib band", style: str = "1") -> Demand:
    """So many ink tops."""
    return Demand(Garment(style, make_options({"neck": neck}), "ink", size), quantity)


def sentences(walks: Iterable[SeamWalk]) -> list[str]:
    """What does not fit or could not be measured, a sentence each; nothing where all fits."""
    found: list[str] = []
    for walk in walks:
        options = ", ".join(f"{detail}: {option}" for detail, option in walk.options)
        seam = f"{walk.seam} ({options})" if options else walk.seam
        found += [f"{seam}: {said}" for said in (walk.sentence(), *walk.unmeasured) if said]
    return found
