"""A workroom after ten years, for measuring pages. Run: python -m tests.bench.bench_pages [SCALE]

Times are processor time of the server, warmed up as `manage.py start` does it, so that whatever else the machine is
busy with hardly counts.

The database is kept in build/bench-pages-SCALE and filled only once; delete the folder to fill it anew.
"""

from __future__ import annotations

import os
import sys
import time
from datetime import date
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent.parent / "build"
#: The day on which the ten years end.
TODAY = date(2031, 5, 12)


def set_up_ten_years(scale: float = 1.0) -> Path:
    """Sets Django up on a database with ten years of rows; its data folder. Call it once, first."""
    folder = FOLDER / f"bench-pages-{scale:g}"
    folder.mkdir(parents=True, exist_ok=True)
    os.environ["NOTCHBOOK_DATA"] = str(folder)
    os.environ["DJANGO_SETTINGS_MODULE"] = "planner.settings.local"
    import django

    django.setup()
    from django.core.management import call_command

    from planner.orders.models import Order
    from planner.web.demo import is_empty

    call_command("migrate", verbosity=0)
    if is_empty():
        call_command("load_demo", today=TODAY)
    if Order.objects.count() <= 10:
        call_command("seed_years", scale=scale, today=TODAY)
    return folder


PAGES = [
    "/", "/orders/", "/orders/?page=40", "/orders/new/", "/styles/", "/materials/", "/batches/",
    "/batches/?show=over&page=20", "/batches/buy/", "/sewing/", "/costs/",
]  # fmt: skip
ROUNDS = 20


def time_pages() -> None:
    """Asks for each page again and again as the maker would; prints queries and the slow end of the times."""
    from django.contrib.auth.models import User
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    from planner.cutting.models import Batch, Bundle
    from planner.running.warm import warm_up

    warm_up()
    maker, _ = User.objects.get_or_create(username="bench", defaults={"is_staff": True})
    client = Client(HTTP_HOST="localhost")
    client.force_login(maker)
    planned = Batch.objects.filter(state="planned").order_by("-pk").first()
    sewing = Batch.objects.filter(state="sewing").order_by("-pk").first()
    bundle = Bundle.objects.of_batches_on_the_go().last()
    more = [f"/batches/{batch.number}/" for batch in (planned, sewing) if batch]
    more += [f"/sewing/b/{bundle.token}/"] if bundle else []
    for url in [*PAGES, *more]:
        with CaptureQueriesContext(connection) as queries:
            answer = client.get(url)
        asked = len(queries)
        times = []
        for _ in range(ROUNDS):
            start = time.process_time()
            client.get(url)
            times.append((time.process_time() - start) * 1000)
        slow = sorted(times)[int(0.95 * ROUNDS) - 1]
        print(f"{url:34} {answer.status_code}  {asked:3} queries  95th {slow:6.0f} ms of CPU (budget 100)")


def main() -> None:
    """Fills the database, then times the pages."""
    scale = float(sys.argv[1]) if len(sys.argv) > 1 else 1.0
    start = time.perf_counter()
    folder = set_up_ten_years(scale)
    size_mb = (folder / "notchbook.sqlite3").stat().st_size / 1e6
    print(f"ready after {time.perf_counter() - start:.0f} s: {size_mb:.0f} MB (budget for filling: 180 s)")
    time_pages()


if __name__ == "__main__":
    main()
