"""Which lines of a drawing are one piece, what it is called and which size it is.

The rule: a piece is what stands in one group or layer with a name (see :mod:`svg_names`). In a group with several
outlines, and outside all groups, every closed outline is a piece called by its own name. The size comes from a name of
its own, whether that stands inside the piece's group or round it, or from the end of the piece's name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from planner.core.pattern_files.chaining import Chain, chain
from planner.core.pattern_files.folding import close_on_line
from planner.core.pattern_files.model import MOST_PIECES, Path, PatternFileError
from planner.core.pattern_files.rings import Ring, RingError, Stroke, middle_of
from planner.core.pattern_files.svg_draw import Drawn, Group, Sheet
from planner.core.pattern_files.svg_names import is_name, name_and_size

#: Marks this near to an outline belong to it (mm).
BESIDE_MM = 5.0
#: Most pairs of outlines of one group that are held against each other.
MOST_COMPARED = 20_000
#: Most places in which marks may stand, as one in a nest stands in every size.
MOST_SHARED = 50_000
#: A line this near to the page, as a share of it, is the page.
SAME_PAGE_SHARE = 0.002


@dataclass(eq=False)
class Found:
    """An outline of the drawing with its name, size, and what is drawn in it. In mm, as on the sheet, y up."""

    name: str
    size: str
    ring: Ring
    groups: tuple[Group, ...]
    marks: list[Drawn] = field(default_factory=list)
    inner: list[Path] = field(default_factory=list)

    @property
    def known(self) -> dict[str, str]:
        """What its innermost group says of it."""
        return self.groups[-1].attributes if self.groups else {}


def find_pieces(sheet: Sheet) -> list[Found]:
    """The pieces of a drawing in its order, each with its marks; what fits nowhere becomes a finding."""
    by_owner: dict[Group | None, list[Drawn]] = {}
    marks: list[tuple[Group | None, Drawn]] = []
    for drawn in _without_page(sheet):
        groups = _named(drawn.groups)
        owner = groups[-1] if groups else None
        if drawn.part in ("cloth", "arrow"):
            continue
        if drawn.part:
            marks.append((owner, drawn))
        else:
            by_owner.setdefault(owner, []).append(drawn)
    found = _all_pieces(by_owner, marks, sheet)
    beside = _called_as_lines(marks, found, sheet)
    marks = [(owner, drawn) for owner, drawn in marks if drawn not in beside]
    by_owner = {}
    for drawn in beside:
        groups = _named(drawn.around)
        by_owner.setdefault(groups[-1] if groups else None, []).append(drawn.as_piece())
    found += _all_pieces(by_owner, marks, sheet)
    _share_out(marks, found, sheet)
    return found


def _all_pieces(
    by_owner: Mapping[Group | None, list[Drawn]], marks: Sequence[tuple[Group | None, Drawn]], sheet: Sheet
) -> list[Found]:
    found: list[Found] = []
    for owner, lines in by_owner.items():
        folds = [drawn for at, drawn in marks if at is owner and drawn.part == "fold"]
        found += _pieces_of(owner, lines, folds, sheet)
    return found


def _called_as_lines(
    marks: Sequence[tuple[Group | None, Drawn]], found: Sequence[Found], sheet: Sheet
) -> dict[Drawn, None]:
    """Closed lines that are called as internal lines are but lie in no piece: "internal facing" is one of its own.

    What lies in a piece stays a line of it; outside all groups, where it may be either, that is said. In the group of
    a piece it would bear that piece's name: there it is no piece either.
    """
    of_pieces = {group for piece in found for group in piece.groups}
    tree = shapely.STRtree([_solid(piece.ring) for piece in found])
    beside: dict[Drawn, None] = {}
    for owner, drawn in marks:
        if not drawn.may_be_piece or of_pieces.intersection(_named(drawn.around)[-1:]):
            continue
        near = tree.query(shapely.points(middle_of(drawn.points)), predicate="dwithin", distance=BESIDE_MM)
        called = f"“{drawn.said_by[:60]}” is called as an internal line is"
        if not len(near):
            beside[drawn] = None
            text = f"{called}, but lies in no piece, so it was taken as a piece of its own"
            sheet.note("called as a line", "assumed", text)
        elif owner is None:
            text = f"{called} and lies in a piece: taken as drawn in it, not cut; is it a piece, give it another name"
            sheet.note("called as a line", "assumed", text)
    return beside


def _without_page(sheet: Sheet) -> list[Drawn]:
    """All lines but a nameless one round the whole page: some programs paint the page before they draw on it."""
    width, height = sheet.page_mm

    def is_page(drawn: Drawn) -> bool:
        if not drawn.closed or len(drawn.points) != 4 or is_name(drawn.label) or _named(drawn.groups):
            return False
        xs, ys = zip(*drawn.points, strict=True)
        near = SAME_PAGE_SHARE * max(width, height)
        corners = (min(xs), min(ys), max(xs) - width, max(ys) - height)
        return all(abs(corner) <= near for corner in corners)

    pages = [drawn for drawn in sheet.drawn if is_page(drawn)] if width and height else []
    if not pages or len(pages) == len(sheet.drawn):
        return sheet.drawn
    sheet.note("page", "ignored", "a line round the whole page was taken for the page itself")
    return [drawn for drawn in sheet.drawn if drawn not in pages]


def _named(groups: Sequence[Group]) -> tuple[Group, ...]:
    """The groups that have a name; all others are looked through."""
    return tuple(group for group in groups if "data-piece" in group.attributes or is_name(group.label))


def _pieces_of(owner: Group | None, lines: list[Drawn], folds: list[Drawn], sheet: Sheet) -> list[Found]:
    """The pieces among the lines of one group."""
    if any("data-edge" in drawn.attributes for drawn in lines):
        # The same outline stands there whole, to be filled.
        lines = [drawn for drawn in lines if drawn.attributes.get("data-part") != "outline"] or lines
    groups = _named(lines[0].groups)
    name, size = name_and_size([group.label for group in groups])
    rings = _closed_rings(lines)
    joined, left_over = _joined_rings(lines, folds, name, size, sheet)
    rings += joined
    called = {drawn.points: drawn.label for drawn in lines if not drawn.closed and is_name(drawn.label)}
    if not rings:
        for open_chain in left_over:
            piece = name or called.get(open_chain.points, "")
            sheet.note("open", "refused", _open_text(open_chain), piece=piece, size=size)
        return []
    shapes = [_solid(ring) for ring, _ in rings]
    inside = _inside(shapes)
    pieces = []
    outer_labels = [labels for i, (_, labels) in enumerate(rings) if i not in inside]
    loose: list[Path] = [open_chain.points for open_chain in left_over]
    for i, (ring, labels) in enumerate(rings):
        own = [label for label in labels if is_name(label)]
        own_size = name_and_size(own)[1]
        # A hole of a path has the path's own label.
        nameless = own_size in ("", size) if owner is not None else not own or labels in outer_labels
        if i in inside and nameless:
            loose.append((*ring.points, ring.points[0]))
        else:
            pieces.append((ring, own))
    found = _called(pieces, groups, sheet)
    if loose:
        _give_inner(loose, found, called, sheet)
    return found


def _closed_rings(lines: list[Drawn]) -> list[tuple[Ring, list[str]]]:
    """Closed lines as rings, each with its own label; one drawn twice counts once."""
    closed = [drawn for drawn in lines if drawn.closed]
    if len(closed) > MOST_PIECES:
        raise PatternFileError(f"more than {MOST_PIECES:,} closed lines")
    labels: dict[Path, str] = {}
    for drawn in closed:
        for ring in chain([Stroke(drawn.points, closed=True)]).rings:
            labels.setdefault(ring.points, drawn.label)
    together = chain([Stroke(drawn.points, closed=True) for drawn in closed]).rings
    order = {points: place for place, points in enumerate(labels)}
    rings = sorted(together, key=lambda ring: order.get(ring.points, 0))
    return [(ring, [labels.get(ring.points, "")]) for ring in rings]


def _joined_rings(
    lines: list[Drawn], folds: list[Drawn], name: str, size: str, sheet: Sheet
) -> tuple[list[tuple[Ring, list[str]]], list[Chain]]:
    """Open lines joined end to end into rings, and the chains that do not close."""
    open_lines = [drawn for drawn in lines if not drawn.closed]
    strokes = [
        Stroke(drawn.points, is_edge=drawn.is_edge, name=drawn.attributes.get("data-edge", ""))
        for drawn in open_lines
    ]
    try:
        chained = chain(strokes)
    except RingError as error:
        sheet.note(error.kind, "refused", str(error), piece=name, size=size)
        return [], []
    rings = list(chained.rings)
    left_over = []
    for open_chain in chained.open:
        mirrors = [(fold.points[0], fold.points[-1]) for fold in folds if len(fold.points) > 1]
        closed = next((ring for line in mirrors if (ring := close_on_line(open_chain, line))), None)
        if closed:
            rings.append(closed)
        else:
            left_over.append(open_chain)
    names = [stroke.name for stroke in strokes if stroke.name]
    if len(rings) == 1 and len(names) == 1 and not rings[0].names:
        # One edge that runs all the way round.
        rings = [replace(rings[0], starts=(0,), names=(names[0],))]
    labels = sorted({drawn.label for drawn in open_lines if drawn.label})
    return [(ring, labels if len(labels) == 1 else []) for ring in rings], left_over


def _called(pieces: Sequence[tuple[Ring, list[str]]], groups: tuple[Group, ...], sheet: Sheet) -> list[Found]:
    """Names for the outlines of one group."""
    outer = [group.label for group in groups]
    known = groups[-1].attributes if groups else {}
    name, size = name_and_size(outer)
    found = []
    for number, (ring, own) in enumerate(pieces, 1):
        if "data-piece" in known:
            called, of_size = known["data-piece"], known.get("data-size", "")
        elif len(pieces) == 1 and name:
            called, of_size = name, size or name_and_size(own)[1]
        else:
            called, of_size = name_and_size([*outer, *own])
            if own and called == name and of_size == size:
                called = own[-1]
        if len(pieces) > 1 and not own:
            called = f"{called or 'piece'} {number}"
            if name:
                text = f"{len(pieces)} outlines stand in one group; they were taken as pieces of their own"
                sheet.note("two outlines", "assumed", text, piece=name, size=size)
        found.append(Found(called or "piece", of_size, ring, groups))
    return found


def _solid(ring: Ring) -> BaseGeometry:
    """The ground of a ring; of one that crosses itself roughly, as a scribble's true ground takes hours to find."""
    shape: BaseGeometry = Polygon(ring.points)
    return shape if shape.is_valid else shape.convex_hull


