"""What the edges of a piece are probably called, from its name, its shape and the order of its edges.

A kind of piece (front, sleeve, skirt …) knows its edges in the order in which they run round it, and of
each edge where it lies and how it runs. The suggestion is the way round that fits best: either end of the
piece may be up, a half may have its centre on either side, and one named edge may be drawn as several. What
fits nothing keeps a number. These are habits of the trade (common practice), offered to be confirmed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from planner.core.edge_kinds import CROTCH, FACING_OUTER, HEM, WAIST, Kind, Look
from planner.core.edge_templates import HALF_SKIRT, SKIRT, TEMPLATES, TROUSERS, WORDS
from planner.core.outline import Outline, Point, halfway_along, path_length_mm

#: An edge that fits worse than this, from 0 (in every respect) to 1, keeps its number.
WORST_FIT = 0.4
#: What each further edge of a run with one name adds to the misfit.
SPLIT_COST = 0.15
#: What it adds to the misfit of a skirt that its hem would be shorter than its waist.
NARROW_HEM_COST = 0.1
#: What it adds to the misfit of a piece with a left and a right side that they differ.
ODD_SIDES_COST = 0.1
#: Another reading of the piece that fits this nearly as well makes its names doubtful.
CLEAR_LEAD = 0.08
#: What the confidence is multiplied by for a doubtful name, and where the piece's name says nothing.
DOUBT, UNNAMED_PIECE = 0.5, 0.7
#: More edges than this are not compared with anything: nobody names 40 edges of one piece.
MOST_EDGES = 40
#: Share of its bounding box that a straight strip fills at least.
STRIP_FILL = 0.97
#: An edge that is longer than its chord by more than this share is no edge of a straight strip.
CURVED_BEND = 0.01
#: A piece whose mirror image differs from it by less than this share of its area is whole, not a half.
SAME_BOTH_SIDES = 0.02
#: Its edges lie at their mirror images to within this share of its width.
SAME_PLACE = 0.1


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A name for one edge; `confidence` from 0 to 1, `reason` in a few words."""

    index: int
    name: str
    confidence: float
    reason: str

    @property
    def is_known(self) -> bool:
        """Whether there is a suggestion at all, not only a number."""
        return self.confidence > 0.0


def suggest_names(outline: Outline, piece_name: str = "") -> tuple[Suggestion, ...]:
    """A name for every edge, by edge index; "edge n" with confidence 0 where nothing fits.

    `piece_name` helps (front, sleeve, yoke …) but is not needed. Left and right get the same name. The grain runs
    along x; the lower end may lie at either end.
    """
    if len(outline.edges) > MOST_EDGES:
        return tuple(_unknown(i) for i in range(len(outline.edges)))
    kind = piece_kind(piece_name)
    if kind in ("strip", "collar", "") and _is_strip(outline) and (kind or not _has_curve(outline)):
        return _strip(outline)
    if kind == "strip":
        kind = "collar"  # a shaped band lies round the body as a collar does
    templates = TEMPLATES[kind]
    if kind == "body":
        # The front of a skirt or of trousers may be called just that.
        templates = (*templates, SKIRT, HALF_SKIRT, TROUSERS)
    symmetrical = _is_symmetrical(outline)
    if symmetrical:
        templates = tuple(t for t in templates if not _is_half(t))
    ways = [way for template in templates for way in _ways(outline, template)]
    if not ways:
        return tuple(_unknown(i) for i in range(len(outline.edges)))
    if not symmetrical:
        # Most pieces with two different sides are halves; a twisted front is rarer.
        ways = [replace(way, misfit=way.misfit + ODD_SIDES_COST * way.has_two_sides) for way in ways]
    best = min(ways, key=lambda way: way.misfit)
    rivals = [way for way in ways if way.misfit < best.misfit + CLEAR_LEAD]
    sure = 1.0 if kind else UNNAMED_PIECE
    found = []
    for i, match in enumerate(best.matches):
        doubt = any(way.matches[i].kind.name != match.kind.name for way in rivals)
        found.append(_suggestion(i, match, piece_name, sure * (DOUBT if doubt else 1.0)))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Match:
    kind: Kind
    misfit: float


