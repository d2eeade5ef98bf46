"""DXF from general drawing programs: one outline a layer, or one a block."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapely.geometry import Polygon

from planner.core.listed import counted
from planner.core.outline import Point
from planner.core.pattern_files.assembling import Remarks, Shape
from planner.core.pattern_files.chaining import Chained, chain
from planner.core.pattern_files.curves import CurveError
from planner.core.pattern_files.dxf_shapes import Budget, number, stroke_of
from planner.core.pattern_files.dxf_tags import LINES, Block, Drawing, Entity
from planner.core.pattern_files.model import LARGEST_GAP_MM, MOST_PIECES, Marks, Path, PatternFileError
from planner.core.pattern_files.ring_edges import cut_at_corners
from planner.core.pattern_files.rings import Ring, RingError, turned

#: At most so many further closed lines inside an outline are kept for drawing, the largest.
MOST_INNER = 100


def read_plain(drawing: Drawing, *, scale: float, budget: Budget, remarks: Remarks, name: str) -> list[Shape]:
    """The largest closed line of each layer and of each placed block, named after it; without sizes."""
    groups = [*_layers(drawing, scale), *_placed_blocks(drawing, scale, remarks)]
    if not groups and not any(entity.kind == "INSERT" for entity in drawing.entities):
        groups = [
            (block.name, lines, scale, AS_DRAWN) for block in drawing.blocks if (lines := _lines_of(block))
        ]
        if groups:
            remarks.add(
                "not placed", "assumed", "its blocks are placed nowhere; they were read as they stand"
            )
    if len(groups) > MOST_PIECES:
        raise PatternFileError(
            f"{name}: more than {MOST_PIECES:,} layers and blocks, which is more than is read"
        )
    shapes: list[Shape] = []
    taken: dict[str, int] = {}
    for title, entities, in_mm, placed in groups:
        taken[title] = taken.get(title, 0) + 1
        piece = title if taken[title] == 1 else f"{title} ({taken[title]})"
        try:
            shape = _shape(piece, entities, in_mm, placed, budget, remarks)
        except CurveError as fault:
            remarks.add("damaged", "refused", str(fault), piece=piece)
            continue
        except RingError as fault:
            remarks.add(fault.kind, "refused", str(fault), piece=piece)
            continue
        if shape:
            shapes.append(shape)
    if shapes:
        text = "no grain lines; the grain is taken to run along x, from left to right in the drawing"
        remarks.add("no grain", "assumed", text)
        remarks.add("no count", "ask", "the file does not say how often each piece is cut")
        text = "no sew lines, so the file does not say whether the seam allowance is included"
        remarks.add("no sew line", "ask", text)
    return shapes


@dataclass(frozen=True, slots=True)
class Placed:
    """How a block is placed: first mirrored (x becomes −x), then turned, counter-clockwise."""

    turned_deg: float = 0.0
    is_mirrored: bool = False

    def path(self, points: Sequence[Point]) -> Path:
        """Points of the block as they lie in the drawing, but for where."""
        return turned([(-x, y) for x, y in points] if self.is_mirrored else points, self.turned_deg)


AS_DRAWN = Placed()
Group = tuple[str, list[Entity], float, Placed]


def _layers(drawing: Drawing, scale: float) -> list[Group]:
    layers: dict[str, list[Entity]] = {}
    for entity in drawing.entities:
        if entity.kind in LINES:
            layers.setdefault(entity.layer, []).append(entity)
    return [(layer or "0", entities, scale, AS_DRAWN) for layer, entities in layers.items()]


def _placed_blocks(drawing: Drawing, scale: float, remarks: Remarks) -> list[Group]:
    """Blocks that the drawing places, once each, at the scale and the way round at which they are placed."""
    by_name = {block.name.lower(): block for block in drawing.blocks if not block.name.startswith("*")}
    scales: dict[str, set[tuple[float, float]]] = {}
    ways: dict[str, dict[Placed, None]] = {}
    for entity in drawing.entities:
        if entity.kind == "INSERT":
            placed = entity.text(2).strip().lower()
            scales.setdefault(placed, set()).add(_placed_scale(entity))
            ways.setdefault(placed, {})[_placed_way(entity)] = None
    groups: list[Group] = []
    for key, found in scales.items():
        block = by_name.get(key)
        if block is None:
            remarks.add("lost block", "missing", f"the drawing places a block “{key[:60]}” that is not there")
            continue
        lines = _lines_of(block)
        if any(entity.kind == "INSERT" for entity in block.entities):
            remarks.add("nested block", "ignored", "a block placed inside this block", piece=block.name)
        if not lines:
            continue
        (along, across), *others = sorted(found)
        if others or not math.isclose(along, across, rel_tol=1e-6) or not 1e-6 < along < 1e6:
            text = "the block is placed stretched, or at more than one scale, so its true size is not known"
            remarks.add("stretched block", "refused", text, piece=block.name)
            continue
        first = next(iter(ways[key]))
        _say_ways(block.name, list(ways[key]), remarks)
        groups.append((block.name, lines, along * scale, first))
    return groups


def _say_ways(piece: str, ways: Sequence[Placed], remarks: Remarks) -> None:
    """That a block lies in the drawing in more than one way: as it is first placed it is read."""
    if len({way.is_mirrored for way in ways}) > 1:
        text = "the block is placed mirrored as well: is it cut as a mirrored pair?"
        remarks.add("mirrored block", "assumed", text, piece=piece)
    if len({way.turned_deg % 180 for way in ways}) > 1:
        text = "the block is placed turned in more than one way; its grain was taken from the first"
        remarks.add("turned block", "assumed", text, piece=piece)


def _lines_of(block: Block) -> list[Entity]:
    return [entity for entity in block.entities if entity.kind in LINES]


def _placed_scale(insert: Entity) -> tuple[float, float]:
    try:
        return tuple(abs(number(insert.text(code, "1"))) for code in (41, 42))  # type: ignore[return-value]
    except CurveError:
        return 0.0, 0.0


def _placed_way(insert: Entity) -> Placed:
    """The way round at which a block is placed: its scales may be negative, and it may be seen from behind."""
    try:
        along, across, degrees, up = (
            number(insert.text(code, usual)) for code, usual in ((41, "1"), (42, "1"), (50, "0"), (230, "1"))
        )
    except CurveError:
        return AS_DRAWN
    # Both scales negative turn it by half a turn; across alone is along with half a turn.
    degrees += 180.0 if across < 0 else 0.0
    is_mirrored = (along < 0) != (across < 0)
    if up < 0:  # seen from behind: what was placed is mirrored once more
        is_mirrored, degrees = not is_mirrored, -degrees
    return Placed(round(degrees % 360.0, 6) % 360.0, is_mirrored)


def _shape(
    piece: str, entities: Sequence[Entity], in_mm: float, placed: Placed, budget: Budget, remarks: Remarks
) -> Shape | None:
    drawn = [stroke for entity in entities if (stroke := stroke_of(entity, in_mm, budget))]
    strokes = [replace(stroke, points=placed.path(stroke.points)) for stroke in drawn]
    chained = chain(strokes)
    if not chained.rings:
        _say_open(piece, chained, remarks)
        return None
    ring = chained.rings[0]
    if len(ring.starts) < 2:
        ring = cut_at_corners(ring)
    inside, outside = _inner(ring, chained.rings[1:])
    if outside:
        others = counted(outside, "more closed line")
        text = f"{others} beside the largest: each piece needs a layer or block of its own"
        remarks.add("two outlines", "ignored", text, piece=piece)
    if inside or chained.open:
        lines_kept = counted(len(inside) + len(chained.open), "further line was", "further lines were")
        text = f"{lines_kept} kept for drawing only"
        remarks.add("inner line", "assumed", text, piece=piece)
    lines = (*inside, *(one.points for one in chained.open[:MOST_INNER]))
    return Shape(piece, "", ring, Marks(lines=lines))


def _say_open(piece: str, chained: Chained, remarks: Remarks) -> None:
    widest = max(chained.open, key=lambda one: len(one.points), default=None)
    if widest is not None and len(widest.points) > 2:
        text = f"its line is open by {widest.gap_mm:.1f} mm; only gaps up to {LARGEST_GAP_MM:.0f} mm can be closed"
        remarks.add("gap", "refused", text, piece=piece)
    else:
        remarks.add("no outline", "ignored", "no closed line here", piece=piece)


def _inner(ring: Ring, others: Sequence[Ring]) -> tuple[list[Path], int]:
    """The other rings that lie inside as closed paths, and how many do not."""
    if not others:
        return [], 0
    whole = Polygon(ring.points)
    # Growing a line that crosses itself could take for ever.
    outer = whole.buffer(0.1) if whole.is_valid else Polygon()
    inside: list[Path] = []
    outside = 0
    for other in others[:MOST_INNER]:
        shape = Polygon(other.points)
        if shape.is_valid and outer.contains(shape):
            inside.append((*other.points, other.points[0]))
        else:
            outside += 1
    return inside, outside + max(0, len(others) - MOST_INNER)
