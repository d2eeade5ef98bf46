from django.apps import AppConfig


class CuttingConfig(AppConfig):
    """Cutting: batches, lays and bundles."""

    name = "planner.cutting"
