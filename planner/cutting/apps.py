from django.apps import AppConfig


class CuttingConfig(AppConfig):
    """Cutting: batches, lays and bundles."""

    name = "planner.cutting"

    def ready(self) -> None:
        """Cloth that came in may be what a lay waits for."""
        from planner.cutting import arrivals

        arrivals.listen()
