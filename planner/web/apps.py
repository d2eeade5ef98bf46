from django.apps import AppConfig


class WebConfig(AppConfig):
    """Web: the page shell."""

    name = "planner.web"
