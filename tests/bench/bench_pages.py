"""A workroom after ten years, for measuring pages. Run: python -m tests.bench.bench_pages [SCALE]

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


def main() -> None:
    """Fills the database and says how long it took."""
    scale = float(sys.argv[1]) if len(sys.argv) > 1 else 1.0
    start = time.perf_counter()
    folder = set_up_ten_years(scale)
    size_mb = (folder / "notchbook.sqlite3").stat().st_size / 1e6
    print(f"ready after {time.perf_counter() - start:.0f} s: {size_mb:.0f} MB (budget for filling: 180 s)")


if __name__ == "__main__":
    main()
