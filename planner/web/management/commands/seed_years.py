"""`manage.py seed_years`: ten years of rows on top of the demo, for measuring."""

import time
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from planner.materials.models import Workroom
from planner.web.demo import read_demo
from planner.web.years import NothingToBuildOnError, seed_years


class Command(BaseCommand):
    """All of it in one transaction. Only in a demo workroom: nobody wants this among their own orders."""

    help = "Adds ten years of invented orders, batches, bundles and events to the demo workroom."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--scale", type=float, default=1.0, help="0.01 for a hundredth of it")
        parser.add_argument("--today", type=date.fromisoformat, help="the day the years end (YYYY-MM-DD)")

    def handle(self, *args: Any, **options: Any) -> None:
        if not 0 < options["scale"] <= 10:
            raise CommandError("The scale must be more than 0 and at most 10.")
        if Workroom.the().name != read_demo()["workroom"]["name"]:
            raise CommandError("This is not the demo workroom, so nothing was added. Use `load_demo` first.")
        began = time.monotonic()
        try:
            made = seed_years(options["today"] or timezone.localdate(), options["scale"], self.stdout.write)
        except NothingToBuildOnError:
            raise CommandError("There are no styles with nested lays yet. Use `load_demo` first.") from None
        rows = ", ".join(f"{count} {kind}" for kind, count in made.items())
        self.stdout.write(f"Made {rows} in {time.monotonic() - began:.0f} s.")
