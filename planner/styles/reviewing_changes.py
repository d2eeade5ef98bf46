"""What a pattern file under review changes of the pieces there are, size by size, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.core.units import area_as_told, format_length
from planner.styles.edge_words import lengths_in_words
from planner.styles.reviewing import EdgeChange, Proposal, SizeChange


@dataclass(frozen=True)
class Step:
    """A figure now and then, in words; `difference` is "" where there is nothing to compare."""

    old: str
    new: str
    difference: str = ""


@dataclass(frozen=True)
class ChangeRow:
    """What becomes of a piece in one size: its area, the edges that change in any size, and whether it is ticked."""

    change: SizeChange
    ticked: bool
    area: Step
    edges: Sequence[tuple[str, Step | None]]


def edge_columns(proposal: Proposal) -> tuple[list[str], list[str]]:
    """Names of the edges that change in some size, and of those that change in none."""
    names: dict[str, bool] = {}
    for change in proposal.changes:
        for edge in change.edges:
            names[edge.name] = names.get(edge.name, False) or not edge.same
    return [name for name, differs in names.items() if differs], [
        n for n, differs in names.items() if not differs
    ]


def change_row(change: SizeChange, columns: Sequence[str], ticked: set[str], display: str) -> ChangeRow:
    edges = {edge.name: _edge_step(edge, display) for edge in change.edges}
    new = area_as_told(change.new_mm2, display, places=1)
    if change.old_mm2 is None:
        area = Step("", new)
    else:
        larger = change.new_mm2 - change.old_mm2
        share = _signed(f"{100 * larger / change.old_mm2:,.1f}")
        old, by = (area_as_told(mm2, display, places=1) for mm2 in (change.old_mm2, larger))
        area = Step(old, new, f"{_signed(by)} ({share} %)")
    return ChangeRow(change, change.size in ticked, area, [(name, edges.get(name)) for name in columns])


def _edge_step(edge: EdgeChange, display: str) -> Step:
    old, new = (lengths_in_words(each, display=display) for each in (edge.old_each_mm, edge.new_each_mm))
    difference = ""
    if edge.difference_mm is not None and not edge.same:
        longer = edge.difference_mm
        # Where one figure stands for several edges, so does the difference.
        alike = len(edge.old_each_mm) == len(edge.new_each_mm) > 1 and "×" in old and "×" in new
        longer /= len(edge.new_each_mm) if alike else 1
        much = format_length(abs(longer), display=display, kind="small")
        difference = f"{'each ' if alike else ''}{much} {'longer' if longer > 0 else 'shorter'}"
    return Step(old, new, difference)


def _signed(figure: str) -> str:
    """With its sign; nothing has a plus."""
    return figure.replace("-", "−") if figure.startswith("-") else f"+{figure}"
