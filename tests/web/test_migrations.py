"""The migrations make the tables that the models say, from which the test database is made."""

from django.core.management import call_command
from django.db import connection
from django.db.migrations import RunSQL, SeparateDatabaseAndState
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader


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
