"""What the review of a pattern file shows, worked out once so that its templates only lay it out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from django.forms import BoundField

from planner.core.pattern_files.model import Marks
from planner.core.uneven_sizes import UnevenSize
from planner.core.units import format_length
from planner.styles.edge_words import lengths_each_mm, lengths_in_words
from planner.styles.models import PatternFile, Style
from planner.styles.review_forms import ReviewForm, measured_allowances
from planner.styles.reviewing import Proposal, SizeChange
from planner.styles.reviewing_answer import Uneven, answer_of, uneven_in, uneven_said
from planner.styles.reviewing_changes import ChangeRow, change_row, edge_columns
from planner.styles.reviewing_drawings import ReviewDrawing, Sheet, review_drawings
from planner.styles.reviewing_options import AlikePieces
from planner.styles.reviewing_remarks import Remark, remarks

#: Longest side of the largest piece.
DRAWN_PX = 330
#: Remarks of a kind that are shown at once.
MOST_REMARKS = 30

#: Findings by their level, in the order they matter, with the words above them.
GROUPS = {
    "ask": "What the file leaves to you",
    "assumed": "What was assumed",
    "missing": "What is missing",
    "ignored": "What was left aside",
}


@dataclass(frozen=True)
class Group:
    """Findings of one kind; `more` are not shown."""

    title: str
    remarks: Sequence[Remark]
    more: int


@dataclass(frozen=True)
class PieceCard:
    """A piece of the file with its drawing, what is known of it, and what is asked."""

    proposal: Proposal
    drawing: ReviewDrawing
    shown: str
    facts: Sequence[tuple[str, str]]
    questions: Sequence[BoundField]
    take: BoundField
    mend: BoundField | None
    sizes_field: BoundField | None
    into: str
    seen: str
    edges: Sequence[str]
    changes: Sequence[ChangeRow]
    changed_edges: Sequence[str]
    same_edges: Sequence[str]
    mends: Sequence[tuple[int, str, str]]

    @property
    def name(self) -> str:
        """As the style will call it, while it has no name as the file does."""
        return self.proposal.name or self.proposal.file_name

    @property
    def is_marked(self) -> bool:
        """Whether something about it waits to be looked at: a mend to confirm, or an answer that is wrong."""
        asked = [*self.questions, self.take, *filter(None, [self.mend, self.sizes_field])]
        return bool(self.mends) or any(field.errors for field in asked)

    @property
    def is_as_before(self) -> bool:
        """Whether a piece of the style would not change at all."""
        return self.proposal.target is not None and not self.proposal.changed


@dataclass(frozen=True)
class AreaRow:
    """Area in cm² of one piece in each size of the file, None where it is not in the file."""

    name: str
    cells: Sequence[tuple[str, float | None]]


@dataclass(frozen=True)
class ReviewPage:
    """Everything on the page of a file under review."""

    file: PatternFile
    style: Style | None
    form: ReviewForm
    answer: str
    about: Sequence[tuple[str, str]]
    file_questions: Sequence[BoundField]
    size_questions: Sequence[BoundField]
    cards: Sequence[PieceCard]
    alike: Sequence[tuple[AlikePieces, BoundField]]
    size_names: Sequence[str]
    areas: Sequence[AreaRow]
    refused: Group
    groups: Sequence[Group]
    not_in_file: Sequence[str]


def review_page(file: PatternFile, style: Style | None, form: ReviewForm) -> ReviewPage:
    """The page of a file under review, from its form as it stands. No query."""
    uneven = uneven_in(form)
    cards = _cards(form, uneven)
    return ReviewPage(
        file=file,
        style=style,
        form=form,
        answer=answer_of(form, uneven),
        about=_about(form),
        file_questions=_bound(form, "units", "scale_right", "true_length", "grain", "included", "allowance"),
        size_questions=[
            form[name]
            for name in form.fields
            if name.startswith("size-") or name in ("take_sizes", "base_size")
        ],
        cards=cards,
        alike=[(group, form[group.field_name]) for group in form.alike],
        size_names=[size or "area" for size in form.file_sizes],
        areas=_areas(form),
        refused=_group(remarks(form.pattern.findings, "refused"), "What cannot be taken as it is"),
        groups=[group for group in _groups(form, uneven) if group.remarks],
        not_in_file=_not_in_file(form),
    )


def _bound(form: ReviewForm, *names: str) -> list[BoundField]:
    return [form[name] for name in names if name in form.fields]


def _groups(form: ReviewForm, uneven: Uneven) -> list[Group]:
    found = form.pattern.findings
    return [
        _group(uneven_said(form, uneven), "Does not grow evenly: a slip in the grade?"),
        *(_group(remarks(found, level), title) for level, title in GROUPS.items()),
    ]


def _group(every: Sequence[Remark], title: str) -> Group:
    return Group(title, every[:MOST_REMARKS], max(len(every) - MOST_REMARKS, 0))


def _about(form: ReviewForm) -> list[tuple[str, str]]:
    """What the file itself answers."""
    pattern, plain = form.pattern, form.plain
    facts = [("It is", pattern.format)]
    if not plain.asks_units and not form.asks_scale:
        facts.append(("Drawn in", "inches" if plain.units == "ENGLISH" else "millimetres"))
    if pattern.style_name:
        facts.append(("Style in the file", pattern.style_name[:80]))
    if any(form.file_sizes):
        sizes = ", ".join(size or "without a name" for size in form.file_sizes)
        asked = any(name.startswith("size-") for name in form.fields)
        facts.append(("Sizes", sizes if asked or form.takes_sizes else f"{sizes}, as in the style"))
    if pattern.sample_size:
        facts.append(("Base size in the file", pattern.sample_size))
    if "included" not in form.fields:
        facts.append(("Seam allowance", "included: the file has sewing lines"))
    return facts


def _cards(form: ReviewForm, uneven: Uneven) -> list[PieceCard]:
    chosen = [_shown(form, proposal, uneven.get(proposal.index, ())) for proposal in form.proposals]
    sheets = [_sheet(form, proposal, shown) for proposal, shown in zip(form.proposals, chosen, strict=True)]
    drawings = review_drawings(sheets, most_px=DRAWN_PX)
    return [
        _card(form, proposal, shown, drawing, sheet)
        for proposal, shown, drawing, sheet in zip(form.proposals, chosen, drawings, sheets, strict=True)
    ]


def _shown(form: ReviewForm, proposal: Proposal, uneven: Sequence[UnevenSize]) -> str:
    """The size of the file whose marks are drawn: with a mend, else changed by most, else out of line, if any is."""
    if proposal.mends:
        return proposal.mends[0][0]
    changed = max(proposal.changes, key=_size_of_change, default=None)
    if changed is not None and not changed.is_new and not changed.same_shape:
        return next(size for size in proposal.read if form.answers.sizes.get(size) == changed.size)
    if uneven:
        return next(size for size in proposal.read if form.answers.sizes.get(size) == uneven[0].size)
    return form.shown_size if form.shown_size in proposal.read else next(iter(proposal.read))


def _size_of_change(change: SizeChange) -> float:
    """How much a change matters, to choose the one that is drawn: by its edges, else by its area (mm)."""
    edges = max((abs(edge.difference_mm or 0.0) for edge in change.edges), default=0.0)
    return max(edges, math.sqrt(abs(change.difference_mm2 or 0.0)) / 10) if not change.is_new else 0.0


def _sheet(form: ReviewForm, proposal: Proposal, shown: str) -> Sheet:
    """As it would be stored, in the sizes of the file; a size that is left out as it was read."""
    outlines = {}
    for size, piece in proposal.read.items():
        new = proposal.by_size.get(form.answers.sizes.get(size, ""))
        outlines[size] = new.outline if new else piece.outline
    in_style = form.answers.sizes.get(shown, "")
    new = proposal.by_size.get(in_style)
    before = None
    if proposal.target and in_style in proposal.changed:
        before = proposal.target.outlines.get(in_style)
    marks: Marks = new.marks if new else proposal.read[shown].marks
    factor = form.answers.factor
    mends = tuple(
        (size, mend.moved(lambda points: tuple((x * factor, y * factor) for x, y in points)))
        for size, piece in proposal.read.items()
        for mend in piece.mends
    )
    return Sheet(outlines, shown, marks, mends, before)


def _card(
    form: ReviewForm, proposal: Proposal, shown: str, drawing: ReviewDrawing, sheet: Sheet
) -> PieceCard:
    at = f"p{proposal.index}"
    asked = ["name", "count", "pair", "role", "option"]
    seen = [what for what in ("take", *asked, "mend") if f"{at}-{what}" in form.fields]
    ticked = set(form[f"{at}-sizes"].value() or []) if f"{at}-sizes" in form.fields else set()
    outline = sheet.outlines[shown]
    changed_edges, same_edges = edge_columns(proposal)
    return PieceCard(
        proposal=proposal,
        drawing=drawing,
        shown=shown,
        facts=_facts(form, proposal, shown, sheet),
        questions=_bound(form, *(f"{at}-{what}" for what in asked)),
        take=form[f"{at}-take"],
        mend=form[f"{at}-mend"] if f"{at}-mend" in form.fields else None,
        sizes_field=form[f"{at}-sizes"] if f"{at}-sizes" in form.fields else None,
        into=form.target_word(proposal),
        seen=" ".join(seen),
        edges=[
            f"{name} {lengths_in_words(lengths, display=form.display)}"
            for name, lengths in lengths_each_mm(outline).items()
        ],
        changes=[
            change_row(change, changed_edges, ticked, form.display)
            for change in proposal.changes
            if proposal.target
        ],
        changed_edges=changed_edges,
        same_edges=same_edges,
        mends=[(number, size, text) for number, (size, text) in enumerate(proposal.mends, 1)],
    )


def _facts(form: ReviewForm, proposal: Proposal, shown: str, sheet: Sheet) -> list[tuple[str, str]]:
    """What is stated, because the file or the style answers it."""
    outline, first, target = sheet.outlines[shown], proposal.first, proposal.target

    def small(mm: float) -> str:
        return format_length(mm, display=form.display, kind="small")

    where = f", in {shown}" if shown else ""
    facts = [("Measures", f"{small(outline.length_mm)} along, {small(outline.width_mm)} across{where}")]
    if len(proposal.read) < len(form.file_sizes):
        facts.append(("Sizes", ", ".join(proposal.read)))
    if target is not None:
        facts.append(("In the style", f"{_count_in_words(target.count, pair=target.pair)}, {target.role}"))
        if target.option:
            facts.append(("Belongs to", target.option))
        if first.count is not None and first.count != target.count:
            facts.append(("In the file", f"cut {first.count}: the style’s count stays"))
    elif first.count is not None:
        facts.append(("The file says", _count_in_words(first.count, pair=bool(first.pair))))
    if first.unfolded:
        facts.append(("Half a piece", "unfolded along its mirror line"))
    if target is None and proposal.name.lower() in form.known.of_base:
        facts.append(("In this style", f"takes the place of the {proposal.name} of the style it is built on"))
    measured = measured_allowances(proposal)
    if measured:
        widths = list(dict.fromkeys(measured.values()))
        words = ", ".join(f"{name} {small(mm)}" for name, mm in measured.items())
        facts.append(("Seam allowance", small(widths[0]) if len(widths) == 1 else words))
    return facts


def _count_in_words(count: int, *, pair: bool) -> str:
    if pair:
        return f"cut {count}, {'a mirrored pair' if count == 2 else 'in mirrored pairs'}"
    return f"cut {count}, all alike" if count > 1 else "cut 1"


def _areas(form: ReviewForm) -> list[AreaRow]:
    rows = []
    for proposal in form.proposals:
        cells: list[tuple[str, float | None]] = []
        for size in form.file_sizes:
            new = proposal.by_size.get(form.answers.sizes.get(size, ""))
            read = proposal.read.get(size)
            area = None if read is None else (new.outline if new else read.outline).area_mm2 / 100
            cells.append((size, area))
        rows.append(AreaRow(proposal.name or proposal.file_name, cells))
    return rows


def _not_in_file(form: ReviewForm) -> list[str]:
    there = {proposal.target.pk for proposal in form.proposals if proposal.target and proposal.take}
    return [piece.name for piece in form.known.pieces.values() if piece.pk not in there]
