"""What every reader of pattern files gives back, and every writer takes.

Readers are pure: bytes in, :class:`ReadPattern` out, or :class:`PatternFileError`. They never guess silently: what
was assumed, left out or is missing stands in the findings, what must be asked stands in `asks_units`, in the
guesses of a piece and in its mends.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from planner.core.outline import Outline, Point

Path = tuple[Point, ...]

#: A file larger than this is not looked at (bytes). Real files hold 1 to 2 MB.
MOST_BYTES = 8_000_000
#: Most blocks, layers or groups that may hold pieces; real files hold some 150.
MOST_PIECES = 2_000
#: Most points of one piece after its curves were flattened; real outlines have up to 400.
MOST_POINTS_A_PIECE = 20_000
#: Most points of a whole file after its curves were flattened.
MOST_POINTS = 400_000
#: Curves are flattened to within this (mm).
FLATTEN_MM = 0.1
#: Ends of boundary lines nearer than this meet without a word (mm); the tolerance real files are written with.
JOIN_MM = 0.5
#: A grade rule's number stands within this of the point that it moves (mm).
RULE_TEXT_MM = 1.0
#: A boundary open by no more than this is offered to be closed (mm); a wider gap is refused.
LARGEST_GAP_MM = 10.0

#: Kinds of findings on what can be mended when somebody confirms it.
MENDED = ("gap", "crossing")

Units = Literal["ENGLISH", "METRIC", "asked"]
Level = Literal["assumed", "missing", "ignored", "ask", "refused"]


class PatternFileError(ValueError):
    """A file that cannot be read at all; the message says why in one plain line, naming the file."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One remark on a file: what was assumed, is missing, was ignored, must be asked, or was refused.

    `kind` is the rule's own short name ("no units", "gap", "crossing", "two outlines"…), for code to tell them
    apart; `piece` and `size` are "" where it is about the whole file. `text` is a plain sentence.
    """

    kind: str
    level: Level
    piece: str
    size: str
    text: str


@dataclass(frozen=True, slots=True)
class Notch:
    """A mark at the cut line in mm; `angle_deg` is its direction into the piece where the file gives one."""

    x: float
    y: float
    kind: str = "V"
    depth_mm: float = 0.0
    angle_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Marks:
    """What is drawn in a piece but is not its cut line; mm, in the coordinates of its outline."""

    notches: tuple[Notch, ...] = ()
    lines: tuple[Path, ...] = ()
    cutouts: tuple[Path, ...] = ()
    holes: tuple[Point, ...] = ()
    sew_lines: tuple[Path, ...] = ()
    stripe_lines: tuple[Path, ...] = ()

    def placed(self, place: Callable[[Sequence[Point]], Path], turn: Callable[[float], float]) -> Marks:
        """The same marks with all points taken elsewhere, and the directions of notches (degrees) turned."""

        def notch(n: Notch) -> Notch:
            ((x, y),) = place([(n.x, n.y)])
            return replace(n, x=x, y=y, angle_deg=None if n.angle_deg is None else turn(n.angle_deg) % 360.0)

        return Marks(
            notches=tuple(notch(n) for n in self.notches),
            lines=tuple(place(path) for path in self.lines),
            cutouts=tuple(place(path) for path in self.cutouts),
            holes=place(self.holes),
            sew_lines=tuple(place(path) for path in self.sew_lines),
            stripe_lines=tuple(place(path) for path in self.stripe_lines),
        )

    def as_json(self) -> dict[str, Any]:
        """Plain data for storing, rounded to 0.001 mm; what is empty is left out."""
        paths = {
            "lines": self.lines,
            "cutouts": self.cutouts,
            "sew_lines": self.sew_lines,
            "stripe_lines": self.stripe_lines,
            "holes": (self.holes,) if self.holes else (),
        }
        data: dict[str, Any] = {
            name: [[[round(x, 3), round(y, 3)] for x, y in path] for path in value]
            for name, value in paths.items()
            if value
        }
        if self.notches:
            data["notches"] = [
                [round(n.x, 3), round(n.y, 3), n.kind, round(n.depth_mm, 3), n.angle_deg]
                for n in self.notches
            ]
        return data


def marks_from_json(data: Mapping[str, Any]) -> Marks:
    """Reads what :meth:`Marks.as_json` wrote."""

    def paths(name: str) -> tuple[Path, ...]:
        return tuple(_path(path) for path in data.get(name, ()))

    holes = paths("holes")
    return Marks(
        notches=tuple(Notch(*notch) for notch in data.get("notches", ())),
        lines=paths("lines"),
        cutouts=paths("cutouts"),
        holes=holes[0] if holes else (),
        sew_lines=paths("sew_lines"),
        stripe_lines=paths("stripe_lines"),
    )


def _path(points: Sequence[Sequence[float]]) -> Path:
    return tuple((float(x), float(y)) for x, y in points)


@dataclass(frozen=True, slots=True)
class Mend:
    """A repair that is only taken when somebody has seen and confirmed it.

    Of a line that crosses itself, `drawn` is the closed line as the file has it and `crossings` are the places where
    it does so, in the coordinates of the outline.
    """

    kind: Literal["gap", "crossing"]
    at: Point
    text: str
    drawn: Path = ()
    crossings: Path = ()

    def moved(self, place: Callable[[Sequence[Point]], Path]) -> Mend:
        """The same repair with all its points taken elsewhere."""
        return replace(self, at=place([self.at])[0], drawn=place(self.drawn), crossings=place(self.crossings))


@dataclass(frozen=True, slots=True)
class ReadPiece:
    """A piece in one size as a file holds it.

    `outline` is in mm, x along the grain, unfolded where the file held half of it (`unfolded`); its edges are named
    as in the file, else "edge 1", "edge 2" … in the order of the ring (an edge and its mirror image share a name).
    `grain_deg` is the direction of the grain in the file, from its x axis, 0 ≤ g < 180 (0 where the file has none).
    `count` and `pair` are what the file states; `count_guess`, `pair_guess` and `role_guess` what its remarks
    suggest. With `mends` the outline is a repaired one, to be confirmed. `allowance_mm` is the seam allowance that
    was measured between cut line and sew line, by edge name; empty where the file has no sew line.
    """

    name: str
    size: str
    outline: Outline
    marks: Marks = Marks()
    unfolded: bool = False
    grain_deg: float = 0.0
    count: int | None = None
    pair: bool | None = None
    count_guess: int | None = None
    pair_guess: bool | None = None
    role_guess: str = ""
    mends: tuple[Mend, ...] = ()
    allowance_mm: Mapping[str, float] | None = None


@dataclass(frozen=True)
class ReadPattern:
    """A pattern file as it was read.

    `sizes` stand in the order of the file ("" where it names none). `asks_units`: neither the file nor the caller
    gave units; the outlines are then as if it were in mm. `format` is for people: "graded DXF", "DXF with grade
    rules", "plain DXF", "SVG".
    """

    file_name: str
    format: str
    units: Units
    asks_units: bool
    sizes: tuple[str, ...]
    sample_size: str
    style_name: str
    pieces: tuple[ReadPiece, ...]
    findings: tuple[Finding, ...]

    def piece_names(self) -> tuple[str, ...]:
        """Names of the pieces in the order of the file."""
        return tuple(dict.fromkeys(piece.name for piece in self.pieces))

    def of(self, name: str) -> dict[str, ReadPiece]:
        """A piece by size."""
        return {piece.size: piece for piece in self.pieces if piece.name == name}
