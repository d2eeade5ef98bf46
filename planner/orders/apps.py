from django.apps import AppConfig


class OrdersConfig(AppConfig):
    """Orders: customers and orders."""

    name = "planner.orders"
