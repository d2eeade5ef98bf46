"""Cut plans, rolls and what was told at the table in ten invented years; nothing of it is reckoned."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from django.contrib.auth.models import User

from planner.cutting.models import CutPlan, LayFact, LayRoll
from planner.materials.models import Roll
from planner.web.years_rows import Made, at, write


def make_rolls(made: Sequence[Made]) -> None:
    """A roll for each cloth of a batch, of a shade lot of its own."""
    for one in made:
        for number, colour in enumerate(one.colours, 1):
            one.rolls[colour.pk] = Roll(
                fabric_colour=colour, number=f"{one.row.number}/{number}", shade_lot=one.row.number[2:]
            )
    write(roll for one in made for roll in one.rolls.values())


def make_promises(made: Sequence[Made]) -> None:
    """Every ply from the roll of its batch; the last ply of a lay that is not cut is still to be bought."""
    promises = []
    for one in made:
        for cloth in one.cloths:
            roll = one.rolls[cloth.fabric_colour_id]
            short = cloth.cut_spreads is None
            promises.append(LayRoll(lay_cloth=cloth, roll=roll, spreads=cloth.spreads - int(short)))
            if short:
                promises.append(LayRoll(lay_cloth=cloth, roll=None, spreads=1, position=1))
    write((one for one in promises if one.spreads), keep=False)


def make_facts(made: Sequence[Made], people: Sequence[User]) -> None:
    """One fact for the plies of each lay that is cut."""
    write(
        (
            LayFact(
                lay_cloth=cloth,
                roll=one.rolls[cloth.fabric_colour_id],
                spreads=cloth.cut_spreads,
                used_m=cloth.used_m,
                person=people[0],
                told_at=at(one.day + timedelta(days=1), 11),
            )
            for one in made
            for cloth in one.cloths
            if cloth.cut_spreads is not None
        ),
        keep=False,
    )


def make_plans(made: Sequence[Made]) -> None:
    """A settled cut plan for each fabric of a batch, with the facts of the demo's plan of it, or else of any."""
    facts = {plan.fabric_id: plan.facts for plan in CutPlan.objects.exclude(facts={})}
    usual = next(iter(facts.values()), {})
    write(
        (
            CutPlan(
                batch=one.row,
                fabric_id=fabric,
                state=CutPlan.State.SETTLED,
                is_proven=True,
                method="one_lay",
                facts=facts.get(fabric, usual),
            )
            for one in made
            for fabric in dict.fromkeys(colour.fabric_id for colour in one.colours)
        ),
        keep=False,
    )
