"""What each construction takes, worked out by hand, and how it is ordered in a browser.

The measures stand in `construction_shapes.py`. In S the opening of the neck is 480, a shoulder 120, a side 420, an
armhole 360, the body 480 wide and 600 long; in L 520, 130, 430, 400, 520 and 630. Thread ratios: 301 takes 2.5,
304 7, 406 18, 504 14 times the length of its seam.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from django.test import Client

from planner.orders.models import Order

PLAIN = {"neck": "rib band", "sleeve": "plain", "front": "plain", "back": "plain", "pocket": "none"}
RIB_BAND = {"rib neck band": (1, "rib")}
SLEEVE = {"sleeve": (2, "body")}
FRONT, BACK = {"front": (1, "body")}, {"back": (1, "body")}
YOKE_FRONT = {"front yoke": (1, "body"), "gathered front": (1, "body")}
YOKE_BACK = {"back yoke": (1, "body"), "lower back": (1, "body")}

#: Thread of what every garment has, mm in S and in L.
BASE = (
    # shoulders 2 × 120 × 14 + sides 2 × 420 × 14 + hem of front and back 2 × 480 × 18
    3_360 + 11_760 + 17_280,
    # 2 × 130 × 14 + 2 × 430 × 14 + 2 × 520 × 18
    3_640 + 12_040 + 18_720,
)
#: Thread of each option besides, mm in S and in L; none for those that are not named.
THREAD = {
    # set 480 × 14, join 30 × 14: the band is 44 wide as cut, 30 between its seam lines, folded 15
    ("neck", "self band"): (6_720 + 420, 7_280 + 420),
    # set 480 × 14, join 40 × 14: 54 as cut
    ("neck", "rib band"): (6_720 + 560, 7_280 + 560),
    # ends 2 × 50 × 2.5, outer edge 2 × 240 × 14, neck 480 × 2.5
    ("neck", "facing"): (250 + 6_720 + 1_200, 250 + 7_280 + 1_300),
    # bind 480 × 18, join 14 × 14: 28 as cut
    ("neck", "binding"): (8_640 + 196, 9_360 + 196),
    # two halves of 75 + 330 + 75 (in L 75 + 350 + 75) × 2.5, set 480 × 14
    ("neck", "flat collar"): (2_400 + 6_720, 2_500 + 7_280),
    # two ties of 550 + 30 × 2.5, set 480 × 14
    ("neck", "tie collar"): (2_900 + 6_720, 2_900 + 7_280),
    # set 2 × 360 × 14, underarms 2 × 130 × 14, hems 2 × 260 × 18 (in L 300)
    ("sleeve", "plain"): (10_080 + 3_640 + 9_360, 11_200 + 3_640 + 10_800),
    # gather 2 × 540 × 14 (in L 600), set, underarms, join cuffs 2 × 60 × 14, set cuffs 2 × 220 × 14 (in L 250)
    ("sleeve", "gathered into a cuff"): (
        15_120 + 10_080 + 3_640 + 1_680 + 6_160,
        16_800 + 11_200 + 3_640 + 1_680 + 7_000,
    ),
    # set, underarms, hems 2 × 350 × 18 (in L 400)
    ("sleeve", "pleated"): (10_080 + 3_640 + 12_600, 11_200 + 3_640 + 14_400),
    # gather 720 × 14 (in L 780), set the yoke 480 × 14, a hem that is 240 (in L 260) longer × 18
    ("front", "gathered into a yoke"): (10_080 + 6_720 + 4_320, 10_920 + 7_280 + 4_680),
    # 600 × 7, and pressing takes none
    ("front", "centre-front seam"): (4_200, 4_410),
    # twist edges 2 × 13/12 × 600 × 18 (in L 630); hems 2 × (240 + 5/12 × 600), that is 500 longer (in L 525), × 18
    ("front", "twist"): (23_400 + 9_000, 24_570 + 9_450),
    # 480 × 14
    ("back", "yoke"): (6_720, 7_280),
    # sides and bottom (120 + 100 + 120) × 2.5, opening 100 × 18
    ("pocket", "patch"): (850 + 1_800, 850 + 1_800),
}


@dataclass(frozen=True)
class Case:
    """A construction: what is chosen besides the plain, every piece a garment takes with its role.

    `areas_mm2` are those of the pieces in S and in L by role, for roles other than the body's.
    """

    name: str
    options: dict[str, str]
    pieces: dict[str, tuple[int, str]]
    pairs: tuple[str, ...] = ("sleeve",)
    areas_mm2: dict[str, tuple[float, float]] = field(default_factory=dict)

    @property
    def chosen(self) -> dict[str, str]:
        return PLAIN | self.options

    def thread_mm(self) -> tuple[float, float]:
        """Of one S and of one L."""
        parts = [BASE, *(THREAD.get(option, (0, 0)) for option in self.chosen.items())]
        return sum(small for small, _ in parts), sum(large for _, large in parts)


# 54 × (360 + 14) in S, 54 × (390 + 14) in L
RIB_AREA = {"rib": (20_196.0, 21_816.0)}
CASES = (
    Case("self-fabric band", {"neck": "self band"}, FRONT | BACK | SLEEVE | {"self neck band": (1, "body")}),
    Case("rib band", {}, FRONT | BACK | SLEEVE | RIB_BAND, areas_mm2=RIB_AREA),
    Case(
        "facing", {"neck": "facing"},
        FRONT | BACK | SLEEVE | {"front neck facing": (1, "facing"), "back neck facing": (1, "facing")},
        areas_mm2={"facing": (28_956.0, 31_236.0)},  # 2 × 57 × (240 + 14), 2 × 57 × (260 + 14)
    ),
    Case("binding", {"neck": "binding"}, FRONT | BACK | SLEEVE | {"neck binding": (1, "body")}),
    Case(
        "flat collar", {"neck": "flat collar"}, FRONT | BACK | SLEEVE | {"flat collar": (4, "contrast")},
        pairs=("sleeve", "flat collar"),
        # 4 × 74 × (247 + 358) / 2, 4 × 74 × (267 + 378) / 2
        areas_mm2={"contrast": (89_540.0, 95_460.0)},
    ),
    Case("tie collar", {"neck": "tie collar"}, FRONT | BACK | SLEEVE | {"tie collar": (1, "body")}),
    Case(
        "gathers into a yoke", {"front": "gathered into a yoke"}, YOKE_FRONT | BACK | SLEEVE | RIB_BAND,
        areas_mm2=RIB_AREA,
    ),
    Case(
        "front and back yoke", {"front": "gathered into a yoke", "back": "yoke"},
        YOKE_FRONT | YOKE_BACK | SLEEVE | RIB_BAND, areas_mm2=RIB_AREA,
    ),
    Case(
        "gathered sleeve with a cuff", {"sleeve": "gathered into a cuff"},
        FRONT | BACK | RIB_BAND | {"gathered sleeve": (2, "body"), "cuff": (2, "body")},
        pairs=("gathered sleeve",), areas_mm2=RIB_AREA,
    ),
    Case(
        "pleated sleeve", {"sleeve": "pleated"}, FRONT | BACK | RIB_BAND | {"pleated sleeve": (2, "body")},
        pairs=("pleated sleeve",), areas_mm2=RIB_AREA,
    ),
    Case(
        "patch pocket", {"pocket": "patch"}, FRONT | BACK | SLEEVE | RIB_BAND | {"patch pocket": (1, "body")},
        areas_mm2=RIB_AREA,
    ),
    Case(
        "centre-front seam", {"front": "centre-front seam"},
        BACK | SLEEVE | RIB_BAND | {"half front": (2, "body")}, pairs=("sleeve", "half front"),
        areas_mm2=RIB_AREA,
    ),
    Case(
        "twist front", {"front": "twist"}, BACK | SLEEVE | RIB_BAND | {"twist front": (2, "body")},
        pairs=("sleeve", "twist front"), areas_mm2=RIB_AREA,
    ),
    Case(
        "pieces of many details at once",
        {"neck": "tie collar", "sleeve": "gathered into a cuff", "front": "gathered into a yoke", "back": "yoke",
         "pocket": "patch"},
        YOKE_FRONT | YOKE_BACK | {"tie collar": (1, "body"), "gathered sleeve": (2, "body"), "cuff": (2, "body"),
                                  "patch pocket": (1, "body")},
        pairs=("gathered sleeve",),
    ),
)  # fmt: skip
BY_NAME = {case.name: case for case in CASES}


def order_fields(options: dict[str, str]) -> dict[str, object]:
    """What the browser sends for two S and one L."""
    fields: dict[str, object] = {
        "customer": "Tidewater Stores",
        "due_on": "2031-06-02",
        "note": "",
        "line": ["0"],
    }
    fields |= {"line-0-style": "160", "line-0-colourway": "ink", "line-0-size-S": "2", "line-0-size-L": "1"}
    return fields | {f"line-0-option-{detail}": option for detail, option in options.items()}


def enter(client: Client, options: dict[str, str]) -> Order:
    """An order entered in the browser."""
    answer = client.post("/orders/new/", order_fields(options))
    assert answer.status_code == 302, answer.content.decode()
    return Order.objects.get()
