"""The migrations make the tables that the models say, from which the test database is made."""

from decimal import Decimal
from importlib import import_module
from types import SimpleNamespace

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import IntegrityError, connection
from django.db.migrations import RunSQL, SeparateDatabaseAndState
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.operations.base import Operation

from planner.cutting.models import Batch, BatchNeed, Lay, Marker
from planner.materials.models import Fabric, Notion, Roll
from tests.factories import TODAY, make_fabric_colour, make_notion_colour, make_style


def test_every_change_of_a_model_has_its_migration(db: None) -> None:
    call_command("makemigrations", check_changes=True, dry_run=True, verbosity=0)


def test_no_migration_changes_tables_past_the_models() -> None:
    """Else what the migrations leave would not follow from their state, which is what the check above compares."""
    ours = [
        one for one in MigrationLoader(None).disk_migrations.values() if one.__module__.startswith("planner.")
    ]
    assert len(ours) > 10
    for migration in ours:
        for operation in migration.operations:
            assert not isinstance(operation, (RunSQL, SeparateDatabaseAndState)), migration


def test_in_the_test_database_all_of_them_are_noted_as_done(db: None) -> None:
    executor = MigrationExecutor(connection)
    assert executor.migration_plan(executor.loader.graph.leaf_nodes()) == []


def test_cloth_of_pieces_that_lay_side_by_side_shades(db: None) -> None:
    """Not that of a pair cut together, which stays so on any cloth, nor that of other pieces."""
    step = import_module("planner.materials.migrations.0006_cloth_that_shades")
    one, other = make_style("110", body="fold twill"), make_style("120", body="fleece")
    one.pieces.filter(name__in=("front", "back")).update(beside="body")
    other.pieces.filter(name="front").update(pair=True, count=2, beside="front")
    step.mark_cloths(apps, None)
    assert list(Fabric.objects.filter(shades=True).values_list("name", flat=True)) == ["fold twill"]


def test_rolls_of_one_number_are_told_apart(transactional_db: None) -> None:
    """The first one keeps its number, none loses its note, and a roll that has a number of its own is let be.

    The migration's own steps, on the tables of today without the constraint that they make.
    """
    step = import_module("planner.materials.migrations.0008_one_number_a_roll").Migration
    state = SimpleNamespace(apps=apps, clear_delayed_apps_cache=lambda: None)

    def run(operation: Operation, *, back: bool = False) -> None:
        with connection.schema_editor() as editor:
            take = operation.database_backwards if back else operation.database_forwards
            take("materials", editor, state, state)

    ink, black, rib = make_fabric_colour(), make_fabric_colour(name="black"), make_fabric_colour("rib")
    long = "x" * 40
    with pytest.MonkeyPatch.context() as formerly:
        formerly.setattr(Roll._meta, "constraints", [])
        run(step.operations[-1], back=True)
    try:
        rolls = Roll.objects.bulk_create(
            Roll(fabric_colour=colour, number=number, note=note)
            for colour, number, note in (
                (ink, "R13", ""), (ink, "R13", "from the back"), (black, "r13", "n" * 200), (ink, "R13 (2)", ""),
                (rib, "R13", ""), (ink, long, ""), (ink, long, ""), (ink, "", ""),
            )
        )  # fmt: skip
    finally:
        for operation in step.operations:
            run(operation)
    assert list(Roll.objects.order_by("pk").values_list("number", "note")) == [
        ("R13", ""), ("R13 (3)", "Was called R13, as another roll is too. from the back"),
        ("r13 (4)", "n" * 200), ("R13 (2)", ""), ("R13", ""), (long, ""),
        (f"{long[:36]} (2)", f"Was called {long}, as another roll is too."), (f"R{rolls[-1].pk}", ""),
    ]  # fmt: skip
    with pytest.raises(IntegrityError):
        Roll.objects.create(fabric_colour=ink, number="R13")


def test_rolls_that_came_later_are_told_by_a_column_no_longer_by_their_position(db: None) -> None:
    """The step of the data, there and back again, on rows as they were before."""
    step = import_module("planner.cutting.migrations.0004_rolls_that_came_later")
    lay = Lay.objects.create(
        batch=Batch.objects.create(number="B-1", made_on=TODAY),
        number=1, lay_width_mm=1500, one_way=False, end_allowance_mm=20,
        estimated_length_mm=900, marker=Marker.objects.create(key="k", job={}),
    )  # fmt: skip
    cloth = lay.cloths.create(fabric_colour=make_fabric_colour(), spreads=4)
    for position in (0, 1, 1000, 1001):
        cloth.rolls.create(spreads=1, position=position)
    step.into_a_column(apps, None)
    assert list(cloth.rolls.order_by("pk").values_list("position", "came_later")) == [
        (0, False), (1, False), (0, True), (1, True),
    ]  # fmt: skip
    step.into_positions(apps, None)
    assert list(cloth.rolls.order_by("pk").values_list("position", flat=True)) == [0, 1, 1000, 1001]


def test_needs_kept_with_waste_rounded_up_are_those_of_today(db: None) -> None:
    """2 % of 1, of 24 and of 50 labels: formerly 2, 25 and 51 were kept, the nearest whole are 1, 24 and 51."""
    step = import_module("planner.cutting.migrations.0014_whole_pieces_of_waste")
    label, elastic = make_notion_colour("size label"), make_notion_colour("clear elastic 6 mm")
    Notion.objects.update(waste_percent=2)
    batch = Batch.objects.create(number="B-0001", made_on=TODAY)
    kept = [(label, "2", 0), (label, "25", 0), (label, "51", 0), (label, "2", 2), (elastic, "2", 0)]
    BatchNeed.objects.bulk_create(
        BatchNeed(batch=batch, notion_colour=colour, need=Decimal(need), taken=taken)
        for colour, need, taken in kept
    )
    step.round_waste(apps, None)
    now = [row.need for row in BatchNeed.objects.order_by("pk")]
    assert now == [1, 24, 51, 2, 2], "what was taken, and what is cut by length, stays as it is"
