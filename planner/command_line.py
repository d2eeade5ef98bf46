"""What `manage.py` does with its words: sets up, then starts, tests or hands over to Django's commands."""

import os
import sys
from collections.abc import Sequence

from planner import bootstrap
from planner.settings import LOCAL, data_folder, settings_module, why_unwritable

#: Work with the workroom's data, also before its first start: the database is made ready for them.
WORKROOM_COMMANDS = {"plan", "entry-link"}


def main(argv: Sequence[str]) -> int:
    """Runs one command; returns its exit status. `argv` as in `sys.argv`."""
    command = argv[1] if len(argv) > 1 else "help"
    try:
        bootstrap.enter(argv, with_tests=command == "test")
    except bootstrap.SetUpError as error:
        sys.stderr.write(f"\n{error}\n")
        return 1
    except KeyboardInterrupt:
        sys.stderr.write("\nStopped before everything was set up. The next start takes it up again.\n")
        return 130
    if command == "test":
        return run_tests(argv[2:])
    if "--demo" in argv:
        os.environ.setdefault("NOTCHBOOK_DEMO", "1")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", settings_module())
    if os.environ["DJANGO_SETTINGS_MODULE"] == LOCAL and (fault := why_unwritable(data_folder())):
        sys.stderr.write(
            f"The data folder {data_folder()} cannot be written to ({fault}).\n"
            "Name one of your own with the environment variable NOTCHBOOK_DATA, then try again.\n"
        )
        return 1
    if command == "start":
        from planner.running.start import start

        return start(argv[2:])
    from django.core.management import execute_from_command_line

    if command in WORKROOM_COMMANDS:
        import django

        from planner.running.prepare import prepare_database

        django.setup()
        prepare_database(demo="--demo" in argv)
    # Commands are typed with hyphens (read-pattern) and live in modules with underscores.
    execute_from_command_line(
        [argv[0], command.replace("-", "_") if command[0] != "-" else command, *argv[2:]]
    )
    return 0


def run_tests(arguments: Sequence[str]) -> int:
    """The test suite; `arguments` go to pytest. The whole of it is spread over at most four processors.

    There is one process more than processors, because many tests wait for a browser or for a process of their own.
    """
    import pytest

    os.chdir(bootstrap.ROOT)
    processes = min(os.cpu_count() or 1, 4) + 1
    return int(pytest.main(list(arguments) or ["-n", str(processes), "--dist", "worksteal"]))
