"""A pattern file that was read, as the JSON of `manage.py read-pattern` (schema notchbook-pattern/1)."""

from __future__ import annotations

from typing import Any

from planner.core.outline import path_length_mm
from planner.core.pattern_files.model import ReadPattern, ReadPiece

SCHEMA = "notchbook-pattern/1"


def pattern_report(pattern: ReadPattern) -> dict[str, Any]:
    """Plain data: lengths in mm, areas in mm², widths along the grain and heights across it.

    Every edge of a ring stands there for itself, in the order of the ring, so a name may come twice.
    """
    return {
        "schema": SCHEMA,
        "file": pattern.file_name,
        "format": pattern.format,
        "units": pattern.units,
        "style": pattern.style_name,
        "sizes": list(pattern.sizes),
        "sample_size": pattern.sample_size,
        "pieces": [_piece(piece) for piece in pattern.pieces],
        "findings": [
            {
                "level": finding.level,
                "piece": finding.piece,
                "size": finding.size,
                "text": finding.text,
                "kind": finding.kind,
            }
            for finding in pattern.findings
        ],
    }


def _piece(piece: ReadPiece) -> dict[str, Any]:
    outline = piece.outline
    return {
        "name": piece.name,
        "size": piece.size,
        "area_mm2": round(outline.area_mm2, 3),
        "width_mm": round(outline.length_mm, 3),
        "height_mm": round(outline.width_mm, 3),
        "edges": [
            {"name": edge.name, "length_mm": round(path_length_mm(outline.edge_path(index)), 3)}
            for index, edge in enumerate(outline.edges)
        ],
        "unfolded": piece.unfolded,
        "count": piece.count,
        "count_guess": piece.count_guess,
        "pair": piece.pair,
        "pair_guess": piece.pair_guess,
        "role_guess": piece.role_guess,
        "grain_deg": round(piece.grain_deg, 3),
        "outline": [[round(x, 3), round(y, 3)] for x, y in outline.points],
        "marks": piece.marks.as_json(),
        "allowance_mm": dict(piece.allowance_mm or {}),
        "mends": [
            {"kind": mend.kind, "at": [round(mend.at[0], 3), round(mend.at[1], 3)], "text": mend.text}
            for mend in piece.mends
        ],
    }
