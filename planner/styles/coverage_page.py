"""What can be planned of a style, as its page shows it: options down, sizes across, what is missing beside."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.urls import reverse

from planner.core.spec import Cloth, ClothKey, Options, StyleSpec
from planner.core.units import Display
from planner.materials.models import Workroom
from planner.materials.specs import cloth_of
from planner.styles import checks
from planner.styles import coverage as cover
from planner.styles.lacks import Lack, NoSeamOperation, TooWide, UnfitCloth, UnknownStitch
from planner.styles.models import Style
from planner.styles.side_by_side import TooWideBeside

#: Different things missing that are named in one row; what is beyond them is counted.
MOST_NAMED = 6


@dataclass(frozen=True)
class Missing:
    """Something missing, with the address where it is mended and from which sizes it is missing ("" for all)."""

    text: str
    url: str


@dataclass(frozen=True)
class CoverageRow:
    """`cells` are (size, "yes", "part" or "no"); "part" where only some colourways lack something."""

    detail: str
    name: str
    cells: tuple[tuple[str, str], ...]
    missing: tuple[Missing, ...]
    more: int


@dataclass(frozen=True)
class CoverageTable:
    """The section of the page. `excluded` are pairs that cannot be had together, in words."""

    answer: str
    sizes: Sequence[str]
    rows: Sequence[CoverageRow]
    excluded: Sequence[str]
    is_complete: bool

    @property
    def has_parts(self) -> bool:
        """Whether in some size only some colourways lack something."""
        return any(state == "part" for row in self.rows for _, state in row.cells)


def coverage_table(style: Style, spec: StyleSpec) -> CoverageTable:
    """What can be planned of a style read `with_everything`. No query but for the workroom's."""
    room = Workroom.the()
    found = cover.coverage(spec, cloths_in(style), float(room.piece_gap_mm))
    return CoverageTable(
        answer=cover.answer(found),
        sizes=spec.sizes,
        rows=[_row(style, spec, row, room.display) for row in found.rows],
        excluded=[f"{_name(one)} with {_name(other)}" for one, other in spec.exclusions],
        is_complete=found.is_complete,
    )


def cloths_in(style: Style) -> dict[ClothKey, Cloth]:
    """The cloths of the colourways of a style read `with_everything`, nothing of them on hand. No query."""
    colours = [cloth.fabric_colour for way in style.colourways.all() for cloth in way.cloths.all()]
    return {cloth.key: cloth for cloth in map(cloth_of, colours)}


def _name(option: tuple[str, str]) -> str:
    return " ".join(option)


def _row(style: Style, spec: StyleSpec, row: cover.Row, display: Display) -> CoverageRow:
    detail, name = _title(row.options)
    said = checks.in_words([lack.problem for lack in row.lacks], spec.sizes, display)
    missing = [Missing(text[0].upper() + text[1:], mended_at(style, problem)) for problem, text in said]
    return CoverageRow(
        detail=detail,
        name=name,
        cells=tuple((size, _state(spec, row.lacks, size)) for size in spec.sizes),
        missing=tuple(missing[:MOST_NAMED]),
        more=max(len(missing) - MOST_NAMED, 0),
    )


def _title(options: Options) -> tuple[str, str]:
    if not options:
        return "", "every garment"
    if len(options) == 1:
        return options[0]
    return "", " with ".join(map(_name, options))


def _state(spec: StyleSpec, lacks: Iterable[Lack], size: str) -> str:
    lacking = {way for lack in lacks if size in lack.sizes for way in lack.colourways}
    if not lacking:
        return "yes"
    return "part" if len(lacking) < len(spec.colourways) else "no"


def mended_at(style: Style, problem: checks.Problem) -> str:
    """Where what is missing is put right: the part itself, at the base where it is the base's; else its section."""
    match problem:
        case checks.NoOutline(piece, size):
            return _at("outline-edit", style.pieces.all(), piece, query=f"?size={size}")
        case checks.NoSuchEdge(_, piece):
            return _at("piece-edges", style.pieces.all(), piece)
        case checks.OddPair(piece):
            return _at("part-change", style.pieces.all(), piece, "piece")
        case checks.SeamWithoutEdges(seam) | NoSeamOperation(seam):
            return _at("part-change", style.seams.all(), seam, "seam")
        case UnknownStitch(step):
            return _at("part-change", style.operations.all(), step, "operation")
        case checks.RoleWithoutCloth(way) | UnfitCloth(way):
            return _at("part-change", style.colourways.all(), way, "colourway")
        case TooWide() | TooWideBeside():
            return _at("part-change", style.colourways.all(), problem.colourway, "colourway")
    return f"#section-{problem.section}"


def _at(page: str, parts: Iterable, name: str, slug: str = "", *, query: str = "") -> str:
    part = next(part for part in parts if part.name == name)
    where = [part.style.number, slug, part.pk] if slug else [part.style.number, part.pk]
    return reverse(page, args=where) + query
