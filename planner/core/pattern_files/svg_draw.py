"""What an SVG file draws, in mm: every visible line with its groups and what it is, transforms and scale applied.

The sheet's y points down; everything here has y up and x to the right, so that nothing comes out mirrored,
and (0, 0) is the lower left corner of the sheet.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from planner.core.outline import path_length_mm
from planner.core.pattern_files.assembling import Remarks
from planner.core.pattern_files.model import JOIN_MM, MOST_POINTS, Path, PatternFileError, Units
from planner.core.pattern_files.svg_names import is_name, part_of, says_more_than_a_line
from planner.core.pattern_files.svg_shapes import SHAPES, flat_points, shape_trails
from planner.core.pattern_files.svg_units import (
    LENGTH,
    Matrix,
    ShapeError,
    Trail,
    after,
    length_px,
    transform,
    view_box,
)
from planner.core.pattern_files.svg_xml import Element
from planner.core.units import MM_PER_INCH

#: Millimetres in a CSS pixel: 96 of them are an inch.
MM_IN_PIXEL = MM_PER_INCH / 96.0
#: Most lines a file may draw, counting every use of a symbol.
MOST_SHAPES = 20_000
#: Most elements visited, counting every use of a symbol.
MOST_VISITS = 200_000
#: Most elements inside one another once symbols stand in their places.
DEEPEST_DRAWN = 120

#: x, y, width, height of a view box.
Box = tuple[float, float, float, float]

CONTAINERS = frozenset({"svg", "g", "a", "switch"})
#: What cannot be read, and how that is said.
IGNORED = {
    "text": "text in the drawing was not read",
    "image": "a picture in the drawing was not read; pictures outside the file are never fetched",
    "script": "a script in the file was ignored",
    "foreignObject": "what another program put into the drawing (foreignObject) was ignored",
    "style": "the file's style sheet was ignored; lines that it hides are read all the same",
}
PHYSICAL = frozenset({"mm", "cm", "in", "pt", "pc", "q"})


@dataclass(eq=False, slots=True)
class Group:
    """A layer or group at one place of the drawing."""

    label: str
    attributes: dict[str, str]


@dataclass(eq=False, slots=True)
class Drawn:
    """One line of the drawing: a path in mm, the groups round it from outside inwards, and what it is.

    `part` is "" for what may be an outline. A closed path does not repeat its first point; one that only comes back
    to where it began is closed too. `is_edge` is False for a single straight line, which may be a bit of a longer one.
    """

    label: str
    part: str
    groups: tuple[Group, ...]
    points: Path
    closed: bool
    is_edge: bool
    attributes: dict[str, str]
    #: The name, its own or that of a layer round it, that says what part it is.
    said_by: str = ""
    #: All groups round it, with the layer that says what part it is.
    around: tuple[Group, ...] = ()

    @property
    def may_be_piece(self) -> bool:
        """Whether it may be a piece all the same, called as internal lines are: an internal facing."""
        said = "data-part" not in self.attributes and says_more_than_a_line(self.said_by)
        return self.closed and self.part == "internal" and said

    def as_piece(self) -> Drawn:
        """The same line as what may be an outline."""
        return replace(self, part="", groups=self.around)


@dataclass(slots=True)
class Sheet:
    """Everything a file draws, its units, and what was found on the way."""

    units: Units = "METRIC"
    #: Width and height of the page in mm; 0 where the file names none.
    page_mm: tuple[float, float] = (0.0, 0.0)
    drawn: list[Drawn] = field(default_factory=list)
    remarks: Remarks = field(default_factory=Remarks)

    @property
    def note(self) -> Callable[..., None]:
        """Keeps a remark: kind, level, text, and by keyword piece and size."""
        return self.remarks.add


def draw_sheet(root: Element, *, name: str, units: Literal["mm", "in"] | None) -> Sheet:
    """All visible lines of a drawing in mm. Raises PatternFileError where a limit is passed or no scale is possible."""
    sheet = Sheet()
    try:
        scale = _scale(root, units, sheet)
    except ShapeError as error:
        raise PatternFileError(f"{name}: the size of the drawing cannot be read: {error}") from error
    _Walk(root, sheet, name).visit(root, scale, (), depth=0, uses=0)
    return sheet


def _scale(root: Element, units: Literal["mm", "in"] | None, sheet: Sheet) -> Matrix:
    """From user units to mm with y up; says what was assumed.

    SVG 2, 7.2 and 8.2: width and height span the view box, evenly unless preserveAspectRatio is "none". Without them
    a user unit is a CSS pixel.
    """
    box = view_box(root.get("viewBox"))
    lengths = [LENGTH.match(root.get(key)) for key in ("width", "height")]
    said = {
        match[2].lower()
        for match in lengths
        if match and match[2].lower() in PHYSICAL and float(match[1]) > 0
    }
    if units:
        sheet.units = "asked"
        factor = 1.0 if units == "mm" else MM_PER_INCH
        if said:
            sheet.note(
                "units", "assumed", f"one unit of the drawing was taken as 1 {units}, whatever the file says"
            )
        return _onto_page(sheet, factor, factor, box)
    sheet.units = "ENGLISH" if "in" in said else "METRIC"
    if not said or box is None:
        sheet.note(
            "no units",
            "assumed",
            "the file does not say how large its units are; they were read as 96 to the inch: "
            "check the size of a piece",
        )
    x, y = _stretch(root, box)
    # Rounded so that 200 mm on 200 units are 1 mm each, not a billionth off.
    x, y = float(f"{x * MM_IN_PIXEL:.13g}"), float(f"{y * MM_IN_PIXEL:.13g}")
    return _onto_page(sheet, x, y, box)


def _onto_page(sheet: Sheet, x: float, y: float, box: Box | None) -> Matrix:
    """From user units, so many mm wide and high, to mm from the lower left corner of the page."""
    if box is None:
        return x, 0.0, 0.0, -y, 0.0, 0.0
    left, top, width, height = box
    sheet.page_mm = (width * x, height * y)
    return x, 0.0, 0.0, -y, -x * left, y * (top + height)


def _stretch(element: Element, box: Box | None) -> tuple[float, float]:
    """How far a view box is stretched to its width and height: px a unit, along x and y."""
    if box is None:
        return 1.0, 1.0
    sizes = []
    for key, span in (("width", box[2]), ("height", box[3])):
        text = element.get(key).strip()
        usable = text and text != "auto" and not text.endswith("%")
        size = length_px(text) if usable else 0.0
        sizes.append(size / span if size > 0 else 0.0)
    x, y = (a or b or 1.0 for a, b in (sizes, reversed(sizes)))
    fitting = element.get("preserveAspectRatio").split()
    if "none" in fitting:
        return x, y
    even = max(x, y) if "slice" in fitting else min(x, y)
    return even, even


class _Walk:
    """Goes through the drawing once, symbols in the places where they are used."""

    def __init__(self, root: Element, sheet: Sheet, name: str) -> None:
        self.sheet = sheet
        self.name = name
        self.visits = 0
        self.points = 0
        self.by_id: dict[str, Element] = {}
        for element in root.walk():
            self.by_id.setdefault(element.get("id"), element)
            if any(key.lower().startswith("on") for key in element.attributes):
                sheet.note("script", "ignored", IGNORED["script"])
            if element.tag in ("script", "style"):
                sheet.note(element.tag, "ignored", IGNORED[element.tag])

    def visit(
        self, element: Element, matrix: Matrix, groups: tuple[Group, ...], *, depth: int, uses: int
    ) -> None:
        """Draws an element and what is in it; `matrix` leads from its parent's units to mm."""
        self.visits += 1
        if self.visits > MOST_VISITS:
            raise PatternFileError(f"{self.name}: the drawing repeats its symbols too often")
        if depth > DEEPEST_DRAWN or uses > DEEPEST_DRAWN // 10:
            raise PatternFileError(f"{self.name}: the drawing nests its symbols too deeply")
        if element.hidden:
            if element.tag in CONTAINERS or element.tag in SHAPES:
                self.sheet.note("hidden", "ignored", "what the drawing hides was left out")
            return
        if element.tag in SHAPES:
            self._guarded(element, groups, lambda: self._shape(element, matrix, groups))
        elif element.tag in CONTAINERS or element.tag == "symbol":
            inner = self._guarded(element, groups, lambda: self._inside(element, matrix, root=depth == 0))
            if inner is None:
                return
            here = groups if depth == 0 else (*groups, Group(element.label, element.attributes))
            for child in element.children:
                if child.tag != "symbol":
                    self.visit(child, inner, here, depth=depth + 1, uses=uses)
        elif element.tag == "use":
            self._use(element, matrix, groups, depth=depth, uses=uses)
        elif element.tag in IGNORED:
            self.sheet.note(element.tag, "ignored", IGNORED[element.tag])

    def _guarded(
        self, element: Element, groups: tuple[Group, ...], draw: Callable[[], Matrix | None]
    ) -> Matrix | None:
        """Draws; what cannot be read becomes a finding, and the rest of the file goes on."""
        try:
            return draw()
        except ShapeError as error:
            what = element.label or next((g.label for g in reversed(groups) if g.label), "") or element.tag
            self.sheet.note("shape", "refused", f"“{what[:60]}” cannot be read: {error}")
            return None

    def _inside(self, element: Element, matrix: Matrix, *, root: bool) -> Matrix:
        """The units inside a group; an inner drawing or symbol has a view box of its own."""
        inner = after(matrix, _own_transform(element))
        if root or element.tag not in ("svg", "symbol"):
            return inner
        corner = (1.0, 0.0, 0.0, 1.0, length_px(element.get("x")), length_px(element.get("y")))
        inner = after(inner, corner)
        box = view_box(element.get("viewBox"))
        if box is None:
            return inner
        x, y = _stretch(element, box)
        return after(inner, (x, 0.0, 0.0, y, -box[0] * x, -box[1] * y))

    def _use(
        self, element: Element, matrix: Matrix, groups: tuple[Group, ...], *, depth: int, uses: int
    ) -> None:
        target = self.by_id.get(element.href[1:]) if element.href.startswith("#") else None
        if target is None:
            self.sheet.note("reference", "ignored", "a reference that leads out of the file was not followed")
            return
        inner = self._guarded(element, groups, lambda: self._placed(element, matrix))
        if inner is None:
            return
        if target.tag in ("symbol", "svg"):
            # The size given where it is used counts, not that of the symbol.
            size = {key: element.get(key) for key in ("width", "height") if element.get(key)}
            target = Element(target.tag, {**target.attributes, **size}, target.children)
        if is_name(element.label):
            # What it is called where it stands goes before what it was called when it was drawn.
            target = Element(target.tag, _without_label(target.attributes), target.children)
        here = (*groups, Group(element.label, element.attributes))
        self.visit(target, inner, here, depth=depth + 1, uses=uses + 1)

    def _placed(self, element: Element, matrix: Matrix) -> Matrix:
        shift = (1.0, 0.0, 0.0, 1.0, length_px(element.get("x")), length_px(element.get("y")))
        return after(after(matrix, _own_transform(element)), shift)

    def _shape(self, element: Element, matrix: Matrix, groups: tuple[Group, ...]) -> None:
        matrix = after(matrix, _own_transform(element))
        for trail in shape_trails(element.tag, element.attributes):
            points = flat_points(trail, matrix)
            self.points += len(points)
            if self.points > MOST_POINTS:
                raise PatternFileError(f"{self.name}: the drawing has more than {MOST_POINTS:,} points")
            if len(self.sheet.drawn) >= MOST_SHAPES:
                raise PatternFileError(f"{self.name}: the drawing has more than {MOST_SHAPES:,} lines")
            self.sheet.drawn.append(_drawn(element, trail, points, groups))


