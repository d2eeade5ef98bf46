"""`manage.py load_demo`: an invented workroom to try things out in."""

from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from planner.web.demo import NotEmptyError, NotTheDemoError, load_demo, read_demo


class Command(BaseCommand):
    """Loads the demo in one transaction: all of it or nothing."""

    help = "Fills an empty workroom with an invented one: styles, cloth, notions, customers and orders."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--today", type=_day, help="the day its dates are counted from (YYYY-MM-DD)")
        parser.add_argument(
            "--replace", action="store_true", help="make an old demo new: delete all but people first"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        today = options["today"] or timezone.localdate()
        try:
            made = load_demo(read_demo(), today, replace=options["replace"])
        except NotEmptyError:
            raise CommandError(
                "This workroom has something in it already, so nothing was loaded. Start the demo on a data "
                "folder of its own; a demo that was played with is made new by --replace."
            ) from None
        except NotTheDemoError:
            raise CommandError(
                "This is not the demo workroom, so nothing was deleted and nothing loaded. "
                "Start the demo on a data folder of its own."
            ) from None
        self.stdout.write(
            f"Loaded the demo workroom as of {today.isoformat()}: {made.styles} styles with {made.outlines} "
            f"outlines, {made.fabrics} fabrics on {made.rolls} rolls, {made.notions} notions, "
            f"{made.customers} customers, {made.orders} orders for {made.garments} garments, "
            f"{made.batches} batches."
        )


def _day(text: str) -> date:
    return date.fromisoformat(text)
