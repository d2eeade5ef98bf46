from django.apps import AppConfig


class CuttingConfig(AppConfig):
    """Cutting: batches, lays and bundles."""

    name = "planner.cutting"

    def ready(self) -> None:
        """Cloth that came in may be what a lay waits for, and a table may become too short for one."""
        from planner.cutting import arrivals, counted_down, short_table

        arrivals.listen()
        counted_down.listen()
        short_table.listen()