def _inside(shapes: Sequence[BaseGeometry]) -> set[int]:
    """Which of the shapes lie inside another one.

    From the largest down, each is held against those that lie in no other: what is inside something inside is inside
    that as well. Raises PatternFileError where too many lie across each other.
    """
    if len(shapes) < 2:
        return set()
    tree = shapely.STRtree(shapes)
    grown: dict[int, BaseGeometry] = {}
    inside: set[int] = set()
    compared = 0
    for i in sorted(range(len(shapes)), key=lambda i: -shapes[i].area):
        for other in map(int, tree.query(shapes[i].representative_point(), predicate="intersects")):
            if other in inside or shapes[other].area <= shapes[i].area:
                continue
            compared += 1
            if compared > MOST_COMPARED:
                raise PatternFileError(f"more than {MOST_COMPARED:,} outlines lie across each other")
            if other not in grown:
                # Two pieces may touch, and an inner line run along the outline.
                grown[other] = shapes[other].buffer(0.5)
                shapely.prepare(grown[other])
            if grown[other].covers(shapes[i]):
                inside.add(i)
                break
    return inside


def _give_inner(
    loose: Sequence[Path], found: Sequence[Found], called: Mapping[Path, str], sheet: Sheet
) -> None:
    """Lines inside an outline are kept as lines drawn in it; of others it is said, by name, that they are left out."""
    solids = [_solid(piece.ring) for piece in found]
    tree = shapely.STRtree(solids)
    counts: dict[int, int] = {}
    for path in loose:
        near = _around(path, tree, solids)
        for i in near:
            found[i].inner.append(path)
            counts[i] = counts.get(i, 0) + 1
        if not near:
            at = path[0]
            text = f"a line at ({at[0]:.0f}, {at[1]:.0f}) mm lies in no piece and was left out"
            sheet.note("stray line", "ignored", text, piece=called.get(path, ""))
    for i, count in counts.items():
        lines = "a line" if count == 1 else f"{count} lines"
        text = f"{lines} inside the outline without a name: taken as drawn in it, not cut"
        sheet.note("inner lines", "assumed", text, piece=found[i].name, size=found[i].size)


