"""No two rolls of a cloth in one colour bear the same number; those that do are told apart first."""

from collections.abc import Iterator
from itertools import count

from django.db import migrations, models

#: What the columns of a number and of a note hold.
LONGEST, LONGEST_NOTE = 40, 200


def tell_apart(apps, schema_editor):
    """The roll that came first keeps its number; each later one gets "R13 (2)", a form that nothing else gives.

    Its note says first what it was called, where there is room for that, so that label and books can be brought
    together again by length, lot and what came and went. Numbers count as the same within a fabric, in whatever letters, as they do where one
    is typed. A roll without any number is called as one that comes in without.
    """
    rolls = apps.get_model("materials", "Roll").objects
    taken: dict[int, set[str]] = {}
    doubles = []
    for roll in rolls.select_related("fabric_colour").order_by("pk"):
        numbers = taken.setdefault(roll.fabric_colour.fabric_id, set())
        if not roll.number or roll.number.casefold() in numbers:
            doubles.append(roll)
        else:
            numbers.add(roll.number.casefold())
    for roll in doubles:
        numbers = taken[roll.fabric_colour.fabric_id]
        was = roll.number
        roll.number = next(name for name in _names(was, roll.pk) if name.casefold() not in numbers)
        numbers.add(roll.number.casefold())
        note = f"Was called {was}, as another roll is too. {roll.note}".strip()
        if was and len(note) <= LONGEST_NOTE:
            roll.note = note
        roll.save(update_fields=["number", "note"])


def _names(was: str, pk: int) -> Iterator[str]:
    if not was:
        return (f"R{n}" for n in count(pk))
    suffixes = (f" ({n})" for n in count(2))
    return (was[: LONGEST - len(suffix)] + suffix for suffix in suffixes)


class Migration(migrations.Migration):
    dependencies = [("materials", "0007_nests_ahead")]

    operations = [
        migrations.RunPython(tell_apart, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="roll",
            constraint=models.UniqueConstraint(
                fields=("fabric_colour", "number"), name="one_roll_number_a_colour"
            ),
        ),
    ]
