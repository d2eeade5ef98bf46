"""`manage.py worker`: does the background work, in the workroom's own process or on a host."""

import logging
import time
from threading import Thread
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db import OperationalError, close_old_connections
from django.utils import timezone
from django.utils.crypto import get_random_string
from django_tasks_db.management.commands.db_worker import Command as DatabaseWorker

from planner.core.lays import kept_code
from planner.core.lays.solver import one_after_another, prepare_search
from planner.cutting.actions.cut_off import take_up_again
from planner.cutting.actions.polishing import polish_unsearched
from planner.cutting.tasks import queue_ahead
from planner.running.patience import PatientWorker
from planner.running.taking_up import BEAT_EVERY, Watch
from planner.running.worker import end_with_parent

log = logging.getLogger(__name__)

#: Compiling that had no turn on a busy machine is tried once more after so long (s).
TRY_AGAIN_AFTER = 1800.0


class Command(BaseCommand):
    """The queue's own worker, asking often enough that nobody waits for it."""

    help = "Runs the background worker."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--with-parent", action="store_true", help="end when standard input closes, as `start` wants it"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        worker_id = get_random_string(32)
        if options["with_parent"]:
            end_with_parent()
        else:
            # One of several, perhaps: what another was cut off from is found by its silence.
            take_up_again(timezone.now())
            Thread(target=keep_watch, args=(worker_id,), name="keep-watch", daemon=True).start()
        # After an update of the program the search is compiled anew; until that is done the library nests.
        Thread(target=prepare_and_polish, name="prepare-search", daemon=True).start()
        DatabaseWorker().configure_logging(1)
        worker = PatientWorker(worker_id, is_alone=options["with_parent"])
        worker.configure_signals()
        with one_after_another():
            worker.run()


def prepare_and_polish() -> None:
    """Compiles the search where it is not yet, then has it look at what the library nested alone meanwhile, or has it
    told of these lays that the search cannot be had. What only took too long is tried again, for as long as it does."""
    prepare_search()
    while kept_code.is_awaited():
        time.sleep(TRY_AGAIN_AFTER)
        prepare_search()
    try:
        again = polish_unsearched()
    except Exception:
        # They can be cut as they are; what was missed is taken up at the next start.
        log.exception("lays that were nested without our own search could not be asked for")
    else:
        if again:
            log.info("%s lays that were nested without our own search are nested again", again)
    finally:
        close_old_connections()
    ask_ahead()


def ask_ahead() -> None:
    """What was ordered or changed while no worker ran, or no search was ready, is nested ahead too."""
    try:
        queue_ahead()
    except OperationalError:
        log.warning("the database could not be reached; the next order that is saved asks again")
    finally:
        close_old_connections()


def keep_watch(worker_id: str) -> None:
    """Says that this worker lives, and takes up what others were cut off from, for as long as this process lives."""
    watch = Watch(worker_id)
    while True:
        time.sleep(BEAT_EVERY)
        try:
            close_old_connections()
            again = watch.turn(timezone.now())
        except Exception:
            # The database may be away for a while; the worker itself says so where it matters.
            log.exception("could not look for work that was cut off")
            continue
        if again:
            log.warning("%s tasks or lays from which a worker was cut off are taken up again", again)
