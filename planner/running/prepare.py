"""Brings the database to where the program needs it. Needs Django to be set up."""

from datetime import datetime

from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor


def prepare_database(*, demo: bool) -> None:
    """Makes or updates the tables; fills the demo workroom where it is empty. Quick where all is done."""
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        call_command("migrate", verbosity=0, interactive=False)
    if demo:
        from planner.styles.models import Style

        if not Style.objects.exists():
            call_command("load_demo", verbosity=0)


def tidy_up(*, now: datetime) -> None:
    """Deletes what is no longer needed: sessions, old tasks, dead links."""
    from planner.web.models import EntryLink

    call_command("clearsessions", verbosity=0)
    call_command("prune_db_task_results", verbosity=0, min_age_days=14)
    EntryLink.objects.filter(expires_at__lt=now).delete()


def take_up_again(*, after_crash: bool) -> int:
    """Puts tasks back into the queue that were cut off. Returns how many.

    Only to be called while no worker runs: with a single worker, a task marked as running has nobody at work on it
    then.
    """
    from django.utils import timezone
    from django_tasks_db.models import DBTaskResult

    from planner.cutting.actions.cut_off import take_up_again as take_up_markers
    from planner.running.taking_up import put_back

    again = sum(put_back(task, after_crash=after_crash) for task in DBTaskResult.objects.running())
    # A marker knows by itself that its nesting was cut off, though its task may be lost.
    take_up_markers(timezone.now(), all_nesting=True)
    return again
