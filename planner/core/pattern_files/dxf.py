"""DXF files: graded nests, base size with grade rules, and plain drawings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from planner.core.pattern_files.assembling import Remarks, Shape, assembled, say_missing_sizes
from planner.core.pattern_files.astm import BlockPiece, is_piece_block, read_blocks
from planner.core.pattern_files.duplicates import as_large, once_each, refuse_empty
from planner.core.pattern_files.dxf_shapes import Budget, text_of
from planner.core.pattern_files.dxf_tags import Block, Drawing, Entity, load_drawing
from planner.core.pattern_files.grade_rules import read_rules
from planner.core.pattern_files.model import ReadPattern, ReadPiece, Units
from planner.core.pattern_files.plain_dxf import read_plain
from planner.core.pattern_files.rules import check_fit, graded
from planner.core.pattern_files.texts import first_of, keyed, units_of
from planner.core.units import MM_PER_INCH

#: What `$INSUNITS` means (DXF reference, HEADER section).
INSUNITS = {"1": "inches", "4": "millimetres", "5": "centimetres", "6": "metres"}
INCHES_OR_MM: Mapping[Units, str] = {"ENGLISH": "inches", "METRIC": "millimetres"}


@dataclass(frozen=True)
class _Scale:
    """mm for one unit of the file, and where that comes from."""

    in_mm: float
    units: Units
    asks: bool


def read_dxf(
    content: bytes,
    *,
    name: str,
    rules: bytes | None = None,
    rules_name: str = "",
    units: Literal["mm", "in"] | None = None,
    mend: bool = False,
) -> ReadPattern:
    """Reads an ASCII DXF file; see :func:`planner.core.pattern_files.read.read_pattern`."""
    drawing = load_drawing(content, name=name)
    remarks = Remarks()
    _say_letters(drawing, remarks)
    style = _style_texts(drawing)
    scale = _scale(style, units, remarks)
    blocks = _piece_blocks(drawing, style)
    budget = Budget(name)
    sample_size = first_of(style, "sample size")
    sizes: tuple[str, ...] = ()
    if blocks:
        drawn = read_blocks(
            blocks, scale=scale.in_mm, budget=budget, sample_size=sample_size, remarks=remarks
        )
        kind, shapes, sizes, sample_size = _graded_or_not(
            drawn, style, sample_size, _as_utf8(rules, drawing), rules_name, name, scale, units, remarks
        )
    else:
        kind = "plain DXF"
        shapes = read_plain(drawing, scale=scale.in_mm, budget=budget, remarks=remarks, name=name)
        if rules is not None:
            text = f"{rules_name or 'the grade rules'}: a plain drawing has no points that rules could move"
            remarks.add("rules", "ignored", text)
    shapes = once_each(
        shapes,
        remarks,
        alike=lambda a, b: as_large(a, b) and (a.mirror is None) == (b.mirror is None),
        again=lambda n: f"the same block {n} times",
        different=lambda n: f"{n} different blocks for this piece and size",
    )
    if kind == "graded DXF":
        say_missing_sizes(shapes, remarks)
    pieces = assembled(shapes, remarks, mend=mend)
    _say_other_kinds(drawing, remarks)
    refuse_empty(pieces, remarks.findings, name)
    if scale.asks:
        _ask_units(drawing, pieces, remarks)
    return ReadPattern(
        file_name=name,
        format=kind,
        units=scale.units,
        asks_units=scale.asks,
        sizes=sizes or tuple(dict.fromkeys(shape.size for shape in shapes)),
        sample_size=sample_size,
        style_name=first_of(style, "style name"),
        pieces=tuple(pieces),
        findings=remarks.findings,
    )


def _as_utf8(rules: bytes | None, drawing: Drawing) -> bytes | None:
    """The table of rules, its letters read as those of the drawing it belongs to where they are no UTF-8."""
    if rules is None:
        return None
    try:
        rules.decode("utf-8")
    except UnicodeDecodeError:
        return rules.decode(drawing.code_page, "replace").encode()
    return rules


def _style_texts(drawing: Drawing) -> dict[str, list[str]]:
    """The texts on the whole style; some programs write those on units and rules into each block."""

    def texts(entities: Iterable[Entity]) -> dict[str, list[str]]:
        return keyed(text_of(entity) for entity in entities if entity.kind in ("TEXT", "MTEXT"))

    style = texts(drawing.entities)
    for block in drawing.blocks:
        missing = [key for key in ("units", "style name", "grade rule table") if key not in style]
        if not missing:
            break
        inside = texts(block.entities)
        style.update({key: inside[key] for key in missing if key in inside})
    return style


def _piece_blocks(drawing: Drawing, style: dict[str, list[str]]) -> list[Block]:
    """The blocks that hold a piece; the drawing itself where its one piece was drawn without a block."""
    blocks = [block for block in drawing.blocks if is_piece_block(block)]
    if not blocks and "piece name" in style:
        return [Block(first_of(style, "piece name"), drawing.entities)]
    return blocks


def _scale(style: dict[str, list[str]], units: Literal["mm", "in"] | None, remarks: Remarks) -> _Scale:
    stated_words = first_of(style, "units")
    stated = units_of(stated_words)
    if units is not None:
        asked: Units = "METRIC" if units == "mm" else "ENGLISH"
        if stated and stated != asked:
            text = f"the file says its units are {stated}; they were taken as {units}, as you said"
            remarks.add("units", "assumed", text)
        return _Scale(1.0 if units == "mm" else MM_PER_INCH, "asked", False)
    if stated is None:
        if stated_words:
            text = f"the units “{stated_words[:40]}” are not known here"
            remarks.add("units", "ignored", text)
        return _Scale(1.0, "asked", True)
    return _Scale(1.0 if stated == "METRIC" else MM_PER_INCH, stated, False)


def _graded_or_not(
    drawn: Sequence[BlockPiece],
    style: dict[str, list[str]],
    sample_size: str,
    rules: bytes | None,
    rules_name: str,
    name: str,
    scale: _Scale,
    units: Literal["mm", "in"] | None,
    remarks: Remarks,
) -> tuple[str, list[Shape], tuple[str, ...], str]:
    """Kind of file, the shapes, the sizes in order and the sample size."""
    shapes = [piece.shape for piece in drawn]
    names = [shape.name for shape in shapes]
    one_size_each = len(set(names)) == len(names) and len({shape.size for shape in shapes}) <= 1
    if rules is None:
        if one_size_each and any(piece.rule_points for piece in drawn):
            text = (
                "it holds the base size only; the other sizes need its file of grade rules (.rul) beside it"
            )
            remarks.add("no rules", "missing", text)
        return "graded DXF", shapes, (), sample_size
    if not one_size_each:
        text = f"{rules_name or 'the grade rules'}: the drawing holds its sizes already"
        remarks.add("rules", "ignored", text)
        return "graded DXF", shapes, (), sample_size
    table = read_rules(
        rules,
        name=rules_name or "the grade rules",
        scale=scale.in_mm if units else None,
        default_scale=scale.in_mm,
    )
    for text in table.assumed:
        remarks.add("rules", "assumed", f"{table.file_name}: {text}")
    if units is None and table.units and scale.units in INCHES_OR_MM and table.units != scale.units:
        drawn_in, moved_in = INCHES_OR_MM[scale.units], INCHES_OR_MM[table.units]
        text = f"the drawing is in {drawn_in}, its rules are in {moved_in}: each was read in its own units"
        remarks.add("units", "assumed", f"{table.file_name}: {text}")
    check_fit(
        table,
        drawn,
        table=first_of(style, "grade rule table", "rule table"),
        sample_size=sample_size,
        name=name,
    )
    return "DXF with grade rules", graded(drawn, table, remarks), table.sizes, table.sample_size


def _ask_units(drawing: Drawing, pieces: Sequence[ReadPiece], remarks: Remarks) -> None:
    largest = max((max(p.outline.length_mm, p.outline.width_mm) for p in pieces), default=0.0)
    text = (
        f"the file does not say its units: the largest piece is {largest / 10:.1f} cm long if it was drawn in mm, "
        f"{largest * MM_PER_INCH / 10:.1f} cm if in inches"
    )
    hint = INSUNITS.get(drawing.header.get("$INSUNITS", ""))
    if hint:
        text += f"; its header hints at {hint}"
    remarks.add("no units", "ask", text)


def _say_letters(drawing: Drawing, remarks: Remarks) -> None:
    if drawing.lost_letters:
        text = "some letters of its texts could not be read and stand as \ufffd"
        remarks.add("letters", "assumed", text)
    elif drawing.code_page_assumed:
        text = "it does not say how its letters are written; they were read as Western European"
        remarks.add("letters", "assumed", text)


def _say_other_kinds(drawing: Drawing, remarks: Remarks) -> None:
    if drawing.other_kinds:
        kinds = ", ".join(f"{count} {kind}" for kind, count in sorted(drawing.other_kinds.items())[:10])
        remarks.add(
            "other kinds", "ignored", f"parts of the drawing that are no lines, points or texts: {kinds}"
        )
