"""A style written as plain data and read back is the same style."""

from __future__ import annotations

import json
from dataclasses import replace

from planner.core.outline import rectangle
from planner.core.pattern_files.model import Marks, Notch
from planner.core.spec import (
    BandSpec,
    ClothKey,
    ColourwaySpec,
    EdgeRef,
    NotionKey,
    NotionUse,
    OperationSpec,
    PieceSpec,
    SeamSpec,
    StyleSpec,
)
from planner.core.stored_spec import style_from_json, style_key, style_to_json

RIB = ("neck", "rib band")
STYLE = StyleSpec(
    number="110",
    name="Tee Ω",
    sizes=("S", "M"),
    base_size="M",
    details={"neck": ("rib band", "self band")},
    pieces=(
        PieceSpec(
            "front", "body", 1, False, True, None, {"S": rectangle(600, 500), "M": rectangle(620, 520)}
        ),
        PieceSpec("neck band", "rib", 2, True, False, RIB, {"S": rectangle(44, 400)}, is_band=True),
    ),
    seams=(
        SeamSpec("neck", RIB, (EdgeRef("front", "top"), EdgeRef("neck band", "left")), 1, "set the band"),
    ),
    operations=(OperationSpec("set the band", RIB, 3, "overlock", "504", 2.25, "stretch only the rib"),),
    notions=(
        NotionUse(NotionKey("label"), None, "garment", 1.0),
        NotionUse(NotionKey("elastic", "clear"), RIB, "seam"),
    ),
    colourways={
        "ink": ColourwaySpec("ink", {"body": ClothKey("jersey", "ink")}, NotionKey("thread", "ink")),
        "raw": ColourwaySpec("raw", {"body": ClothKey("jersey", "raw")}, None),
    },
)


def test_what_is_written_is_read_back() -> None:
    assert style_from_json(json.loads(json.dumps(style_to_json(STYLE)))) == STYLE


def test_the_key_tells_any_change() -> None:
    assert style_key(STYLE) == style_key(style_from_json(style_to_json(STYLE)))
    changed = [
        replace(STYLE, name="Tee"),
        replace(STYLE, pieces=STYLE.pieces[:1]),
        replace(STYLE, operations=(replace(STYLE.operations[0], setup_note=""),)),
        replace(
            STYLE, pieces=(replace(STYLE.pieces[0], outlines={"S": rectangle(600, 500.1)}), STYLE.pieces[1])
        ),
    ]
    assert len({style_key(style) for style in [STYLE, *changed]}) == 5


BAND = BandSpec("neck", 15.0, folded=False, ratio=0.8, turn_rad=6.28, over_head=True)
FULL = replace(
    STYLE,
    pieces=(
        STYLE.pieces[0],
        replace(
            STYLE.pieces[1],
            band=BAND,
            outlines_by_cloth={
                ClothKey("rib", "ink"): {"S": rectangle(44, 400), "M": rectangle(44, 410)},
                ClothKey("jersey", "ink"): {"S": rectangle(44, 440)},
            },
        ),
    ),
    operations=(
        replace(
            STYLE.operations[0], own_machine="grey overlock", stitch_length_mm=2.5, stitch_width_mm=5.0, layers=3,
            differential_feed=1.3, tension_note="loose", needle_note="75/11", quality_note="join behind the shoulder",
        ),
    ),
    notions=(*STYLE.notions, NotionUse(NotionKey("button"), None, "piece", 2.0, piece="front", size="M")),
    colourways={
        **STYLE.colourways,
        "ink": replace(STYLE.colourways["ink"], threads={"looper": NotionKey("thread", "grey")}),
    },
)  # fmt: skip


def test_bands_machines_and_threads_by_position_are_read_back() -> None:
    assert style_from_json(json.loads(json.dumps(style_to_json(FULL)))) == FULL
    assert style_key(FULL) != style_key(STYLE)


def test_a_style_kept_before_they_were_known_has_none_of_them() -> None:
    kept = json.loads(json.dumps(style_to_json(FULL)))
    for piece in kept["pieces"]:
        del piece["band"], piece["by_cloth"]
    for use in kept["notions"]:
        del use["piece"], use["size"]
    for way in kept["colourways"].values():
        del way["threads"]
    known = {"name", "option", "position", "machine", "stitch_type", "standard_minutes", "setup_note"}
    kept["operations"] = [{key: o[key] for key in known} for o in kept["operations"]]
    kept["notions"].pop()
    assert style_from_json(kept) == STYLE


def test_marks_are_kept_with_their_size_and_a_style_without_any_keeps_its_key() -> None:
    marks = Marks(notches=(Notch(600.0, 250.0, "T", 5.0, 180.0), Notch(0.0, 10.0)), holes=((80.0, 90.0),))
    marked = replace(STYLE, pieces=(replace(STYLE.pieces[0], marks={"M": marks}), *STYLE.pieces[1:]))
    assert style_from_json(json.loads(json.dumps(style_to_json(marked)))) == marked
    assert style_key(marked) != style_key(STYLE)
    assert not any("marks" in piece for piece in style_to_json(STYLE)["pieces"])
