"""What the block of a piece draws, layer by layer as ASTM D6673 gives them their meaning: boundary, edges, marks."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import shapely
from shapely.geometry import LineString, Polygon

from planner.core.outline import Point
from planner.core.pattern_files.assembling import Remarks
from planner.core.pattern_files.chaining import Chained, chain
from planner.core.pattern_files.dxf_shapes import Budget, Mark, mark_of, place_of, stroke_of, text_of
from planner.core.pattern_files.dxf_tags import LINES, Entity
from planner.core.pattern_files.folding import Mirror, close_on_line
from planner.core.pattern_files.model import JOIN_MM, LARGEST_GAP_MM, RULE_TEXT_MM, Marks, Notch, Path
from planner.core.pattern_files.ring_edges import cut_at_corners, cut_at_points
from planner.core.pattern_files.rings import Ring, RingError, Stroke, places_on
from planner.core.pattern_files.texts import rule_number

BOUNDARY, TURN, GRADE_LINE, MIRROR, GRAIN, INTERNAL, CUTOUT, DRILL, SEW = (
    "1",
    "2",
    "5",
    "6",
    "7",
    "8",
    "11",
    "13",
    "14",
)
STRIPES = ("9", "10")
DENSE_BOUNDARY = "84"
NOTCH_KINDS = {"4": "V", "80": "T", "81": "castle", "82": "check", "83": "U"}
#: A text that names an edge stands within this of the middle of it (mm).
EDGE_TEXT_MM = 2.0
#: More closed lines than this on the layer of the boundary are no piece.
MOST_INNER = 50
#: A piece has no more turn points, notches drawn as lines, or grade rules than this.
MOST_MARKS = 1_000


@dataclass
class Drawn:
    """What a block draws, by layer, in mm."""

    strokes: dict[str, list[Stroke]] = field(default_factory=dict)
    marks: dict[str, list[Mark]] = field(default_factory=dict)
    texts: list[str] = field(default_factory=list)
    rule_points: list[tuple[Point, int]] = field(default_factory=list)
    edge_texts: list[tuple[Point, str]] = field(default_factory=list)

    def paths(self, *layers: str) -> tuple[Path, ...]:
        """The lines of these layers as paths; closed ones come back to their first point."""
        strokes = [stroke for layer in layers for stroke in self.strokes.get(layer, ())]
        return tuple((*s.points, s.points[0]) if s.closed else s.points for s in strokes)

    def longest(self, layer: str) -> Mirror | None:
        """The two ends of the longest line of a layer."""
        paths = [path for path in self.paths(layer) if math.dist(path[0], path[-1]) > 0]
        if not paths:
            return None
        path = max(paths, key=lambda p: math.dist(p[0], p[-1]))
        return path[0], path[-1]


def loose_rules(drawn: Drawn) -> tuple[int, ...]:
    """The rules whose number stands on no line and no point of any layer, ascending."""
    if not drawn.rule_points:
        return ()
    lines = [LineString(path) for path in drawn.paths(*drawn.strokes) if len(path) > 1]
    dots = [shapely.points(*mark.at) for marks in drawn.marks.values() for mark in marks]
    tree = shapely.STRtree([*lines, *dots])
    here = shapely.points([at for at, _ in drawn.rule_points])
    near = set(tree.query(here, predicate="dwithin", distance=RULE_TEXT_MM)[0].tolist())
    return tuple(sorted({n for k, (_, n) in enumerate(drawn.rule_points) if k not in near}))


def mirror_of(drawn: Drawn) -> Mirror | None:
    """The mirror line. Raises RingError where it is only a point, or where there are two different ones."""
    mirror = drawn.longest(MIRROR)
    if mirror is None:
        if drawn.strokes.get(MIRROR):
            raise RingError("mirror", "the mirror line is only a point")
        return None
    (px, py), (qx, qy) = mirror
    length = math.dist(*mirror)
    for path in drawn.paths(MIRROR):
        away = max(abs((qx - px) * (y - py) - (qy - py) * (x - px)) / length for x, y in path)
        if away > JOIN_MM:
            text = "more than one mirror line: only a piece that is folded once can be unfolded"
            raise RingError("mirror", text)
    return mirror


def refuse_too_many(drawn: Drawn) -> None:
    """Raises RingError for more marks than a piece has: each is looked up along the whole boundary."""
    numbers = [len(drawn.marks.get(TURN, ())), len(drawn.edge_texts), len(drawn.rule_points)]
    numbers += [len(drawn.strokes.get(layer, ())) for layer in NOTCH_KINDS]
    if max(numbers) > MOST_MARKS:
        text = f"more than {MOST_MARKS:,} turn points, notches or numbers, which is more than is read"
        raise RingError("too many marks", text)


def collect(entities: Iterable[Entity], scale: float, budget: Budget) -> Drawn:
    """Everything a block draws. Raises CurveError for what cannot be drawn."""
    drawn = Drawn()
    for entity in entities:
        if entity.kind in LINES:
            stroke = stroke_of(entity, scale, budget)
            if stroke:
                drawn.strokes.setdefault(entity.layer, []).append(stroke)
        elif entity.kind == "POINT":
            drawn.marks.setdefault(entity.layer, []).append(mark_of(entity, scale))
            budget.spend(1)
        elif entity.kind in ("TEXT", "MTEXT"):
            _collect_text(entity, drawn, scale)
    return drawn


def _collect_text(entity: Entity, drawn: Drawn, scale: float) -> None:
    text = text_of(entity)
    rule = rule_number(text)
    if rule is not None:
        drawn.rule_points.append((place_of(entity, scale), rule))
    elif text.lower().startswith("edge:"):
        drawn.edge_texts.append((place_of(entity, scale), text[5:].strip()))
    else:
        drawn.texts.append(text)


def boundary_of(drawn: Drawn, mirror: Mirror | None, name: str, size: str, remarks: Remarks) -> Ring:
    """The boundary as one ring with its edges. Raises RingError where there is none, or more than one."""
    strokes = drawn.strokes.get(BOUNDARY, [])
    if not strokes and drawn.strokes.get(DENSE_BOUNDARY):
        strokes = drawn.strokes[DENSE_BOUNDARY]
        text = "no boundary on layer 1; its dense copy on layer 84 was taken"
        remarks.add("boundary", "assumed", text, piece=name, size=size)
    if not strokes:
        raise RingError("no outline", "no boundary on layer 1")
    chained = chain(strokes)
    ring = _only_ring(chained, mirror)
    if chained.rings:
        _sort_out_inner(chained.rings, drawn, remarks, name, size)
    if chained.rings and chained.open:
        text = f"{len(chained.open)} loose lines on the layer of the boundary are no part of it"
        remarks.add("loose lines", "ignored", text, piece=name, size=size)
    if chained.repeats:
        text = "lines of the boundary that are drawn twice count once"
        remarks.add("drawn twice", "ignored", text, piece=name, size=size)
    return _with_edges(ring, drawn)


def _sort_out_inner(rings: Sequence[Ring], drawn: Drawn, remarks: Remarks, name: str, size: str) -> None:
    """Closed lines inside the largest become internal lines. Raises RingError for one that is not inside."""
    if len(rings) == 1:
        return
    whole = Polygon(rings[0].points)
    # Growing a line that crosses itself could take for ever.
    outer = whole.buffer(0.1) if whole.is_valid else Polygon()
    for inner in rings[1:]:
        shape = Polygon(inner.points)
        if len(rings) > MOST_INNER or not (shape.is_valid and outer.contains(shape)):
            text = "two outlines in one block: each piece and size needs a block of its own"
            raise RingError("two outlines", text)
        text = "a closed line inside the boundary, on its layer, was kept as an internal line, not cut"
        remarks.add("inner line", "assumed", text, piece=name, size=size)
        drawn.strokes.setdefault(INTERNAL, []).append(Stroke(inner.points, closed=True))


def _only_ring(chained: Chained, mirror: Mirror | None) -> Ring:
    if chained.rings:
        return chained.rings[0]
    if not chained.open:
        raise RingError("no outline", "the boundary encloses no area")
    if mirror and len(chained.open) == 1 and math.dist(*mirror) > 0:
        closed = close_on_line(chained.open[0], mirror)
        if closed:
            return closed
    if len(chained.open) > 1:
        raise RingError("gap", f"the boundary is in {len(chained.open)} parts that do not meet")
    raise RingError(
        "gap",
        f"the boundary is open by {chained.open[0].gap_mm:.1f} mm; "
        f"only gaps up to {LARGEST_GAP_MM:.0f} mm can be closed",
    )


def _with_edges(ring: Ring, drawn: Drawn) -> Ring:
    """The edges as they were drawn; of one closed line, from turn point to turn point, else from corner to corner."""
    if len(ring.starts) < 2:
        if len(drawn.edge_texts) == 1 and drawn.edge_texts[0][1]:
            # One name for the whole line: it is one edge that runs all the way round.
            return Ring(ring.points, (0,), ring.gaps, (drawn.edge_texts[0][1],))
        cut = cut_at_points(ring, [mark.at for mark in drawn.marks.get(TURN, ())])
        ring = cut if cut.starts else cut_at_corners(ring)
    return _named(ring, drawn.edge_texts) if drawn.edge_texts else ring


def _named(ring: Ring, edge_texts: Sequence[tuple[Point, str]]) -> Ring:
    """Edges named by the texts that stand on them."""
    names = [f"edge {n}" for n in range(1, len(ring.starts) + 1)]
    for (_, text), place in zip(
        edge_texts, places_on(ring.points, [at for at, _ in edge_texts]), strict=True
    ):
        if place.distance_mm <= EDGE_TEXT_MM and text:
            before = [k for k, start in enumerate(ring.starts) if start <= place.segment]
            names[before[-1] if before else -1] = text
    return Ring(ring.points, ring.starts, ring.gaps, tuple(names))


def marks_of(drawn: Drawn, ring: Ring) -> Marks:
    return Marks(
        notches=tuple(_notches(drawn, ring)),
        lines=drawn.paths(INTERNAL),
        cutouts=drawn.paths(CUTOUT),
        holes=tuple(mark.at for mark in drawn.marks.get(DRILL, ())),
        sew_lines=drawn.paths(SEW),
        stripe_lines=drawn.paths(*STRIPES),
    )


def _notches(drawn: Drawn, ring: Ring) -> Iterable[Notch]:
    for layer, kind in NOTCH_KINDS.items():
        for mark in drawn.marks.get(layer, ()):
            # On layer 4 stand V notches and slits; a slit has no width.
            named = "slit" if kind == "V" and mark.width_mm == 0 else kind
            yield Notch(*mark.at, named, mark.depth_mm, mark.angle_deg)
        # Some programs draw a notch as a short line from the boundary inwards.
        ends = [end for path in drawn.paths(layer) for end in (path[0], path[-1])]
        away = [place.distance_mm for place in places_on(ring.points, ends)]
        for k in range(0, len(ends), 2):
            outer, inner = (ends[k], ends[k + 1]) if away[k] <= away[k + 1] else (ends[k + 1], ends[k])
            named = "slit" if kind == "V" else kind
            yield Notch(*outer, named, math.dist(outer, inner), direction_deg((outer, inner)))


def direction_deg(line: Mirror) -> float:
    (ax, ay), (bx, by) = line
    return math.degrees(math.atan2(by - ay, bx - ax)) % 360.0