def _around(path: Path, tree: shapely.STRtree, solids: Sequence[BaseGeometry]) -> list[int]:
    """The smallest of the shapes in which, or at which, a line lies; none or one."""
    middle = shapely.points(path[len(path) // 2])
    near = tree.query(middle, predicate="dwithin", distance=BESIDE_MM)
    return [min(map(int, near), key=lambda i: solids[i].area)] if len(near) else []


def _share_out(marks: Sequence[tuple[Group | None, Drawn]], found: Sequence[Found], sheet: Sheet) -> None:
    """Gives each mark to the outlines of its group that it lies in, or to its only one.

    A closed line beside all of them is told by its name: it may be a piece that is called as marks are.
    """
    tree = shapely.STRtree([_solid(piece.ring) for piece in found])
    of_group: dict[Group | None, set[int]] = {}
    for index, piece_found in enumerate(found):
        for group in {None, *piece_found.groups}:
            of_group.setdefault(group, set()).add(index)
    shared = 0
    for owner, drawn in marks:
        own = of_group.get(owner, set())
        near = tree.query(shapely.points(middle_of(drawn.points)), predicate="dwithin", distance=BESIDE_MM)
        shared += len(near)
        if shared > MOST_SHARED:
            raise PatternFileError(f"marks would stand in more than {MOST_SHARED:,} places")
        inside = own.intersection(map(int, near))
        may_lie_beside = not drawn.closed or drawn.part == "grain"
        chosen = sorted(inside) or (list(own) if len(own) == 1 and may_lie_beside else [])
        for index in chosen:
            found[index].marks.append(drawn)
        if chosen:
            continue
        if drawn.closed and "data-part" not in drawn.attributes:
            text = f"by its name a line of the kind “{drawn.part}”, so it was not read; is it a piece, give it another"
            sheet.note("stray mark", "refused", text, piece=drawn.said_by)
        else:
            sheet.note("stray mark", "ignored", f"a {drawn.part} line belongs to no piece")


def _open_text(open_chain: Chain) -> str:
    a = open_chain.points[0]
    return (
        f"the boundary is open by {open_chain.gap_mm:.1f} mm at ({a[0]:.0f}, {a[1]:.0f}) mm: close the line"
    )
