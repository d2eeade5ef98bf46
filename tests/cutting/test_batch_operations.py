"""A batch keeps of its styles' operations everything that is needed at the machine, as it was when it was planned."""

from decimal import Decimal

import pytest

from planner.cutting.actions.planning import OPERATION_COLUMNS
from planner.cutting.models import BatchOperation
from planner.materials.models import Machine
from planner.styles.models import Operation
from tests.sewing.makers import make_planned_batch, the_style

pytestmark = pytest.mark.django_db

#: Columns of a style's operation that are not the batch's: what the thread is reckoned from is in the snapshot.
ONLY_THE_STYLES = {"id", "style", "option", "own_machine", "stitch_width_mm", "layers"}


def full_step() -> Operation:
    """The shoulder step of the box top with everything set."""
    step = the_style().operations.get(name="join shoulders")
    step.own_machine = Machine.objects.create(name="Window overlock", kind="overlock")
    step.stitch_length_mm, step.differential_feed = Decimal("2.50"), Decimal("1.30")
    step.tension_note, step.needle_note = "loopers a little looser", "stretch 75"
    step.quality_note = "shoulder lies flat, elastic caught all along"
    step.save()
    return step


def test_a_planned_batch_keeps_every_setting() -> None:
    step = full_step()
    kept = make_planned_batch().operations.get(name="join shoulders")
    assert {name: getattr(kept, name) for name in OPERATION_COLUMNS} == {
        name: getattr(step, name) for name in OPERATION_COLUMNS
    }
    assert kept.own_machine == "Window overlock"


def test_a_machine_renamed_or_sold_since_stays_as_it_was_planned() -> None:
    full_step()
    batch = make_planned_batch()
    Machine.objects.all().delete()
    Operation.objects.update(quality_note="something else", stitch_length_mm=None)
    kept = batch.operations.get(name="join shoulders")
    assert (kept.own_machine, kept.stitch_length_mm) == ("Window overlock", Decimal("2.50"))
    assert kept.quality_note == "shoulder lies flat, elastic caught all along"


def test_a_step_without_settings_stays_bare() -> None:
    kept = make_planned_batch().operations.get(name="close sides")
    assert (kept.own_machine, kept.quality_note, kept.stitch_length_mm) == ("", "", None)


def test_no_column_of_an_operation_is_forgotten() -> None:
    """A column added to a style's operation is either copied or named here with its reason."""
    columns = {field.name for field in Operation._meta.concrete_fields}
    assert columns - ONLY_THE_STYLES == set(OPERATION_COLUMNS)
    assert set(OPERATION_COLUMNS) <= {field.name for field in BatchOperation._meta.concrete_fields}
