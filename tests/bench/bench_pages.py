"""A workroom after ten years, for measuring pages. Run: python -m tests.bench.bench_pages [SCALE]

Times are processor time of the server, warmed up as `manage.py start` does it, so that whatever else the machine is
busy with hardly counts; the time by the clock stands beside it.

The database is kept in build/bench-pages-SCALE and filled only once; delete the folder to fill it anew.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path
from statistics import median
from typing import Any

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
    "/batches/?show=over&page=20", "/batches/buy/", "/sewing/", "/costs/", "/costs/batches/",
]  # fmt: skip
ROUNDS = 20


def time_pages() -> None:
    """Asks for each page again and again as the maker would; prints queries and the slow end of the times."""
    from django.contrib.auth.models import User
    from django.test import Client

    from planner.running.warm import warm_up

    warm_up()
    maker, _ = User.objects.get_or_create(username="bench", defaults={"is_staff": True})
    client = Client(HTTP_HOST="localhost")
    client.force_login(maker)
    for url in [*PAGES, *pages_of_rows()]:
        time_page(url, lambda url=url: client.get(url))
    for url, data in wrong_forms():
        time_page(f"POST {url}", lambda url=url, data=data: client.post(url, data))


def time_page(what: str, ask: Callable[[], Any]) -> None:
    """One page, asked for once to count its queries and then for its times."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as queries:
        answer = ask()
    asked = len(queries)
    print(f"{what:40} {answer.status_code}  {asked:3} queries  {times_of(ask)} (budget 100)")


def times_of(ask: Callable[[], Any]) -> str:
    """How long it takes again and again: the middle and the slow end of processor time, and by the clock."""
    used, passed = [], []
    for _ in range(ROUNDS):
        start, begun = time.process_time(), time.perf_counter()
        ask()
        used.append((time.process_time() - start) * 1000)
        passed.append((time.perf_counter() - begun) * 1000)
    slow, slow_passed = (sorted(times)[int(0.95 * ROUNDS) - 1] for times in (used, passed))
    return f"CPU half {median(used):5.0f}, 95th {slow:5.0f} ms, by the clock {slow_passed:5.0f} ms"


def pages_of_rows() -> list[str]:
    """Pages of single rows: the largest batch of each state with its plan and lays, cloth with many rolls, a bundle."""
    from planner.cutting.models import Bundle
    from planner.materials.models import Roll

    found = _pages_of_orders()
    for state in ("planned", "cutting", "sewing"):
        batch = _largest(state)
        if batch is not None:
            found += [f"/batches/{batch.number}/", f"/batches/{batch.number}/needs/"]
            found += [f"/batches/{batch.number}/lays/{lay}/" for lay in (1, 2)]
            found.append(f"/batches/{batch.number}/lays/1/projector/")
    bundle = Bundle.objects.of_batches_on_the_go().last()
    found += [f"/sewing/b/{bundle.token}/"] if bundle else []
    roll = Roll.objects.not_used_up().select_related("fabric_colour").last()
    if roll is not None:
        colour = roll.fabric_colour
        found += [f"/materials/rolls/{roll.pk}/", f"/materials/colours/{colour.pk}/"]
        found.append(f"/materials/cloth/{colour.fabric_id}/")
    return found


def _pages_of_orders() -> list[str]:
    """The order with most lines of those that are open, its form and its customer."""
    from django.db.models import Count

    from planner.orders.models import Order

    rows = Order.objects.open().filter(customer__isnull=False).annotate(n=Count("lines"))
    order = rows.order_by("-n", "-pk").first()
    if order is None:
        return []
    own = f"/orders/{order.number}/"
    return [
        own,
        f"{own}edit/",
        f"{own}needs/",
        f"/sewing/order/{order.number}/",
        f"/orders/customers/{order.customer_id}/",
    ]


def wrong_forms() -> list[tuple[str, dict[str, str]]]:
    """Forms sent with something wrong in them, which their pages then show: the table's, and that of cloth received."""
    from planner.cutting.screens_lay import lay_table
    from planner.materials.models import Roll

    found = []
    batch = _largest("cutting")
    lay = batch.lays.with_rolls().filter(cut_at=None).first() if batch else None
    if batch is not None and lay is not None:
        table = lay_table(lay, "metric")
        fields = {f"used_{one.key}": "many" for one in table.portions}
        found.append((f"/batches/{batch.number}/lays/{lay.number}/cut/", fields | {"so_far": table.so_far}))
    roll = Roll.objects.not_used_up().last()
    if roll is not None:
        found.append((f"/materials/colours/{roll.fabric_colour_id}/receive/", {"length_m": "many"}))
    return found


def _largest(state: str) -> Any:
    from django.db.models import Count

    from planner.cutting.models import Batch

    return Batch.objects.filter(state=state).annotate(n=Count("bundles")).order_by("-n", "-pk").first()


def time_learning() -> None:
    """What a new plan asks of ten years of lays: how well each fabric was used, and which lengths are known."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from planner.cutting.cut_plans import known_lengths
    from planner.cutting.learning import learnt
    from planner.cutting.models import Lay, LayFact
    from planner.materials.models import Fabric

    print(f"{Lay.objects.count()} lays, {LayFact.objects.count()} facts")
    names = list(Fabric.objects.values_list("name", flat=True))
    asks: list[tuple[str, Callable[[], Any]]] = [
        ("learnt, all fabrics", lambda: learnt(names)),
        ("learnt, one fabric", lambda: learnt(names[:1])),
        ("known lengths, all fabrics", lambda: known_lengths(names)),
    ]
    for what, ask in asks:
        with CaptureQueriesContext(connection) as queries:
            ask()
        print(f"{what:40} {len(queries):3} queries  {times_of(ask)}")


def main() -> None:
    """Fills the database, then times the pages."""
    scale = float(sys.argv[1]) if len(sys.argv) > 1 else 1.0
    start = time.perf_counter()
    folder = set_up_ten_years(scale)
    size_mb = (folder / "notchbook.sqlite3").stat().st_size / 1e6
    print(f"ready after {time.perf_counter() - start:.0f} s: {size_mb:.0f} MB (budget for filling: 180 s)")
    time_pages()
    time_learning()


if __name__ == "__main__":
    main()
