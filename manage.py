#!/usr/bin/env python3
"""Notchbook's command line. `python3 manage.py start` is all a workroom needs; see README.md."""

# Up to the version check this file stays readable for any old Python, so that it can say what is wrong.
import sys

if sys.version_info < (3, 11):  # noqa: UP036
    sys.stderr.write(
        "Notchbook needs Python 3.11 or later; this is Python %d.%d.\n"  # noqa: UP031
        "Install a newer one (https://www.python.org/downloads/), then try again, for example with\n"
        "    python3.12 manage.py start\n" % sys.version_info[:2]
    )
    sys.exit(1)

if __name__ == "__main__":
    from planner.command_line import main

    sys.exit(main(sys.argv))
