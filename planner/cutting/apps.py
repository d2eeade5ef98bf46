from django.apps import AppConfig


class CuttingConfig(AppConfig):
    """Cutting: batches, lays and bundles."""

    name = "planner.cutting"

    def ready(self) -> None:
        """Who hears of what, and who is asked.

        Cloth that came in may be what a lay waits for, a table or a cloth may become too small for one, orders
        tell what will be cut, and a style that is changed is no longer what batches were planned with. What an order
        takes is estimated by how well cloth was used so far.
        """
        from planner.cutting import (
            arrivals,
            changed_cloth,
            counted_down,
            learning,
            narrow_rolls,
            old_pattern,
            orders_heard,
            short_table,
        )
        from planner.orders.usage import tell_usage_by

        arrivals.listen()
        counted_down.listen()
        short_table.listen()
        changed_cloth.listen()
        narrow_rolls.listen()
        old_pattern.listen()
        orders_heard.listen()
        tell_usage_by(learning.usage_learnt)
