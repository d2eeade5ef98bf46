"""`manage.py worker`: does the background work, in the workroom's own process or on a host."""

import logging
import time
from threading import Thread
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandParser
from django.db import close_old_connections
from django.utils import timezone

from planner.core.lays.solver import prepare_search
from planner.cutting.actions.cut_off import Heard, take_up_silent
from planner.cutting.actions.nesting import take_up_again
from planner.running.worker import end_with_parent

log = logging.getLogger(__name__)

#: How often a worker that nobody watches looks for others that were cut off (s).
LOOK_EVERY = 30.0


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
        else:
            # One of several, perhaps: what another was cut off from is found by its silence.
            take_up_again(timezone.now())
            Thread(target=look_for_cut_off, name="look-for-cut-off", daemon=True).start()
        # After an update of the program the search is compiled anew; until that is done the library nests.
        Thread(target=prepare_search, name="prepare-search", daemon=True).start()
        call_command("db_worker", interval=0.5, startup_delay=False, reload=False, verbosity=1)


def look_for_cut_off() -> None:
    """Takes up, for as long as this process lives, what other workers were cut off from."""
    heard: Heard = {}
    while True:
        time.sleep(LOOK_EVERY)
        try:
            close_old_connections()
            heard, again = take_up_silent(heard, timezone.now())
        except Exception:
            # The database may be away for a while; the worker itself says so where it matters.
            log.exception("could not look for nesting that was cut off")
            continue
        if again:
            log.warning("%s lays whose nesting was cut off are taken up again", again)