@dataclass(frozen=True, slots=True)
class _Way:
    """One reading of the whole piece; `misfit` is a mean over its edges."""

    matches: tuple[_Match, ...]
    misfit: float

    @property
    def has_two_sides(self) -> bool:
        """Whether it reads the piece as having a left and a right side."""
        names = [match.kind.name for match in self.matches]
        return names.count("side") > 1 or names.count("shoulder") > 1


def _unknown(index: int) -> Suggestion:
    return Suggestion(index, f"edge {index + 1}", 0.0, "nothing usual fits its place and shape")


def piece_kind(piece_name: str) -> str:
    """What kind of piece its name says it is: body, sleeve, yoke, strip, collar …, "" where it says nothing."""
    name = " ".join(re.split(r"[\s_./-]+", piece_name.lower()))
    return next((kind for words, kind in WORDS if re.search(rf"\b(?:{words})s?\b", name)), "")


def _is_half(template: tuple[Kind, ...]) -> bool:
    return any(kind.name == "centre" for kind in template)


def _is_symmetrical(outline: Outline) -> bool:
    _, y0, _, y1 = outline.bounds_mm
    image = outline.mirrored().moved(0.0, y0 + y1)
    differs = outline.polygon.symmetric_difference(image.polygon).area
    return float(differs) < SAME_BOTH_SIDES * outline.area_mm2 and _edges_mirrored(outline)


def _edges_mirrored(outline: Outline) -> bool:
    """Whether each edge lies where another, or itself, is in the mirror image: a half with a shallow neck does not."""
    _, y0, _, y1 = outline.bounds_mm
    middles = [halfway_along(outline.edge_path(i)) for i in range(len(outline.edges))]
    near = SAME_PLACE * (y1 - y0)
    return all(any(math.dist((x, y0 + y1 - y), other) < near for other in middles) for x, y in middles)


def _suggestion(index: int, match: _Match, piece_name: str, sure: float) -> Suggestion:
    if match.misfit > WORST_FIT:
        return _unknown(index)
    name, words = match.kind.name, piece_name.lower()
    if name == "centre":
        name = next((f"centre {side}" for side in ("front", "back") if side in words), "centre")
    elif name == "sleeve hem" and "cuff" in words:
        name = "cuff edge"
    return Suggestion(index, name, round(sure * (1.0 - match.misfit), 2), match.kind.reason)


# --- strips -----------------------------------------------------------------------------------------------


def _is_strip(outline: Outline) -> bool:
    box = outline.length_mm * outline.width_mm
    return len(outline.edges) >= 4 and outline.area_mm2 > STRIP_FILL * box


def _has_curve(outline: Outline) -> bool:
    """Whether an edge is clearly hollow or round, as the neckline of a boxy front is."""
    paths = (outline.edge_path(i) for i in range(len(outline.edges)))
    return any(path_length_mm(path) > (1.0 + CURVED_BEND) * math.dist(path[0], path[-1]) for path in paths)


def _strip(outline: Outline) -> tuple[Suggestion, ...]:
    """A rectangle: the edges along its longer direction are the long edges, the others its ends."""
    lengthways = outline.length_mm >= outline.width_mm
    square = min(outline.length_mm, outline.width_mm) > 0.9 * max(outline.length_mm, outline.width_mm)
    found = []
    for i in range(len(outline.edges)):
        start, *_, end = outline.edge_path(i)
        runs_along = abs(end[0] - start[0]) > abs(end[1] - start[1])
        if runs_along == lengthways:
            found.append(
                Suggestion(i, "long edge", 0.5 if square else 0.9, "a long side of a straight strip")
            )
        else:
            found.append(Suggestion(i, "end", 0.5 if square else 0.9, "a short side of a straight strip"))
    return tuple(found)


# --- fitting ----------------------------------------------------------------------------------------------


