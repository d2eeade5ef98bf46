from django.apps import AppConfig


class CostsConfig(AppConfig):
    """Costs: cost and price."""

    name = "planner.costs"
