"""The edges of whole pieces in the order in which they run round them, by kind of piece.

All of it is common practice, without a published source.
"""

from __future__ import annotations

from collections.abc import Mapping

from planner.core.edge_kinds import (
    ARMHOLE,
    BOXY_SHOULDER,
    BOXY_SIDE,
    CENTRE,
    COLLAR_END,
    COLLAR_NECK,
    COLLAR_OUTER,
    CROTCH,
    CURVED_SIDE,
    FACING_ARMHOLE,
    FACING_CENTRE,
    FACING_OUTER,
    FACING_SHOULDER,
    FACING_SIDE,
    FACING_TOP,
    HEM,
    INSEAM,
    LONG_SIDE,
    NECKLINE,
    ONE_PIECE_SHOULDER,
    ONE_PIECE_SIDE,
    ONE_PIECE_SLEEVE_HEM,
    ONE_PIECE_UNDERARM,
    OUTER_EDGE,
    POCKET_EDGE,
    POCKET_OPENING,
    SHOULDER,
    SIDE,
    SLEEVE_HEAD,
    SLEEVE_HEM,
    UNDERARM,
    UPPER_YOKE_EDGE,
    WAIST,
    YOKE_ARMHOLE,
    YOKE_EDGE,
    YOKE_NECKLINE,
    YOKE_SHOULDER,
    Kind,
)

#: Edges of each kind of piece in the order of the ring, whole and as a half. A half is read either way round.
_BODY = (HEM, SIDE, ARMHOLE, SHOULDER, NECKLINE, SHOULDER, ARMHOLE, SIDE)
_HALF_BODY = (HEM, SIDE, ARMHOLE, SHOULDER, NECKLINE, CENTRE)
_BOXY = (HEM, BOXY_SIDE, BOXY_SHOULDER, NECKLINE, BOXY_SHOULDER, BOXY_SIDE)
_HALF_BOXY = (HEM, BOXY_SIDE, BOXY_SHOULDER, NECKLINE, CENTRE)
_SLEEVE_IN_ONE = (ONE_PIECE_SIDE, ONE_PIECE_UNDERARM, ONE_PIECE_SLEEVE_HEM, ONE_PIECE_SHOULDER)
_T_SHAPED = (HEM, *_SLEEVE_IN_ONE, NECKLINE, *_SLEEVE_IN_ONE[::-1])
_HALF_T_SHAPED = (HEM, *_SLEEVE_IN_ONE, NECKLINE, CENTRE)
_CURVED_IN_ONE = (CURVED_SIDE, ONE_PIECE_SLEEVE_HEM, ONE_PIECE_SHOULDER)
_KIMONO = (HEM, *_CURVED_IN_ONE, NECKLINE, *_CURVED_IN_ONE[::-1])
_HALF_KIMONO = (HEM, *_CURVED_IN_ONE, NECKLINE, CENTRE)
_UNDER_YOKE = (HEM, SIDE, ARMHOLE, UPPER_YOKE_EDGE, ARMHOLE, SIDE)
_HALF_UNDER_YOKE = (HEM, SIDE, ARMHOLE, UPPER_YOKE_EDGE, CENTRE)
_TOPS = (
    _BODY, _HALF_BODY, _BOXY, _HALF_BOXY, _T_SHAPED, _HALF_T_SHAPED, _KIMONO, _HALF_KIMONO,
)  # fmt: skip
_YOKE = (YOKE_EDGE, YOKE_ARMHOLE, YOKE_SHOULDER, YOKE_NECKLINE, YOKE_SHOULDER, YOKE_ARMHOLE)
_HALF_YOKE = (YOKE_EDGE, YOKE_ARMHOLE, YOKE_SHOULDER, YOKE_NECKLINE, CENTRE)
SKIRT = (HEM, LONG_SIDE, WAIST, LONG_SIDE)
HALF_SKIRT = (HEM, LONG_SIDE, WAIST, CENTRE)
TROUSERS = (HEM, INSEAM, CROTCH, WAIST, LONG_SIDE)
_SLEEVE = (SLEEVE_HEM, UNDERARM, SLEEVE_HEAD, UNDERARM)
_NECK_FACING = (OUTER_EDGE, FACING_SHOULDER, YOKE_NECKLINE, FACING_SHOULDER)
_HALF_NECK_FACING = (OUTER_EDGE, FACING_SHOULDER, YOKE_NECKLINE, FACING_CENTRE)
_ARMHOLE_FACING = (FACING_SIDE, FACING_ARMHOLE, FACING_TOP, FACING_OUTER)
_COLLAR = (COLLAR_NECK, COLLAR_END, COLLAR_OUTER, COLLAR_END)
_POCKET = (POCKET_OPENING, POCKET_EDGE)
TEMPLATES: Mapping[str, tuple[tuple[Kind, ...], ...]] = {
    "body": (*_TOPS, _UNDER_YOKE, _HALF_UNDER_YOKE),
    "skirt": (SKIRT, HALF_SKIRT),
    "trousers": (TROUSERS,),
    "yoke": (_YOKE, _HALF_YOKE),
    "sleeve": (_SLEEVE,),
    "neck facing": (_NECK_FACING, _HALF_NECK_FACING),
    "armhole facing": (_ARMHOLE_FACING,),
    "facing": (_NECK_FACING, _HALF_NECK_FACING, _ARMHOLE_FACING),
    "collar": (_COLLAR,),
    "pocket": (_POCKET,),
    "": (*_TOPS, _UNDER_YOKE, _HALF_UNDER_YOKE, _SLEEVE, TROUSERS, SKIRT, HALF_SKIRT),
}
#: Words in a piece's name that say what kind it is; the first that is found counts.
WORDS: tuple[tuple[str, str], ...] = (
    (r"armhole facing", "armhole facing"),
    (r"neck(?:line)? facing", "neck facing"),
    (r"facing", "facing"),
    (r"pocket", "pocket"),
    (r"(?:waist|neck|hem|cuff)?\s?band|cuff|binding|tape|strip|casing|strap|loop|tie|belt|placket", "strip"),
    (r"collar", "collar"),
    (r"yoke", "yoke"),
    (r"sleeve", "sleeve"),
    (r"skirt", "skirt"),
    (r"trousers?|shorts?|leggings?|legs?|pants?|culottes?", "trousers"),
    (r"front|back|body|bodice", "body"),
)