def _ways(outline: Outline, template: tuple[Kind, ...]) -> Iterator[_Way]:
    """Readings of the outline as this kind of piece: either end up, and of a half either side its centre."""
    if len(outline.edges) < len(template):
        return
    one_sided = _is_half(template) or CROTCH in template or FACING_OUTER in template
    for upside_down in (False, True):
        for from_low, from_high in ((True, False), (False, True)) if one_sided else ((False, False),):
            looks = _looks(outline, upside_down=upside_down, centre_low=from_low, centre_high=from_high)
            for order in (template, template[::-1]) if one_sided else (template,):
                yield _aligned(looks, order)


def _looks(outline: Outline, *, upside_down: bool, centre_low: bool, centre_high: bool) -> tuple[Look, ...]:
    x0, y0, x1, y1 = outline.bounds_mm
    length, width = max(x1 - x0, 1e-9), max(y1 - y0, 1e-9)
    perimeter = outline.perimeter_mm

    def height(point: Point) -> float:
        share = (point[0] - x0) / length
        return 1.0 - share if upside_down else share

    def out(y: float) -> float:
        if centre_low or centre_high:
            return (y - y0) / width if centre_low else (y1 - y) / width
        return abs(y - (y0 + y1) / 2) / (width / 2)

    looks = []
    for index in range(len(outline.edges)):
        path = outline.edge_path(index)
        heights = [height(point) for point in path]
        (ax, ay), (bx, by) = path[0], path[-1]
        chord, run = math.hypot(bx - ax, by - ay), path_length_mm(path)
        middle = halfway_along(path)
        looks.append(
            Look(
                height=height(middle),
                low=min(heights),
                high=max(heights),
                out=out(middle[1]),
                along=abs(bx - ax) / chord if chord > 1e-9 else 0.5,
                bulge=_bulge(path, chord),
                share=run / perimeter,
                bend=run / chord - 1.0 if chord > 1e-9 else 9.0,
            )
        )
    return tuple(looks)


def _bulge(path: Sequence[Point], chord: float) -> float:
    """Height of the arc over its chord as a share of the chord, positive outwards: 3/2 × area / chord².

    That holds for a parabola and roughly for any simple curve.
    """
    if chord < 1e-9:
        return 9.0
    ax, ay = path[0]
    area = 0.0
    for (px, py), (qx, qy) in pairwise(path):
        area += ((px - ax) * (qy - ay) - (qx - ax) * (py - ay)) / 2
    return 1.5 * area / chord**2


def _aligned(looks: tuple[Look, ...], template: tuple[Kind, ...]) -> _Way:
    """The best way to lay the template's edges, in order, round the ring; each takes one edge or a run."""
    n, m = len(looks), len(template)
    costs = [[kind.misfit(look) for kind in template] for look in looks]
    best: _Way | None = None
    for turn in range(n):
        order = [(turn + i) % n for i in range(n)]
        total, kinds = _laid(costs, order, m)
        if HEM in template and WAIST in template and CROTCH not in template:
            hem, waist = (
                sum(looks[e].share for e, k in zip(order, kinds, strict=True) if template[k] is end)
                for end in (HEM, WAIST)
            )
            total += NARROW_HEM_COST * n * (hem < waist)
        if best is None or total / n < best.misfit:
            matches = {
                edge: _Match(template[kind], costs[edge][kind])
                for edge, kind in zip(order, kinds, strict=True)
            }
            best = _Way(tuple(matches[i] for i in range(n)), total / n)
    assert best is not None
    return best


def _laid(costs: list[list[float]], order: list[int], kinds: int) -> tuple[float, list[int]]:
    """Least total misfit of the edges in this order, the first being of the first kind, the last of the last."""
    never = math.inf
    rows: list[list[float]] = [[costs[order[0]][0]] + [never] * (kinds - 1)]
    for edge in order[1:]:
        last = rows[-1]
        rows.append(
            [costs[edge][k] + min(last[k] + SPLIT_COST, last[k - 1] if k else never) for k in range(kinds)]
        )
    k = kinds - 1
    total, found = rows[-1][k], [k]
    for row in reversed(rows[:-1]):
        if k and row[k - 1] <= row[k] + SPLIT_COST:
            k -= 1
        found.append(k)
    return total, found[::-1]
