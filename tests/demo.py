"""The demo workroom for tests: loaded once for a day, then only its rows are put in again.

Loading reads pattern files and checks every stored marker, which takes seconds. Tests of the loading itself call
`load_demo`; those that need its result take `loaded_demo`.
"""

from __future__ import annotations

from datetime import date

from django.utils import timezone

from planner.web.demo import is_empty, load_demo, read_demo
from planner.web.demo_loader import DemoLoaded
from tests.kept_rows import Rows, kept, read_rows, write_rows


def loaded_demo(today: date | None = None) -> DemoLoaded:
    """The demo as of `today`, or as of this day, in an empty database; what was made is as `load_demo` says it."""
    today = today or timezone.localdate()

    def made() -> tuple[DemoLoaded, Rows]:
        return load_demo(read_demo(), today), read_rows()

    assert is_empty(), "the demo goes into an empty workroom"
    (loaded, rows), is_new = kept(f"the demo as of {today}", made)
    if not is_new:
        write_rows(rows)
    return loaded
