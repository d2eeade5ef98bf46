"""Edges of a piece: named, cut and joined in all sizes at once; seams follow."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from django.db import transaction

from planner.core.edge_changes import EdgeMatch, cut_at, joined, match_edges, renamed
from planner.core.edge_cuts import (
    SHORTEST_PART_MM,
    CutAlong,
    cut_like,
    is_mirror_image,
    same_notch,
    same_point,
    with_points,
)
from planner.core.listed import listed
from planner.core.outline import Outline, outline_from_json, path_length_mm
from planner.core.pattern_files.model import marks_from_json
from planner.core.typed_outline import LONGEST_NAME
from planner.styles.models import Piece, PieceOutline, SeamEdge, Size


@dataclass(frozen=True, slots=True)
class EdgeChange:
    """What is wanted of one edge; `allowance_mm` is None where it is the piece's.

    It is cut in two at a point of the outline, `cut_at`, or at a place along it, `cut_along`.
    """

    name: str
    allowance_mm: Decimal | None = None
    cut_at: int | None = None
    join_next: bool = False
    cut_along: CutAlong | None = None

    @property
    def is_cut(self) -> bool:
        """Whether it is to be cut in two."""
        return self.cut_at is not None or self.cut_along is not None


@dataclass(frozen=True)
class EdgesNamed:
    """What was done; `notes` say what could not be done, size by size, and which seams need a look."""

    text: str
    notes: tuple[str, ...] = ()


@transaction.atomic
def name_edges(piece: Piece, on: Size, changes: Sequence[EdgeChange]) -> EdgesNamed:
    """Gives the edges of the outline in the size `on` their names and allowances, in every size that matches.

    `changes` has one entry for each edge of that outline. Names go to the partner of each edge in every other size;
    cuts and joins to sizes in which all edges have a partner. Seams that join an edge follow its name.
    """
    rows = {row.size: row for row in piece.outlines.select_related("size").select_for_update()}
    outlines = {size: outline_from_json(row.shape) for size, row in rows.items()}
    base = outlines[on]
    if len(changes) != len(base.edges):
        raise ValueError(f"the outline has {len(base.edges)} edges, not {len(changes)}")
    second, other_way = _second_parts(base, changes, outlines.values())
    steps = {size: n for n, size in enumerate(on.size_range.sizes.all())}
    notes: list[str] = []
    now: dict[str, list[str]] = defaultdict(list)
    done: dict[Size, Outline] = {}
    for size, outline in outlines.items():
        match = match_edges(base, outline)
        notes += [f"{size.name}: {text}." for text in mismatch(match, base)]
        names = {i: changes[a].name for i, a in enumerate(match.base_of) if a is not None}
        for i, name in names.items():
            now[outline.edges[i].name].append(name)
        there_mm = _places(outline, rows[size], base, match, changes, steps.get(size, 0) - steps[on])
        done[size], missed = _changed(renamed(outline, names), match, changes, there_mm, second, other_way)
        notes += [f"{size.name}: {text}." for text in missed]
    for size, row in rows.items():
        row.shape = done[size].as_json()
    PieceOutline.objects.bulk_update(rows.values(), ["shape"])
    there = {edge.name for shape in done.values() for edge in shape.edges}
    _keep_allowances(piece, changes, second, there)
    follow = _Follow(
        now,
        there,
        _joined_into(changes),
        {changes[a].name: name for a, name in second.items()},
        _cut_in_part(changes, second),
    )
    lost, whole = _seams_follow(piece, follow)
    notes += lost
    sizes = ", ".join(size.name for size in sorted(done, key=lambda size: size.position))
    text = f"The edges of {piece.name} are kept in {sizes}."
    if whole:
        seams = f"The seam{'s' if len(whole) > 1 else ''} {listed(whole)}"
        join = "join" if len(whole) > 1 else "joins"
        text += f" {seams} still {join} both parts: take one out where it is sewn elsewhere."
    return EdgesNamed(text, tuple(notes))


def mismatch(match: EdgeMatch, base: Outline) -> list[str]:
    """Why the edges of a size are not all those of the base, in words without a full stop."""
    texts = []
    if match.lacking:
        lacking = ", ".join(f"edge {i + 1} ({base.edges[i].name})" for i in match.lacking)
        texts.append(f"nothing in it matches {lacking}")
    if match.extra:
        many = len(match.extra) > 1
        more = (
            f"{len(match.extra)} more edges, which keep their names"
            if many
            else "1 more edge, which keeps its name"
        )
        texts.append(f"it has {more}")
    return texts


def _second_parts(
    base: Outline, changes: Sequence[EdgeChange], outlines: Iterable[Outline]
) -> tuple[dict[int, str], set[int]]:
    """What the second part of each edge that is cut is called, and the edges that run against the first of their name.

    "side 2", or the next number that is free; but where the other side of the piece was cut before, as its part is
    called. Of an edge that runs against the first, as a left side against a right, what is before the cut is what is
    behind it in the first, and bears that name.
    """
    taken = {edge.name for outline in outlines for edge in outline.edges} | {
        change.name for change in changes
    }
    by_name: dict[str, list[int]] = defaultdict(list)
    for i, change in enumerate(changes):
        if change.is_cut:
            by_name[change.name].append(i)
    second: dict[int, str] = {}
    other_way: set[int] = set()
    for name, cut in by_name.items():
        numbered = [f"{name[: LONGEST_NAME - 3]} {i}" for i in range(2, 99)]
        part, against = _cut_before(base, changes, cut, numbered)
        if not part:
            part = next(one for one in numbered if one not in taken)
            against = {i for i in cut if is_mirror_image(base, cut[0], i)}
        taken.add(part)
        second |= dict.fromkeys(cut, part)
        other_way |= against
    return second, other_way


def _cut_before(
    base: Outline, changes: Sequence[EdgeChange], cut: Sequence[int], parts: Sequence[str]
) -> tuple[str, set[int]]:
    """The part that another edge of this name was cut into before, "" for none, and which of `cut` run against it."""
    names = [change.name for change in changes]
    if any(change.join_next for change in changes):
        return "", set()  # what lies beside what is changing too
    for part in parts:
        against = {i: cut_like(base, names, i, part) for i in cut}
        if part in names and None not in against.values():
            return part, {i for i, runs_against in against.items() if runs_against}
    return "", set()


def _places(
    shape: Outline,
    row: PieceOutline,
    base: Outline,
    match: EdgeMatch,
    changes: Sequence[EdgeChange],
    steps: int,
) -> dict[int, float | str]:
    """Where each edge that is to be cut is cut in one size, mm along it by its index; or why it cannot be.

    The size is so many `steps` larger than the one the edges are named on.
    """
    found: dict[int, float | str] = {}
    for i, a in enumerate(match.base_of):
        if a is None or not changes[a].is_cut:
            continue
        path = shape.edge_path(i)
        along, far = changes[a].cut_along, None
        if along is None:
            point = same_point(shape, i, base, a, changes[a].cut_at or 0)
            if point is not None:
                far = path_length_mm(path[: (point - shape.edges[i].start) % len(shape.points) + 1])
        elif along.at_notch:
            notches = [(notch.x, notch.y) for notch in marks_from_json(row.marks).notches]
            far = same_notch(shape, i, notches, base, a, along.far_mm)
        else:
            far = along.far_mm + steps * along.step_mm
            far = path_length_mm(path) - far if along.from_end else far
        if far is None:
            found[i] = f"no {'notch' if along else 'point'} lies in the same place"
        elif not SHORTEST_PART_MM <= far <= path_length_mm(path) - SHORTEST_PART_MM:
            found[i] = "it is not that long"
        else:
            found[i] = far
    return found


def _changed(
    shape: Outline, match: EdgeMatch, changes: Sequence[EdgeChange], places: Mapping[int, float | str],
    second: Mapping[int, str], other_way: Container[int],
) -> tuple[Outline, list[str]]:  # fmt: skip
    """One size with the wanted cuts and joins, and what could not be done in it."""
    if not any(change.join_next or change.is_cut for change in changes):
        return shape, []
    if not match.is_complete:
        return shape, ["nothing was cut or joined, because its edges are others"]
    of = match.base_of
    missed = [
        f"edge {(of[i] or 0) + 1} was not cut, because {why}"
        for i, why in places.items()
        if isinstance(why, str)
    ]
    cuts = [(i, far) for i, far in places.items() if not isinstance(far, str)]
    shape, points = with_points(shape, cuts)
    joins = [a is not None and changes[a].join_next for a in of]
    for i in range(len(joins) - 2, -1, -1):  # from behind, so that the numbers before stay right
        if joins[i]:
            shape = joined(shape, i)
    if joins[-1]:
        shape = joined(shape, len(shape.edges) - 1)
    for (i, _), point in zip(cuts, points, strict=True):
        a = of[i] or 0
        before, behind = (second[a], "") if a in other_way else ("", second[a])
        shape = cut_at(shape, point, behind, before)
    return shape, missed


def _joined_into(changes: Sequence[EdgeChange]) -> dict[str, str]:
    """Names of edges that became part of the one before, with the name of that."""
    into = {}
    for i, change in enumerate(changes):
        root = i
        while changes[root - 1].join_next and root > i - len(changes):
            root -= 1
        if root != i:
            into[change.name] = changes[root].name
    return into


def _keep_allowances(
    piece: Piece, changes: Sequence[EdgeChange], second: Mapping[int, str], there: set[str]
) -> None:
    """Allowances by name: those given, and those of edges that only sizes without a match have."""
    given = {change.name: change.allowance_mm for change in changes}
    # A part that was cut off before has its own.
    given = {name: changes[a].allowance_mm for a, name in second.items()} | given
    kept = {name: mm for name, mm in piece.edge_allowances.items() if name in there and name not in given}
    kept |= {name: float(mm) for name, mm in given.items() if mm is not None and name in there}
    if kept != piece.edge_allowances:
        piece.edge_allowances = kept
        piece.save(update_fields=["edge_allowances"])


def _cut_in_part(changes: Sequence[EdgeChange], second: Mapping[int, str]) -> dict[str, tuple[int, int]]:
    """Names that several edges bear of which only some are cut, with how many of how many."""
    part_of = {changes[a].name: part for a, part in second.items()}
    found: dict[str, list[bool]] = defaultdict(list)
    for i, change in enumerate(changes):
        beside = {changes[i - 1].name, changes[(i + 1) % len(changes)].name}
        found[change.name].append(change.is_cut or part_of.get(change.name) in beside)
    return {name: (sum(cut), len(cut)) for name, cut in found.items() if 0 < sum(cut) < len(cut)}


@dataclass(frozen=True)
class _Follow:
    """What became of the names: `now` by old name, `there` all that is left, and where parts of edges went.

    `cut_in_part` are names of which some edges were cut and others not.
    """

    now: Mapping[str, Sequence[str]]
    there: set[str]
    joined_into: Mapping[str, str]
    cut_off: Mapping[str, str]
    cut_in_part: Mapping[str, tuple[int, int]]

    def name_of(self, old: str) -> tuple[str, bool]:
        """The name now, and whether it is sure: left and right may have become two."""
        names = list(dict.fromkeys(self.now.get(old, [])))
        if not names or old in names:
            return old, True
        return names[0], len(names) == 1


def _seams_follow(piece: Piece, follow: _Follow) -> tuple[list[str], list[str]]:
    """Edges of seams take the new names; what is now said twice on one side is said once.

    Gives what is to be looked at, and the names of seams that join both parts of an edge that was cut.
    """
    notes, whole = [], []
    rows = (
        SeamEdge.objects.filter(piece=piece).select_related("seam").order_by("seam", "side", "position", "pk")
    )
    for _, here in groupby(rows, key=lambda row: (row.seam_id, row.side)):
        kept: dict[str, SeamEdge] = {}
        for row in here:
            name, sure = follow.name_of(row.edge)
            into = follow.joined_into.get(name, "")
            if name not in follow.there and into in kept:
                row.delete()  # it was sewn together with the edge that it is part of now
                continue
            if name not in follow.there:
                notes.append(f"The seam {row.seam.name} has lost its edge {row.edge}: choose another for it.")
            elif not sure:
                notes.append(f"The seam {row.seam.name} takes {name} now; {row.edge} became several edges.")
            if name in kept:
                kept[name].takes += row.takes
                row.delete()
                continue
            row.edge = name
            kept[name] = row
        for name, row in kept.items():
            row.save(update_fields=["edge", "takes"])
            part = follow.cut_off.get(name, "")
            if _add_second_part(row, part, kept, follow.there):
                whole.append(row.seam.name)
            if part in follow.there and name in follow.cut_in_part:
                notes.append(_partly_cut(row.seam.name, name, part, *follow.cut_in_part[name]))
    return notes, list(dict.fromkeys(whole))


def _partly_cut(seam: str, name: str, part: str, cut: int, of: int) -> str:
    """That the lengths of a seam are now neither those of the cut edge nor those of the whole one."""
    was = "was" if cut == 1 else "were"
    return (
        f"The seam {seam} joins {name} and {part} now, but only {cut} of the {of} edges named {name} {was} cut, and "
        f"edges of one name are measured by their mean: cut {'the other' if of - cut == 1 else 'the others'} too, or "
        f"give what was cut a name of its own."
    )


def _add_second_part(row: SeamEdge, part: str, kept: Mapping[str, SeamEdge], there: set[str]) -> bool:
    """An edge that was cut in two is still sewn whole; whether its other part was added."""
    if part not in there or part in kept:
        return False
    SeamEdge.objects.create(
        seam=row.seam, piece=row.piece, edge=part, side=row.side, takes=row.takes, position=row.position
    )
    return True
