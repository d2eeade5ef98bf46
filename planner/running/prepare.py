"""Brings the database to where the program needs it. Needs Django to be set up."""

from datetime import datetime

from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

#: A task under way at this many crashes is given up, so that it cannot take the worker down for ever.
MOST_TRIES = 5


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
    """Throws away what nobody asks for any more: sessions, old tasks, dead links."""
    from planner.web.models import EntryLink

    call_command("clearsessions", verbosity=0)
    call_command("prune_db_task_results", verbosity=0, min_age_days=14)
    EntryLink.objects.filter(expires_at__lt=now).delete()


def take_up_again(*, after_crash: bool) -> int:
    """Puts tasks back into the queue that were cut off under way; returns how many.

    Only for when no worker runs: with one worker a task that is marked as running then has nobody behind it.
    """
    from django.utils import timezone
    from django_tasks.base import TaskResultStatus
    from django_tasks_db.models import DBTaskResult

    from planner.cutting.actions.cut_off import give_up
    from planner.cutting.actions.nesting import take_up_again as take_up_markers
    from planner.cutting.tasks import nest_marker

    again = 0
    for task in DBTaskResult.objects.running():
        if after_crash and len(task.worker_ids) >= MOST_TRIES:
            task.set_failed(
                RuntimeError(f"The worker crashed {MOST_TRIES} times at this task; it is given up.")
            )
            if task.task_path == nest_marker.module_path:
                # Else the marker, which still waits, would be asked for once more.
                give_up(task.args_kwargs["args"][0])
            continue
        task.status = TaskResultStatus.READY
        task.started_at = None
        task.save(update_fields=["status", "started_at"])
        again += 1
    # A marker knows by itself that its nesting was cut off; asking the worker twice does no harm.
    take_up_markers(timezone.now(), all_nesting=True)
    return again
