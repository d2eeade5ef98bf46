from django.apps import AppConfig


class StylesConfig(AppConfig):
    """Styles: styles, pieces and seams."""

    name = "planner.styles"
