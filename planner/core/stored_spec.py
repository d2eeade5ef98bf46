"""Styles as plain data, so that a batch keeps the style it was planned with whatever becomes of it later."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from planner.core.outline import outline_from_json
from planner.core.pattern_files.model import marks_from_json
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
    StyleSpec,
)


def style_to_json(style: StyleSpec) -> dict[str, Any]:
    """The style as data for `json.dump`; outlines are rounded to 0.001 mm."""
    return {
        "number": style.number,
        "name": style.name,
        "sizes": list(style.sizes),
        "base_size": style.base_size,
        "details": {detail: list(options) for detail, options in style.details.items()},
        "pieces": [
            {
                "name": p.name, "role": p.role, "count": p.count, "pair": p.pair, "may_turn": p.may_turn,
                "option": p.option, "is_band": p.is_band, "allowance_mm": p.allowance_mm,
                "edge_allowances": dict(p.edge_allowances), "beside": p.beside, "interpolated": sorted(p.interpolated),
                "band": p.band and asdict(p.band),
                "by_cloth": [
                    [key.fabric, key.colour, {size: outline.as_json() for size, outline in outlines.items()}]
                    for key, outlines in sorted(p.outlines_by_cloth.items())
                ],
                "outlines": {size: outline.as_json() for size, outline in p.outlines.items()},
                **({"marks": {size: marks.as_json() for size, marks in p.marks.items()}} if p.marks else {}),
            }
            for p in style.pieces
        ],
        "seams": [
            {
                "name": s.name, "option": s.option, "times": s.times, "operation": s.operation,
                "edges": [[edge.piece, edge.edge, edge.side, edge.takes] for edge in s.edges],
                "ratio": s.ratio, "fullness": s.fullness, "match": s.match,
            }
            for s in style.seams
        ],
        "operations": [asdict(operation) for operation in style.operations],
        "notions": [
            {
                "notion": [n.notion.notion, n.notion.colour], "option": n.option, "basis": n.basis,
                "quantity": n.quantity, "seam": n.seam, "ratio": n.ratio, "tail_mm": n.tail_mm,
                "piece": n.piece, "size": n.size,
            }
            for n in style.notions
        ],
        "colourways": {
            name: {
                "cloths": {role: [key.fabric, key.colour] for role, key in colourway.cloths.items()},
                "thread": None if colourway.thread is None else [colourway.thread.notion, colourway.thread.colour],
                "threads": {position: [key.notion, key.colour] for position, key in colourway.threads.items()},
            }
            for name, colourway in style.colourways.items()
        },
        "exclusions": [[list(one), list(other)] for one, other in style.exclusions],
    }  # fmt: skip


def style_from_json(data: Mapping[str, Any]) -> StyleSpec:
    """Reads what :func:`style_to_json` wrote, by an earlier version too. Raises KeyError where a field is missing.

    Styles kept before seams had sides, and pieces allowances, measured seams along the cut line of the first edge.
    Those kept before machines, bands, threads by position and marks have none of them.
    """
    return StyleSpec(
        number=data["number"],
        name=data["name"],
        sizes=tuple(data["sizes"]),
        base_size=data["base_size"],
        details={detail: tuple(options) for detail, options in data["details"].items()},
        pieces=tuple(
            PieceSpec(
                name=p["name"],
                role=p["role"],
                count=p["count"],
                pair=p["pair"],
                may_turn=p["may_turn"],
                option=_option(p["option"]),
                outlines={size: outline_from_json(shape) for size, shape in p["outlines"].items()},
                is_band=p["is_band"],
                allowance_mm=p.get("allowance_mm", 0.0),
                edge_allowances=p.get("edge_allowances", {}),
                interpolated=frozenset(p.get("interpolated", ())),
                beside=p.get("beside", ""),
                band=BandSpec(**p["band"]) if p.get("band") else None,
                outlines_by_cloth={
                    ClothKey(fabric, colour): {
                        size: outline_from_json(shape) for size, shape in shapes.items()
                    }
                    for fabric, colour, shapes in p.get("by_cloth", ())
                },
                marks={size: marks_from_json(drawn) for size, drawn in p.get("marks", {}).items()},
            )
            for p in data["pieces"]
        ),
        seams=tuple(
            SeamSpec(
                name=s["name"],
                option=_option(s["option"]),
                edges=_edges(s["edges"]),
                times=s["times"],
                operation=s["operation"],
                ratio=s.get("ratio", 1.0),
                fullness=s.get("fullness", ""),
                match=s.get("match", False),
            )
            for s in data["seams"]
        ),
        operations=tuple(OperationSpec(**{**o, "option": _option(o["option"])}) for o in data["operations"]),
        notions=tuple(
            NotionUse(**{**n, "notion": NotionKey(*n["notion"]), "option": _option(n["option"])})
            for n in data["notions"]
        ),
        colourways={
            name: ColourwaySpec(
                name=name,
                cloths={role: ClothKey(*key) for role, key in colourway["cloths"].items()},
                thread=None if colourway["thread"] is None else NotionKey(*colourway["thread"]),
                threads={at: NotionKey(*key) for at, key in colourway.get("threads", {}).items()},
            )
            for name, colourway in data["colourways"].items()
        },
        exclusions=tuple(((a[0], a[1]), (b[0], b[1])) for a, b in data.get("exclusions", ())),
    )


def style_key(style: StyleSpec) -> str:
    """SHA-256 in hex of the style's data: the same style, unchanged, has the same key."""
    return hashlib.sha256(json.dumps(style_to_json(style), sort_keys=True).encode()).hexdigest()


def _edges(stored: Sequence[Sequence[Any]]) -> tuple[EdgeRef, ...]:
    if any(len(edge) == 2 for edge in stored):
        return tuple(EdgeRef(edge[0], edge[1], side=min(i, 2)) for i, edge in enumerate(stored, 1))
    return tuple(EdgeRef(*edge) for edge in stored)


def _option(pair: Sequence[str] | None) -> Option | None:
    return None if pair is None else (pair[0], pair[1])
