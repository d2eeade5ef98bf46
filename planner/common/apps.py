from django.apps import AppConfig


class CommonConfig(AppConfig):
    """Common: what every room shares."""

    name = "planner.common"
