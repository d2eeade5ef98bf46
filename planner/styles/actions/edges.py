"""Edges of a piece: named, cut and joined in all sizes at once; seams follow."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from django.db import transaction

from planner.core.edge_changes import EdgeMatch, cut_at, joined, match_edges, renamed
from planner.core.outline import Outline, outline_from_json, path_length_mm
from planner.core.typed_outline import LONGEST_NAME
from planner.styles.models import Piece, PieceOutline, SeamEdge, Size

#: Where an edge is cut in another size: at the point nearest to the same share of its length, within this.
SAME_PLACE_SHARE = 0.05


@dataclass(frozen=True, slots=True)
class EdgeChange:
    """What is wanted of one edge; `cut_at` is a point of the outline, `allowance_mm` None where it is the piece's."""

    name: str
    allowance_mm: Decimal | None = None
    cut_at: int | None = None
    join_next: bool = False


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
    second = _names_of_second_parts(changes, outlines.values())
    notes: list[str] = []
    now: dict[str, list[str]] = defaultdict(list)
    done: dict[Size, Outline] = {}
    for size, outline in outlines.items():
        match = match_edges(base, outline)
        notes += [f"{size.name}: {text}." for text in mismatch(match, base)]
        names = {i: changes[a].name for i, a in enumerate(match.base_of) if a is not None}
        for i, name in names.items():
            now[outline.edges[i].name].append(name)
        done[size], missed = _changed(renamed(outline, names), base, match, changes, second)
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
        _cut_in_part(changes),
    )
    notes += _seams_follow(piece, follow)
    sizes = ", ".join(size.name for size in sorted(done, key=lambda size: size.position))
    return EdgesNamed(f"The edges of {piece.name} are kept in {sizes}.", tuple(notes))


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


def _names_of_second_parts(changes: Sequence[EdgeChange], outlines: Iterable[Outline]) -> dict[int, str]:
    """What the second part of each edge that is cut is called: "side 2", or the next number that is free."""
    taken = {edge.name for outline in outlines for edge in outline.edges} | {
        change.name for change in changes
    }
    named: dict[str, str] = {}
    for change in changes:
        if change.cut_at is not None and change.name not in named:
            stem = change.name[: LONGEST_NAME - 3]
            named[change.name] = next(n for i in range(2, 99) if (n := f"{stem} {i}") not in taken)
            taken.add(named[change.name])
    return {i: named[change.name] for i, change in enumerate(changes) if change.cut_at is not None}


def _changed(
    shape: Outline, base: Outline, match: EdgeMatch, changes: Sequence[EdgeChange], second: Mapping[int, str]
) -> tuple[Outline, list[str]]:
    """One size with the wanted cuts and joins, and what could not be done in it."""
    if not any(change.join_next or change.cut_at is not None for change in changes):
        return shape, []
    if not match.is_complete:
        return shape, ["nothing was cut or joined, because its edges are others"]
    cuts, missed = [], []
    for i, a in enumerate(match.base_of):
        if a is None or (wanted := changes[a].cut_at) is None:
            continue
        point = same_point(shape, i, base, a, wanted)
        if point is None:
            missed.append(f"edge {a + 1} was not cut, because no point lies in the same place")
        else:
            cuts.append((point, second[a]))
    joins = [a is not None and changes[a].join_next for a in match.base_of]
    for i in range(len(joins) - 2, -1, -1):  # from behind, so that the numbers before stay right
        if joins[i]:
            shape = joined(shape, i)
    if joins[-1]:
        shape = joined(shape, len(shape.edges) - 1)
    for point, name in cuts:
        shape = cut_at(shape, point, name)
    return shape, missed


def same_point(shape: Outline, edge: int, base: Outline, base_edge: int, point: int) -> int | None:
    """The point of an edge in another size that lies where `point` of the base lies in its edge, None if none."""
    path, like = shape.edge_path(edge), base.edge_path(base_edge)
    place = (point - base.edges[base_edge].start) % len(base.points)
    if not 0 < place < len(like) - 1:
        return None
    share = path_length_mm(like[: place + 1]) / path_length_mm(like)
    whole, gone = path_length_mm(path), 0.0
    best, nearest = None, SAME_PLACE_SHARE
    for i in range(1, len(path) - 1):
        gone += math.dist(path[i - 1], path[i])
        off = abs(gone / whole - share)
        if len(path) == len(like) and i == place:
            off /= 2  # drawn with as many points, so it is most likely this one
        if off < nearest:
            best, nearest = (shape.edges[edge].start + i) % len(shape.points), off
    return best


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
    given |= {name: changes[a].allowance_mm for a, name in second.items()}
    kept = {name: mm for name, mm in piece.edge_allowances.items() if name in there and name not in given}
    kept |= {name: float(mm) for name, mm in given.items() if mm is not None and name in there}
    if kept != piece.edge_allowances:
        piece.edge_allowances = kept
        piece.save(update_fields=["edge_allowances"])


def _cut_in_part(changes: Sequence[EdgeChange]) -> dict[str, tuple[int, int]]:
    """Names that several edges bear of which only some are cut, with how many of how many."""
    found: dict[str, list[bool]] = defaultdict(list)
    for change in changes:
        found[change.name].append(change.cut_at is not None)
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


def _seams_follow(piece: Piece, follow: _Follow) -> list[str]:
    """Edges of seams take the new names; what is now said twice on one side is said once."""
    notes = []
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
            _add_second_part(row, part, kept, follow.there)
            if part in follow.there and name in follow.cut_in_part:
                notes.append(_partly_cut(row.seam.name, name, part, *follow.cut_in_part[name]))
    return notes


def _partly_cut(seam: str, name: str, part: str, cut: int, of: int) -> str:
    """That the lengths of a seam are now neither those of the cut edge nor those of the whole one."""
    was = "was" if cut == 1 else "were"
    return (
        f"The seam {seam} joins {name} and {part} now, but only {cut} of the {of} edges named {name} {was} cut, and "
        f"edges of one name are measured by their mean: cut {'the other' if of - cut == 1 else 'the others'} too, or "
        f"give what was cut a name of its own."
    )


def _add_second_part(row: SeamEdge, part: str, kept: Mapping[str, SeamEdge], there: set[str]) -> None:
    """An edge that was cut in two is still sewn whole."""
    if part in there and part not in kept:
        SeamEdge.objects.create(
            seam=row.seam, piece=row.piece, edge=part, side=row.side, takes=row.takes, position=row.position
        )
