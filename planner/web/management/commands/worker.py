"""`manage.py worker`: does the background work, in the workroom's own process or on a host."""

from threading import Thread
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandParser

from planner.core.lays.solver import prepare_search
from planner.running.worker import end_with_parent


class Command(BaseCommand):
    """The queue's own worker, asking often enough that nobody waits for it."""

    help = "Runs the background worker."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--with-parent", action="store_true", help="end when standard input closes, as `start` wants it"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["with_parent"]:
            end_with_parent()
        # After an update of the program the search is compiled anew; no task waits for it.
        Thread(target=prepare_search, name="prepare-search", daemon=True).start()
        call_command("db_worker", interval=0.5, startup_delay=False, reload=False, verbosity=1)
