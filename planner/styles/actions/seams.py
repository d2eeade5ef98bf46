"""Seams that were proposed and confirmed, made together with the operations that sew them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction

from planner.core.propose_seams import ProposedSeam, option_of, propose_seams
from planner.core.spec import Option as OptionKey
from planner.styles.actions.parts import next_position
from planner.styles.actions.results import Done, Refused
from planner.styles.family import option_key, options_of, parts_of
from planner.styles.models import Operation, Option, Piece, Seam, SeamEdge, Style
from planner.styles.specs import style_specs

CHANGED = "The style changed while you looked: what is proposed now stands below. Nothing was made yet."


@dataclass(frozen=True)
class ConfirmedStep:
    """Proposed seams, by their keys, that one operation sews: the one with the key `existing`, or a new one."""

    seams: Sequence[str]
    existing: int | None = None
    name: str = ""
    machine: str = ""
    stitch_type: str = ""
    standard_minutes: Decimal = Decimal("1.00")


@transaction.atomic
def make_proposed(style: Style, steps: Sequence[ConfirmedStep]) -> Done | Refused:
    """Makes the seams that were confirmed, and the new operations among those that sew them, in this order.

    Refused, with nothing made, where one of them is not proposed any more: somebody made it meanwhile, or changed a
    piece.
    """
    Style.objects.select_for_update().get(pk=style.pk)
    proposed = {one.key: one for one in propose_seams(style_specs([style])[style.number])}
    if any(key not in proposed for step in steps for key in step.seams):
        return Refused(CHANGED)
    options = {option_key(option): option for option in options_of(style)}
    pieces = {piece.name: piece for piece in parts_of(style, Piece)}
    known = {operation.pk: operation for operation in parts_of(style, Operation)}
    if any(step.existing is not None and step.existing not in known for step in steps):
        return Refused(CHANGED)
    new_steps = seams = 0
    for step in steps:
        chosen = [proposed[key] for key in step.seams]
        if not chosen:
            continue
        if step.existing is not None:
            operation = known[step.existing]
        else:
            operation = _new_operation(style, step, options.get(option_of(chosen)))
            new_steps += 1
        for one in chosen:
            _new_seam(style, one, operation, options, pieces)
            seams += 1
    return Done(_in_words(seams, new_steps))


def _new_operation(style: Style, step: ConfirmedStep, option: Option | None) -> Operation:
    return Operation.objects.create(
        style=style,
        option=option,
        position=next_position(parts_of(style, Operation)),
        name=step.name,
        machine=step.machine,
        stitch_type=step.stitch_type,
        standard_minutes=step.standard_minutes,
    )


def _new_seam(
    style: Style,
    one: ProposedSeam,
    operation: Operation,
    options: dict[OptionKey | None, Option],
    pieces: dict[str, Piece],
) -> None:
    seam = Seam.objects.create(
        style=style,
        option=options.get(one.seam.option),
        name=one.seam.name,
        times=one.seam.times,
        operation=operation,
        ratio=Decimal(str(one.seam.ratio)),
        fullness=one.seam.fullness,
        position=next_position(style.seams.all()),
    )
    SeamEdge.objects.bulk_create(
        SeamEdge(
            seam=seam, piece=pieces[ref.piece], edge=ref.edge, side=ref.side, takes=ref.takes, position=i
        )
        for i, ref in enumerate(one.seam.edges)
    )


def _in_words(seams: int, steps: int) -> str:
    made = f"{seams} seam{'' if seams == 1 else 's'}"
    if steps:
        made += f" and {steps} operation{'' if steps == 1 else 's'}"
    are = "is" if seams == 1 and not steps else "are"
    guess = " Minutes that stand at 1.00 are a guess: put in yours." if steps else ""
    return f"{made} {are} made.{guess}"
