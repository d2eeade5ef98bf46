from django.apps import AppConfig


class SewingConfig(AppConfig):
    """Sewing: progress at the machines."""

    name = "planner.sewing"