def _own_transform(element: Element) -> Matrix:
    """An element's transform. Raises ShapeError where its style has one: read without it, it would be a wrong size."""
    if element.moved_by_style:
        raise ShapeError(
            "its style moves or stretches it, which is not read; apply the transform in the drawing"
        )
    return transform(element.get("transform"))


def _without_label(attributes: dict[str, str]) -> dict[str, str]:
    unwanted = ("label", "id", "data-name")
    return {key: value for key, value in attributes.items() if key.rpartition(":")[2] not in unwanted}


def _drawn(
    element: Element, trail: Trail, points: Sequence[tuple[float, float]], groups: tuple[Group, ...]
) -> Drawn:
    is_edge_of_ours = "data-edge" in element.attributes
    comes_back = not trail.closed and not is_edge_of_ours and _comes_back(points)
    closed = trail.closed or comes_back
    repeats = comes_back or (closed and len(points) > 1 and points[0] == points[-1])
    path = tuple(points[:-1]) if repeats else tuple(points)
    said, said_by, around = element.get("data-part"), element.label, groups
    part = part_of(element.label, closed=trail.closed)
    if said in ("outline", "edge"):
        part = ""
    elif said:
        part = said
    elif not part:
        # A whole layer may be called "grain lines": its lines then belong to the group round it.
        for depth in range(len(groups) - 1, -1, -1):
            group = groups[depth]
            if "data-piece" not in group.attributes and (part := part_of(group.label, closed=trail.closed)):
                groups, said_by = groups[:depth], group.label
                break
    straight = len(trail.segments) == 1 and len(trail.segments[0]) == 2
    is_edge = not straight or is_edge_of_ours
    return Drawn(element.label, part, groups, path, closed, is_edge, element.attributes, said_by, around)


def _comes_back(points: Sequence[tuple[float, float]]) -> bool:
    """Whether a line that was not closed ends where it began, as the joining of lines takes it."""
    near = len(points) > 3 and math.dist(points[0], points[-1]) <= JOIN_MM
    return near and path_length_mm(points) > 4 * JOIN_MM
