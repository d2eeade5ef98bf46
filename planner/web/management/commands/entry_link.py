"""`manage.py entry-link [NAME]`: a one-time link for the first entry, or for somebody who is locked out."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from planner.running.lock import FileLock
from planner.web.actions import PeopleError
from planner.web.links import entry_path


class Command(BaseCommand):
    """Whoever may run this owns the data folder anyway, so it asks no password."""

    help = "Prints a link that lets somebody choose a password, once."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", nargs="?", help="whose link; not needed where there is one maker")
        parser.add_argument("--demo", action="store_true", help="for the demo workroom")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            path = entry_path(options["name"])
        except PeopleError as error:
            raise CommandError(str(error)) from None
        # A running server knows its port better than the settings of this process do.
        running = FileLock(settings.DATA_DIR / "running.lock").read_note().get("address")
        self.stdout.write(f"This link works once:\n    {running or settings.BASE_URL}{path}")
        self.stdout.write("Notchbook must be running when it is opened.")
