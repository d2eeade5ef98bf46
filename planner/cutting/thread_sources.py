"""Which of the three sources each seam's thread is known from, and where it could be measured."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from planner.core.needs import Needs
from planner.core.notions.stitches import stitch_name
from planner.core.spec import MachineSpec, OperationSpec, Workshop
from planner.cutting.wording import machine_in_words
from planner.materials.models import MachineStitch

#: The sources from the best to the least, and what they are called.
SOURCES = {
    "measured": "measured on the machine",
    "geometry": "geometry of the stitch",
    "table": "table ratio",
}


@dataclass(frozen=True)
class SourceRow:
    """Seams of a style that one step sews. `stitch_pk` is the machine's stitch on which its ratio can be measured."""

    style: str
    seams: str
    step: str
    machine: str
    stitch: str
    sources: tuple[str, ...]
    words: str
    stitch_pk: int | None

    @property
    def is_measured(self) -> bool:
        """Whether all of it was measured."""
        return self.sources == ("measured",)


def source_rows(needs: Needs, shop: Workshop) -> list[SourceRow]:
    """By style and step in the order of the demand, those known least well are told as such. One query."""
    seams: dict[tuple[str, str], dict[str, None]] = defaultdict(dict)
    sources: dict[tuple[str, str], set[str]] = defaultdict(set)
    for line in needs.lines:
        if not line.source:
            continue
        name = line.what.removeprefix("seam ")
        style = shop.styles[line.style]
        # Seams of two options may be called alike; the garment's own options say which this is.
        operation = next(seam.operation for seam in style.seams_for(line.options) if seam.name == name)
        seams[line.style, operation][name] = None
        sources[line.style, operation].add(line.source)
    stitches = _stitches() if seams else {}
    rows = []
    for (number, name), names in seams.items():
        step = next(one for one in shop.styles[number].operations if one.name == name)
        found = tuple(source for source in SOURCES if source in sources[number, name])
        machine = machine_for(step, shop.machines)
        rows.append(
            SourceRow(
                number,
                "; ".join(names),
                name,
                machine_in_words(step.machine, step.own_machine),
                stitch_name(step.stitch_type),
                found,
                " or ".join(SOURCES[source] for source in found),
                stitches.get((machine.name, machine.kind, step.stitch_type)) if machine else None,
            )
        )
    return rows


def machine_for(step: OperationSpec, machines: Iterable[MachineSpec]) -> MachineSpec | None:
    """The machine on which the step's stitch is made: its own, else the first of its kind that makes it."""
    makes = [machine for machine in machines if step.stitch_type in machine.stitches]
    own = [machine for machine in makes if machine.name == step.own_machine]
    return next(iter(own or [machine for machine in makes if machine.kind == step.machine]), None)


def sources_in_words(rows: Iterable[SourceRow]) -> str:
    """ "Measured on the machine: 9 steps; table ratio: 1 step"."""
    counts: dict[str, int] = defaultdict(int)
    for row in rows:
        counts[row.words] += 1
    parts = [f"{words}: {count} {'step' if count == 1 else 'steps'}" for words, count in counts.items()]
    return "; ".join(parts)


def _stitches() -> dict[tuple[str, str, str], int]:
    """The stitches of the workroom's machines by machine name, kind and stitch type."""
    rows = MachineStitch.objects.values_list("machine__name", "machine__kind", "stitch_type", "pk")
    return {(name, kind, number): pk for name, kind, number, pk in rows}
