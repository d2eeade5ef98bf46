"""The demo batch (24 garments, 6 sizes, 2 colours) to a full plan. Run: python -m tests.bench.bench_batch

Prints the time to the first nested lay and to the whole plan, against the budgets of 5 s and 60 s, and what the same
garments take with every size in lays of its own, nested just as long.
"""

from __future__ import annotations

import os
import tempfile
import time

from planner.core.demand_file import read_demand
from planner.core.lays.wishes import Wishes
from planner.core.planning import Progress, plan_batch


def main() -> None:
    """Loads the demo into a folder of its own and plans its demand file."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["NOTCHBOOK_DATA"] = folder
        os.environ["DJANGO_SETTINGS_MODULE"] = "planner.settings.local"
        import django

        django.setup()
        from django.core.management import call_command
        from django.db import connection

        from planner.styles.specs import workshop
        from planner.web.demo import DEMAND_FILE

        call_command("migrate", verbosity=0)
        call_command("load_demo", verbosity=0)
        shop = workshop()
        demand = read_demand(DEMAND_FILE.read_bytes(), shop.styles).demand
        start = time.perf_counter()
        first: list[float] = []

        def tell(progress: Progress) -> None:
            if not first and progress.marker.how != "rows":
                first.append(time.perf_counter() - start)

        plan = plan_batch(demand, shop, batch="B-1", on_progress=tell)
        took = time.perf_counter() - start
        metres = sum(cloth.lay_m for cloth in plan.cloths)
        print(f"first nested lay after {first[0]:.1f} s (budget 5 s)")
        print(f"{len(plan.lays)} lays, {metres:.2f} m of cloth, whole plan after {took:.0f} s (budget 60 s)")
        kinds = frozenset((row.garment.style, row.garment.size) for row in demand)
        wishes = {cloth.cloth.key.fabric: Wishes(apart=(kinds,)) for cloth in plan.cloths}
        single = plan_batch(demand, shop, batch="B-2", wishes=wishes)
        alone = sum(cloth.lay_m for cloth in single.cloths)
        saved = alone - metres
        print(
            f"size by size: {len(single.lays)} lays, {alone:.2f} m, nested too: "
            f"the plan saves {saved:.2f} m ({saved / alone:.0%})"
        )
        connection.close()


if __name__ == "__main__":
    main()
