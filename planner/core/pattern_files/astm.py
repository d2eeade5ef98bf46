"""Pattern files as ASTM D6673 lays them out: a block for each piece and size, the layers with a fixed meaning."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.core.outline import Point
from planner.core.pattern_files.assembling import Remarks, Shape
from planner.core.pattern_files.astm_drawn import (
    BOUNDARY,
    GRADE_LINE,
    GRAIN,
    SEW,
    boundary_of,
    collect,
    direction_deg,
    loose_rules,
    marks_of,
    mirror_of,
    refuse_too_many,
)
from planner.core.pattern_files.curves import CurveError
from planner.core.pattern_files.dxf_shapes import Budget, text_of
from planner.core.pattern_files.dxf_tags import LINES, Block
from planner.core.pattern_files.rings import RingError, line_angle_deg
from planner.core.pattern_files.texts import first_of, guess_from, keyed, quantity_of

NO_SEW_LINE = "no sew line, so the file does not say whether the seam allowance is included"


@dataclass(frozen=True)
class BlockPiece:
    """A shape with what only grade rules need: the points they move, and the direction they are measured along."""

    shape: Shape
    rule_points: tuple[tuple[Point, int], ...]
    grade_deg: float
    has_size: bool
    #: Numbers of rules that stand on nothing that is drawn, and so move nothing.
    loose_rules: tuple[int, ...] = ()


def is_piece_block(block: Block) -> bool:
    """True where a block holds a piece: it has the texts of one, or a line on the layer of boundaries."""
    if block.name.startswith("*"):
        return False
    texts = keyed(text_of(entity) for entity in block.entities if entity.kind in ("TEXT", "MTEXT"))
    if "piece name" in texts:
        return True
    return any(entity.kind in LINES and entity.layer == BOUNDARY for entity in block.entities)


def read_blocks(
    blocks: Sequence[Block], *, scale: float, budget: Budget, sample_size: str, remarks: Remarks
) -> list[BlockPiece]:
    """The pieces of all blocks, in their order; those that cannot be read are left out with a finding."""
    pieces: list[BlockPiece] = []
    stated_names = [_stated_name(block) for block in blocks]
    for block, stated in zip(blocks, stated_names, strict=True):
        name, size, has_size = _name_and_size(block, sample_size, several=stated_names.count(stated) > 1)
        try:
            pieces.append(_read_block(block, name, size, scale, budget, remarks, has_size=has_size))
        except CurveError as fault:
            remarks.add("damaged", "refused", str(fault), piece=name, size=size)
        except RingError as fault:
            remarks.add(fault.kind, "refused", str(fault), piece=name, size=size)
    _say_once_for_all({piece.shape.name for piece in pieces}, remarks)
    return pieces


def _say_once_for_all(names: set[str], remarks: Remarks) -> None:
    """Where no piece at all has a sew line, one finding says so for the whole file."""
    said = [finding for finding in remarks.findings if finding.kind == "no sew line"]
    if len(said) > 1 and {finding.piece for finding in said} == names:
        remarks.drop("no sew line")
        remarks.add("no sew line", "ask", NO_SEW_LINE)


def _stated_name(block: Block) -> str:
    return first_of(keyed(text_of(e) for e in block.entities if e.kind in ("TEXT", "MTEXT")), "piece name")


def _name_and_size(block: Block, sample_size: str, *, several: bool) -> tuple[str, str, bool]:
    """A piece's name and size, and whether the block states the size; what is missing comes from the block's name."""
    texts = keyed(text_of(entity) for entity in block.entities if entity.kind in ("TEXT", "MTEXT"))
    name, size = first_of(texts, "piece name"), first_of(texts, "size", "size name")
    sample = first_of(texts, "sample size")
    stem, underscore, suffix = block.name.rpartition("_")
    if name:
        # Of several blocks of one piece not all can be in the sample size: then the block's name says which is which.
        named_alike = block.name.lower().startswith(f"{name.lower()}_")
        rest = block.name[len(name) + 1 :] if named_alike else suffix if underscore and several else ""
        if not several:
            size = size or sample
        return name, size or rest.strip() or sample or sample_size, bool(size)
    size = size or sample
    if size:
        tail = f"_{size}".lower()
        named = block.name[: -len(tail)] if block.name.lower().endswith(tail) else block.name
        return named.strip() or "piece", size, True
    if underscore and stem.strip() and suffix.strip():
        return stem.strip(), suffix.strip(), False
    return block.name or "piece", sample_size, False


def _read_block(
    block: Block, name: str, size: str, scale: float, budget: Budget, remarks: Remarks, *, has_size: bool
) -> BlockPiece:
    drawn = collect(block.entities, scale, budget)
    refuse_too_many(drawn)
    if any(entity.kind == "INSERT" for entity in block.entities):
        remarks.add("nested block", "ignored", "a block placed inside the block of the piece", piece=name)
    mirror = mirror_of(drawn)
    ring = boundary_of(drawn, mirror, name, size, remarks)
    grain, grade = drawn.longest(GRAIN), drawn.longest(GRADE_LINE)
    if grain is None:
        remarks.add("no grain", "assumed", "no grain line; the grain is taken to run along x", piece=name)
    facts = keyed(drawn.texts)
    count, pair = _stated_count(facts, name, remarks)
    guess = guess_from([*facts.get("annotation", ()), *facts.get("category", ())])
    if count is None:
        _say_count_missing(guess.count, guess.remark, name, remarks)
    elif guess.count not in (None, count):
        text = f"its quantity says {count}, its remark “{guess.remark[:60]}” may mean {guess.count}: {count} was taken"
        remarks.add("count doubt", "assumed", text, piece=name)
    shape = Shape(
        name=name,
        size=size,
        ring=ring,
        marks=marks_of(drawn, ring),
        mirror=mirror,
        grain_deg=line_angle_deg(*grain) if grain else None,
        count=count,
        pair=pair,
        count_guess=guess.count if count is None else None,
        pair_guess=guess.pair if count is None else None,
        role_guess=first_of(facts, "material", "fabric") or guess.role,
    )
    if not drawn.strokes.get(SEW):
        remarks.add("no sew line", "ask", NO_SEW_LINE, piece=name)
    # The grade reference line has a head: rules are measured from its first end to its second.
    degrees = direction_deg(grade) if grade else 0.0
    return BlockPiece(shape, tuple(drawn.rule_points), degrees, has_size, loose_rules(drawn))


def _stated_count(facts: dict[str, list[str]], name: str, remarks: Remarks) -> tuple[int | None, bool | None]:
    stated = first_of(facts, "quantity")
    if not stated:
        return None, None
    quantity = quantity_of(stated)
    if quantity is None:
        remarks.add("quantity", "ignored", f"the quantity “{stated[:40]}” is no number", piece=name)
        return None, None
    return quantity


def _say_count_missing(count: int | None, remark: str, name: str, remarks: Remarks) -> None:
    if count is None:
        remarks.add("no count", "ask", "the file does not say how often it is cut", piece=name)
        return
    text = f"the file does not say how often it is cut; its remark “{remark[:60]}” may mean {count}"
    remarks.add("count guess", "ask", text, piece=name)
