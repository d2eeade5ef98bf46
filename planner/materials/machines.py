"""The workroom's own machines: noted, changed, measured, given away; and the steps of sewing that name them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import models, transaction

from planner.core.notions.stitches import place_word, stitch_name, threads_at, threads_in_words
from planner.core.notions.unpicked import Measured, measured
from planner.core.spec import Position
from planner.materials.models import Machine, MachineStitch


@dataclass(frozen=True)
class StitchRow:
    """A stitch type of a machine as the page shows it; `measured` is None where nobody unpicked it."""

    stitch: MachineStitch
    name: str
    threads: str
    measured: Measured | None

    @property
    def places(self) -> list[tuple[str, float]]:
        """What was measured at each position, in the machine's words."""
        return places_in_words(self.stitch.stitch_type, self.measured) if self.measured else []


@dataclass(frozen=True)
class MachineGone:
    """A machine that was given away, and the steps of sewing that named it."""

    name: str
    steps: tuple[Any, ...]


def stitch_row(stitch: MachineStitch) -> StitchRow:
    """A stitch type with its name, threads and measured ratios."""
    number = stitch.stitch_type
    return StitchRow(stitch, stitch_name(number), threads_in_words(number), measured_on(stitch))


def places_in_words(number: str, found: Measured) -> list[tuple[str, float]]:
    """Ratios with what their positions are called: needle, looper, bobbin, cover thread."""
    counts = threads_at(number)
    return [(place_word(number, place, counts[place]), ratio) for place, ratio in found.ratios.items()]


def measured_on(stitch: MachineStitch) -> Measured | None:
    """The ratios unpicked on this machine, None where that was not done."""
    lengths: Mapping[Position, Decimal | None] = {
        "needle": stitch.needle_mm, "looper": stitch.looper_mm, "cover": stitch.cover_mm,
    }  # fmt: skip
    known = {place: float(length) for place, length in lengths.items() if length is not None}
    if not stitch.unpicked_mm or set(threads_at(stitch.stitch_type)) - set(known):
        return None
    return measured(stitch.stitch_type, float(stitch.unpicked_mm), known)


def steps_on(machine: Machine) -> list[Any]:
    """The steps of sewing that name a machine, with their styles, in order.

    Found through whatever points at machines, so that this room need not know the rooms after it.
    """
    found: list[Any] = []
    for link in Machine._meta.get_fields(include_hidden=True):
        if not isinstance(link, models.ManyToOneRel) or link.related_model is MachineStitch:
            continue
        rows = link.related_model._default_manager.filter(**{link.field.name: machine})
        found += rows.select_related("style").order_by("style__number", "position", "pk")
    return found


@transaction.atomic
def keep_machine(machine: Machine, makes: Collection[str]) -> Machine:
    """Saves a machine with exactly these stitch types; settings and measurements of those that stay are kept."""
    machine.save()
    machine.stitches.exclude(stitch_type__in=makes).delete()
    noted = set(machine.stitches.values_list("stitch_type", flat=True))
    MachineStitch.objects.bulk_create(
        MachineStitch(machine=machine, stitch_type=number) for number in sorted(set(makes) - noted)
    )
    return machine


@transaction.atomic
def keep_measured(
    stitch: MachineStitch, unpicked_mm: Decimal, threads_mm: Mapping[Position, Decimal], *, today: date
) -> MachineStitch:
    """Keeps what unpicking gave: mm of seam, and mm of thread at each position."""
    stitch.unpicked_mm = unpicked_mm
    stitch.needle_mm = threads_mm.get("needle")
    stitch.looper_mm = threads_mm.get("looper")
    stitch.cover_mm = threads_mm.get("cover")
    stitch.measured_on = today
    stitch.save()
    return stitch


@transaction.atomic
def forget_measured(stitch: MachineStitch) -> MachineStitch:
    """Thread is worked out from the stitch's geometry or the table again."""
    stitch.unpicked_mm = stitch.needle_mm = stitch.looper_mm = stitch.cover_mm = stitch.measured_on = None
    stitch.save()
    return stitch


@transaction.atomic
def give_away(machine: Machine) -> MachineGone:
    """Takes a machine out of the workroom; steps that named it may be sewn on any of its kind from now on."""
    gone = MachineGone(machine.name, tuple(steps_on(machine)))
    machine.delete()
    return gone
