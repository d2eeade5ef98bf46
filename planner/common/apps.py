from django.apps import AppConfig
from django.db.backends.signals import connection_created

from planner.common.alike import teach


class CommonConfig(AppConfig):
    """Common: what every room shares."""

    name = "planner.common"

    def ready(self) -> None:
        connection_created.connect(teach)
