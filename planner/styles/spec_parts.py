"""The parts of a style as the core knows them, each made in one place from the columns of its row.

The columns come from a query for values or, with `vars`, from a row that was read whole; what stands in other tables
(the names of option, seam, piece, cloth) is handed in. Numbers become floats, nothing else is changed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from planner.core.outline import Outline
from planner.core.pattern_files.model import Marks
from planner.core.spec import (
    BandSpec,
    ClothKey,
    ColourwaySpec,
    EdgeRef,
    NotionKey,
    NotionUse,
    OperationSpec,
    Option,
    PieceSpec,
    SeamSpec,
)

Columns = Mapping[str, Any]
NO_MARKS = Marks()
#: Of a piece whose marks were not read.
NONE_DRAWN: Mapping[str, Marks] = {}

PIECE_COLUMNS = (
    "name",
    "count",
    "pair",
    "may_turn",
    "is_band",
    "beside",
    "seam_allowance_mm",
    "edge_allowances",
)
BAND_COLUMNS = ("finished_width_mm", "folded", "ratio", "turn_rad", "over_head")
SEAM_COLUMNS = ("name", "times", "ratio", "fullness", "match")
OPERATION_COLUMNS = (
    "name",
    "position",
    "machine",
    "stitch_type",
    "standard_minutes",
    "setup_note",
    "stitch_length_mm",
    "stitch_width_mm",
    "layers",
    "differential_feed",
    "tension_note",
    "needle_note",
    "quality_note",
)
NOTION_COLUMNS = ("basis", "quantity", "ratio", "tail_mm")


def piece_spec(
    row: Columns,
    *,
    role: str,
    option: Option | None,
    outlines: Mapping[str, Outline],
    interpolated: frozenset[str],
    band: BandSpec | None,
    marks: Mapping[str, Marks] = NONE_DRAWN,
) -> PieceSpec:
    """A piece from its `PIECE_COLUMNS`; sizes without marks are left out of those."""
    return PieceSpec(
        name=row["name"],
        role=role,
        count=row["count"],
        pair=row["pair"],
        may_turn=row["may_turn"],
        option=option,
        outlines=outlines,
        is_band=row["is_band"],
        allowance_mm=float(row["seam_allowance_mm"]),
        edge_allowances=row["edge_allowances"],
        interpolated=interpolated,
        band=band,
        beside=row["beside"],
        marks={size: drawn for size, drawn in marks.items() if drawn != NO_MARKS},
    )


def band_spec(row: Columns, *, seam: str) -> BandSpec:
    """How a band is cut to measure, from its `BAND_COLUMNS`."""
    return BandSpec(
        seam=seam,
        finished_width_mm=float(row["finished_width_mm"]),
        folded=row["folded"],
        ratio=_number(row["ratio"]),
        turn_rad=row["turn_rad"],
        over_head=row["over_head"],
    )


def seam_spec(row: Columns, *, option: Option | None, edges: Iterable[EdgeRef], operation: str) -> SeamSpec:
    """A seam from its `SEAM_COLUMNS`."""
    return SeamSpec(
        name=row["name"],
        option=option,
        edges=tuple(edges),
        times=row["times"],
        operation=operation,
        ratio=float(row["ratio"]),
        fullness=row["fullness"],
        match=row["match"],
    )


def operation_spec(row: Columns, *, option: Option | None, own_machine: str) -> OperationSpec:
    """A step of sewing from its `OPERATION_COLUMNS`."""
    return OperationSpec(
        name=row["name"],
        option=option,
        position=row["position"],
        machine=row["machine"],
        stitch_type=row["stitch_type"],
        standard_minutes=float(row["standard_minutes"]),
        setup_note=row["setup_note"],
        own_machine=own_machine,
        stitch_length_mm=_number(row["stitch_length_mm"]),
        stitch_width_mm=_number(row["stitch_width_mm"]),
        layers=row["layers"],
        differential_feed=_number(row["differential_feed"]),
        tension_note=row["tension_note"],
        needle_note=row["needle_note"],
        quality_note=row["quality_note"],
    )


def notion_use(
    row: Columns, *, notion: NotionKey, option: Option | None, seam: str, piece: str, size: str
) -> NotionUse:
    """What is taken of a notion, from its `NOTION_COLUMNS`; seam, piece and size are "" where it has none."""
    return NotionUse(
        notion=notion,
        option=option,
        basis=row["basis"],
        quantity=float(row["quantity"]),
        seam=seam,
        ratio=float(row["ratio"]),
        tail_mm=float(row["tail_mm"]),
        piece=piece,
        size=size,
    )


def colourway_spec(
    name: str,
    *,
    cloths: Iterable[tuple[str, str, str]],
    thread: tuple[str, str] | None,
    threads: Iterable[tuple[Any, str, str]],
) -> ColourwaySpec:
    """A colourway from (role, fabric, colour), (notion, colour) and (position, notion, colour), all by name."""
    return ColourwaySpec(
        name=name,
        cloths={role: ClothKey(fabric, colour) for role, fabric, colour in cloths},
        thread=NotionKey(*thread) if thread else None,
        threads={position: NotionKey(notion, colour) for position, notion, colour in threads},
    )


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)
