"""An invented top with swap-in details, for tests: every construction of knit garments on one base.

Its pieces and measures stand in `construction_shapes.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from planner.core.outline import Outline
from planner.core.pattern_files.model import Marks
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
    Style,
    StyleNotion,
)
from tests.factories import make_fabric_colour, make_notion_colour, make_size_range
from tests.kept_rows import made_once
from tests.styles.construction_shapes import (
    HEM,
    SA,
    Measures,
    across,
    below_yoke,
    body,
    facing,
    flat_collar,
    gathers,
    half_front,
    pleats,
    pocket,
    sleeve,
    strip,
    tie_collar,
    twist_front,
    yoke,
)

DETAILS = {
    "neck": ("self band", "rib band", "facing", "binding", "flat collar", "tie collar"),
    "sleeve": ("plain", "gathered into a cuff", "pleated"),
    "front": ("plain", "gathered into a yoke", "centre-front seam", "twist"),
    "back": ("plain", "yoke"),
    "pocket": ("none", "patch"),
}
#: A pocket would lie across the seam, or in the twist.
EXCLUSIONS = (("front: centre-front seam", "pocket: patch"), ("front: twist", "pocket: patch"))
#: What fills each role in the one colourway, "ink".
CLOTHS = {"body": "jersey", "rib": "rib", "facing": "facing jersey", "contrast": "contrast jersey"}


@dataclass(frozen=True)
class Part:
    """A piece. `option` is "detail: option", "" for the base."""

    name: str
    draw: Callable[[Measures], Outline]
    option: str = ""
    role: str = "body"
    count: int = 1
    pair: bool = False
    is_band: bool = False
    edge_allowances: Mapping[str, float] = field(default_factory=dict)
    marks: Callable[[Measures], Marks] = lambda m: Marks()


@dataclass(frozen=True)
class Step:
    """An operation."""

    name: str
    machine: str
    stitch: str
    option: str = ""
    note: str = ""


@dataclass(frozen=True)
class Join:
    """A seam; edges are "piece: edge", or "2 × piece: edge" where two of them meet in one seam."""

    name: str
    step: str
    first: tuple[str, ...]
    second: tuple[str, ...] = ()
    option: str = ""
    times: int = 1
    ratio: str = "1"
    fullness: str = ""


HEMMED = {"hem": HEM}
PARTS = (
    Part("front", body, "front: plain", edge_allowances=HEMMED),
    Part("front yoke", yoke, "front: gathered into a yoke"),
    Part(
        "gathered front", lambda m: below_yoke(m, 1.5), "front: gathered into a yoke", edge_allowances=HEMMED,
        marks=gathers,
    ),
    Part(
        "half front", half_front, "front: centre-front seam", count=2, pair=True,
        edge_allowances={"hem": HEM, "centre front": 10},
    ),
    Part("twist front", twist_front, "front: twist", count=2, pair=True, edge_allowances=HEMMED),
    Part("back", body, "back: plain", edge_allowances=HEMMED),
    Part("back yoke", yoke, "back: yoke"),
    Part("lower back", below_yoke, "back: yoke", edge_allowances=HEMMED),
    Part("sleeve", sleeve, "sleeve: plain", count=2, pair=True, edge_allowances=HEMMED),
    Part(
        "gathered sleeve", lambda m: sleeve(m, 1.5, SA), "sleeve: gathered into a cuff", count=2, pair=True
    ),
    Part("cuff", lambda m: strip((3 * m.a - 100) / 2, 74, "sleeve edge", "fold edge"),
         "sleeve: gathered into a cuff", count=2, is_band=True),
    Part(
        "pleated sleeve", lambda m: sleeve(m, 1.25), "sleeve: pleated", count=2, pair=True,
        edge_allowances=HEMMED, marks=pleats,
    ),
    Part("self neck band", lambda m: strip(0.85 * 2 * m.n, 44, "neckline", "fold edge"), "neck: self band",
         is_band=True),
    Part("rib neck band", lambda m: strip(0.75 * 2 * m.n, 54, "neckline", "fold edge"), "neck: rib band", "rib",
         is_band=True),
    Part("front neck facing", facing, "neck: facing", "facing", edge_allowances={"outer edge": 0}),
    Part("back neck facing", facing, "neck: facing", "facing", edge_allowances={"outer edge": 0}),
    Part("neck binding", lambda m: strip(0.9 * 2 * m.n, 28, "neckline", "turned edge"), "neck: binding",
         is_band=True),
    Part("flat collar", flat_collar, "neck: flat collar", "contrast", count=4, pair=True),
    Part("tie collar", tie_collar, "neck: tie collar"),
    Part("patch pocket", pocket, "pocket: patch", edge_allowances={"opening": 20}),
)  # fmt: skip

SM, OL, CS = "sewing machine", "overlock", "coverstitch"
STEPS = (
    Step("sew on the pocket", SM, "301", "pocket: patch", "bar across the corners of the opening"),
    Step("turn in the pocket opening", CS, "406", "pocket: patch"),
    Step(
        "gather the front",
        OL,
        "504",
        "front: gathered into a yoke",
        "differential feed 2 : 1, longest stitch",
    ),
    Step("set the front yoke", OL, "504", "front: gathered into a yoke", "gathers below, yoke up"),
    Step("close the centre front", SM, "304", "front: centre-front seam", "zigzag 0.5 wide, 2.5 long"),
    Step("press the centre front open", "iron", "", "front: centre-front seam", "over a seam roll, no steam"),
    Step("turn the twist edges", CS, "406", "front: twist", "from the neck down, then twist left over right"),
    Step("set the back yoke", OL, "504", "back: yoke"),
    Step("join shoulders", OL, "504", note="elastic in the seam, 1 : 1 to the pattern"),
    Step("join the neck band", OL, "504", "neck: self band"),
    Step("set the self band", OL, "504", "neck: self band", "join a little behind the shoulder seam"),
    Step("join the rib", OL, "504", "neck: rib band"),
    Step("set the rib band", OL, "504", "neck: rib band", "join a little behind the shoulder seam"),
    Step("join the facings", SM, "301", "neck: facing", "press open"),
    Step("neaten the facing", OL, "504", "neck: facing", "outer edge only, without cutting"),
    Step("face the neck", SM, "301", "neck: facing", "clip, understitch"),
    Step("bind the neck", CS, "406", "neck: binding", "binder 28 mm in, 7 mm out"),
    Step("close the binding", OL, "504", "neck: binding"),
    Step("stitch the collar", SM, "301", "neck: flat collar", "trim, turn and press"),
    Step("set the collar", OL, "504", "neck: flat collar", "halves meet at the centre"),
    Step("close the ties", SM, "301", "neck: tie collar", "leave the neck open; turn with a loop"),
    Step("set the tie collar", OL, "504", "neck: tie collar"),
    Step("gather the sleeve heads", OL, "504", "sleeve: gathered into a cuff", "differential feed 2 : 1"),
    Step("fold the pleats", "hand", "", "sleeve: pleated", "towards the back, pin on the seam line"),
    Step("set sleeves", OL, "504"),
    Step("close sides and underarms", OL, "504"),
    Step("close the cuffs", OL, "504", "sleeve: gathered into a cuff"),
    Step("set the cuffs", OL, "504", "sleeve: gathered into a cuff", "needle tension up to gather"),
    Step("hem", CS, "406"),
)

FRONTS = ("front", "front yoke", "half front", "twist front")
BACKS = ("back", "back yoke")
NECK = (
    "front: neckline", "front yoke: neckline", "2 × half front: neckline", "2 × twist front: neckline",
    "back: neckline", "back yoke: neckline",
)  # fmt: skip
ARMHOLE = tuple(f"{piece}: armhole" for piece in (*FRONTS, "gathered front", *BACKS, "lower back"))
HEMS = ("front", "gathered front", "2 × half front", "2 × twist front", "back", "lower back")
SIDES = ("front", "gathered front", "half front", "twist front")
CUFFED = "sleeve: gathered into a cuff"
JOINS = (
    Join("shoulder", "join shoulders", tuple(f"{p}: shoulder" for p in FRONTS),
         tuple(f"{p}: shoulder" for p in BACKS), times=2),
    Join("side", "close sides and underarms", tuple(f"{p}: side" for p in SIDES),
         ("back: side", "lower back: side"), times=2),
    Join("hem", "hem", tuple(f"{p}: hem" for p in HEMS)),
    Join("gathering of the front", "gather the front", ("gathered front: yoke edge",),
         option="front: gathered into a yoke"),
    Join("front yoke", "set the front yoke", ("front yoke: yoke edge",), ("gathered front: yoke edge",),
         "front: gathered into a yoke", ratio="1.5", fullness="gathered"),
    Join("back yoke", "set the back yoke", ("back yoke: yoke edge",), ("lower back: yoke edge",), "back: yoke"),
    Join("centre front", "close the centre front", ("half front: centre front",), ("half front: centre front",),
         "front: centre-front seam"),
    Join("twist edge", "turn the twist edges", ("twist front: twist edge",), option="front: twist", times=2),
    Join("self band join", "join the neck band", ("self neck band: end",), ("self neck band: end",),
         "neck: self band"),
    Join("self band", "set the self band", NECK, ("self neck band: neckline",), "neck: self band",
         ratio="0.85", fullness="stretched"),
    Join("rib join", "join the rib", ("rib neck band: end",), ("rib neck band: end",), "neck: rib band"),
    Join("rib band", "set the rib band", NECK, ("rib neck band: neckline",), "neck: rib band",
         ratio="0.75", fullness="stretched"),
    Join("facing ends", "join the facings", ("front neck facing: end",), ("back neck facing: end",),
         "neck: facing", times=2),
    Join("facing edge", "neaten the facing", ("front neck facing: outer edge", "back neck facing: outer edge"),
         option="neck: facing"),
    Join("faced neck", "face the neck", NECK, ("front neck facing: neckline", "back neck facing: neckline"),
         "neck: facing"),
    Join("bound neck", "bind the neck", NECK, ("neck binding: neckline",), "neck: binding",
         ratio="0.9", fullness="stretched"),
    Join("binding join", "close the binding", ("neck binding: end",), ("neck binding: end",), "neck: binding"),
    Join("collar edge", "stitch the collar", ("2 × flat collar: end", "flat collar: outer edge"),
         ("2 × flat collar: end", "flat collar: outer edge"), "neck: flat collar", times=2),
    Join("collar", "set the collar", NECK, ("2 × flat collar: neck edge",), "neck: flat collar"),
    Join("tie", "close the ties", ("tie collar: tie", "tie collar: tie end"),
         ("tie collar: under tie", "tie collar: under tie end"), "neck: tie collar", times=2),
    Join("tie collar", "set the tie collar", NECK, ("tie collar: neckline",), "neck: tie collar"),
    Join("pocket", "sew on the pocket", ("2 × patch pocket: side", "patch pocket: bottom"),
         option="pocket: patch"),
    Join("pocket opening", "turn in the pocket opening", ("patch pocket: opening",), option="pocket: patch"),
    Join("armhole", "set sleeves", ARMHOLE, ("sleeve: head",), "sleeve: plain", times=2),
    Join("gathered armhole", "set sleeves", ARMHOLE, ("gathered sleeve: head",), CUFFED, 2, "1.5", "gathered"),
    Join("pleated armhole", "set sleeves", ARMHOLE, ("pleated sleeve: head",), "sleeve: pleated", 2, "1.25",
         "pleated"),
    *(Join(f"{name} underarm", "close sides and underarms", (f"{name}: underarm",), (f"{name}: underarm",),
           option, 2) for name, option in (
        ("sleeve", "sleeve: plain"), ("gathered sleeve", CUFFED), ("pleated sleeve", "sleeve: pleated"))),
    Join("gathering of the sleeve", "gather the sleeve heads", ("gathered sleeve: head",), (), CUFFED, 2),
    Join("cuff join", "close the cuffs", ("cuff: end",), ("cuff: end",), CUFFED, 2),
    Join("cuff", "set the cuffs", ("cuff: sleeve edge",), ("gathered sleeve: hem",), CUFFED, 2, "2", "gathered"),
    Join("sleeve hem", "hem", ("sleeve: hem",), (), "sleeve: plain", 2),
    Join("pleated sleeve hem", "hem", ("pleated sleeve: hem",), (), "sleeve: pleated", 2),
)  # fmt: skip


def make_swap_top(number: str = "160", *, tie_lies_across: bool = False) -> Style:
    """The top in the database, in sizes S, M and L and the colourway ink.

    Clear elastic stays both shoulders, 20 mm tails; one size label. With `tie_lies_across` the tie collar is drawn
    across the cloth, which is narrower than that.
    """
    name = f"swap top {number}{' with a wide tie' * tie_lies_across}"
    made_once(name, lambda: _make_swap_top(number, tie_lies_across=tie_lies_across))
    return Style.objects.get(number=number)


def _make_swap_top(number: str, *, tie_lies_across: bool) -> None:
    size_range = make_size_range("S M L")
    sizes = list(size_range.sizes.all())
    style = Style.objects.create(number=number, name="swap top", size_range=size_range, base_size=sizes[1])
    options = _make_options(style)
    roles = {
        role: ClothRole.objects.create(style=style, name=role, position=i) for i, role in enumerate(CLOTHS)
    }
    pieces = {}
    for i, part in enumerate(PARTS):
        piece = pieces[part.name] = Piece.objects.create(
            style=style, option=options.get(part.option), name=part.name, role=roles[part.role],
            count=part.count, pair=part.pair, is_band=part.is_band, position=i,
            seam_allowance_mm=Decimal(SA), edge_allowances=dict(part.edge_allowances),
        )  # fmt: skip
        for size in sizes:
            shape = part.draw(Measures(size.position))
            if tie_lies_across and part.name == "tie collar":
                shape = across(shape)
            PieceOutline.objects.create(
                piece=piece, size=size, shape=shape.as_json(), area_mm2=shape.area_mm2,
                marks=part.marks(Measures(size.position)).as_json(),
            )  # fmt: skip
    _make_sewing(style, pieces, options)
    colourway = Colourway.objects.create(
        style=style, name="ink", thread=make_notion_colour("overlock thread", "ink")
    )
    for role, fabric in CLOTHS.items():
        ColourwayCloth.objects.create(
            colourway=colourway, role=roles[role], fabric_colour=make_fabric_colour(fabric, "ink")
        )


def _make_options(style: Style) -> dict[str, Option]:
    options = {}
    for i, (detail, names) in enumerate(DETAILS.items()):
        row = Detail.objects.create(style=style, name=detail, position=i)
        for j, name in enumerate(names):
            options[f"{detail}: {name}"] = Option.objects.create(detail=row, name=name, position=j)
    for one, other in EXCLUSIONS:
        options[one].not_with.add(options[other])
    return options


def _make_sewing(style: Style, pieces: Mapping[str, Piece], options: Mapping[str, Option]) -> None:
    steps = {
        step.name: Operation.objects.create(
            style=style, position=i, name=step.name, machine=step.machine, stitch_type=step.stitch,
            option=options.get(step.option), setup_note=step.note,
        )
        for i, step in enumerate(STEPS)
    }  # fmt: skip
    for i, join in enumerate(JOINS):
        seam = Seam.objects.create(
            style=style, option=options.get(join.option), name=join.name, times=join.times, position=i,
            operation=steps[join.step], ratio=Decimal(join.ratio), fullness=join.fullness,
        )  # fmt: skip
        edges = [(1, words) for words in join.first] + [(2, words) for words in join.second]
        for position, (side, words) in enumerate(edges):
            takes, _, where = words.rpartition(" × ")
            piece, edge = where.split(": ")
            SeamEdge.objects.create(
                seam=seam, piece=pieces[piece], edge=edge, side=side, takes=int(takes or 1), position=position
            )
    shoulder = style.seams.get(name="shoulder")
    elastic, label = make_notion_colour("clear elastic 6 mm"), make_notion_colour("size label")
    StyleNotion.objects.create(
        style=style, notion_colour=elastic, basis="seam", seam=shoulder, tail_mm=Decimal("20")
    )
    StyleNotion.objects.create(style=style, notion_colour=label, basis="garment")
