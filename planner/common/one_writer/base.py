"""PostgreSQL with one writing transaction at a time, as in a workroom on one machine.

There SQLite's immediate transactions queue up, so an action finds nothing half done and nobody writes between its
looking and its writing. PostgreSQL by itself lets transactions run side by side, and one that has looked learns of
another's rows only by failing. Here they queue up too: what holds on one machine holds in a hosted workroom. Nothing is
lost by it, for what takes long is reckoned before a transaction begins. Reading outside of one waits for nobody.
"""

from __future__ import annotations

from typing import Any

from django.db.backends.postgresql import base

#: What transactions queue up for: any number that nobody else in this database has such a lock on.
KEY = 8_470_470
#: As long as SQLite waits (`planner/settings/sqlite.py`); then OperationalError, which those who can wait longer await.
PATIENCE = "20s"
#: Ends with the transaction, whatever becomes of it, and holds where connections are pooled by transactions.
_QUEUE_UP = "SELECT set_config('lock_timeout', %s, true), pg_advisory_xact_lock(%s)"


class DatabaseWrapper(base.DatabaseWrapper):
    """Every outermost `atomic` waits for its turn before it does anything."""

    def set_autocommit(self, autocommit: bool, *args: Any, **options: Any) -> None:  # noqa: FBT001 (as Django has it)
        """Begins a transaction when its turn has come; raises OperationalError where that takes too long."""
        super().set_autocommit(autocommit, *args, **options)
        if autocommit:
            return
        try:
            with self.wrap_database_errors, self.connection.cursor() as cursor:
                cursor.execute(_QUEUE_UP, [PATIENCE, KEY])
        except BaseException:
            # Nothing has begun: the connection is as it was before, to be tried again or closed.
            self.close()
            raise
