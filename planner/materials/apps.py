from django.apps import AppConfig


class MaterialsConfig(AppConfig):
    """Materials: fabrics, notions and stock."""

    name = "planner.materials"
