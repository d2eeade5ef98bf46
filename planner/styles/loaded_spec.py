"""A style whose rows are read already, as the core knows it."""

from __future__ import annotations

from collections.abc import Iterable

from planner.core.spec import BandSpec, ColourwaySpec, EdgeRef, NotionKey, PieceSpec, StyleSpec
from planner.styles import spec_parts as parts
from planner.styles.family import option_key
from planner.styles.loading import DetailRow, exclusions_of
from planner.styles.models import Colourway, Piece, Seam, Style
from planner.styles.shapes import outline_of


def spec_of(style: Style, details: Iterable[DetailRow]) -> StyleSpec:
    """A style read by `with_everything`, and its details, as the core knows it. No query."""
    names = {size.pk: size.name for size in style.size_range.sizes.all()}
    details = list(details)
    return StyleSpec(
        number=style.number,
        name=style.name,
        sizes=tuple(names.values()),
        base_size=style.base_size.name,
        details={detail.name: detail.options for detail in details},
        pieces=tuple(_piece(piece, names) for piece in style.pieces.all()),
        seams=tuple(
            parts.seam_spec(
                vars(seam),
                option=option_key(seam.option),
                edges=_edges(seam),
                operation=seam.operation.name,
            )
            for seam in style.seams.all()
        ),
        operations=tuple(
            parts.operation_spec(
                vars(step),
                option=option_key(step.option),
                own_machine=step.own_machine.name if step.own_machine else "",
            )
            for step in style.operations.all()
        ),
        notions=tuple(
            parts.notion_use(
                vars(use),
                notion=NotionKey(use.notion_colour.notion.name, use.notion_colour.name),
                option=option_key(use.option),
                seam=use.seam.name if use.seam else "",
                piece=use.piece.name if use.piece else "",
                size=use.size.name if use.size else "",
            )
            for use in style.notions.all()
        ),
        colourways={way.name: _colourway(way) for way in style.colourways.all()},
        exclusions=exclusions_of(details),
    )


def _piece(piece: Piece, sizes: dict[int, str]) -> PieceSpec:
    drawn = [row for row in piece.outlines.all() if row.size_id in sizes]
    return parts.piece_spec(
        vars(piece),
        role=piece.role.name,
        option=option_key(piece.option),
        outlines={sizes[row.size_id]: outline_of(row.shape) for row in drawn},
        interpolated=frozenset(sizes[row.size_id] for row in drawn if row.is_interpolated),
        band=_band(piece),
    )


def _band(piece: Piece) -> BandSpec | None:
    band = getattr(piece, "band", None)
    return None if band is None else parts.band_spec(vars(band), seam=band.seam.name)


def _edges(seam: Seam) -> Iterable[EdgeRef]:
    return (EdgeRef(edge.piece.name, edge.edge, edge.side, edge.takes) for edge in seam.edges.all())


def _colourway(way: Colourway) -> ColourwaySpec:
    thread = way.thread
    return parts.colourway_spec(
        way.name,
        cloths=(
            (cloth.role.name, cloth.fabric_colour.fabric.name, cloth.fabric_colour.name)
            for cloth in way.cloths.all()
        ),
        thread=(thread.notion.name, thread.name) if thread else None,
        threads=(
            (row.position, row.notion_colour.notion.name, row.notion_colour.name) for row in way.threads.all()
        ),
    )
