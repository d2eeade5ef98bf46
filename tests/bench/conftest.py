"""What is measured takes its time: no test of this folder is taken for one that stands still."""

import faulthandler

import pytest


@pytest.fixture(autouse=True)
def however_long_it_takes() -> None:
    """The limit of `pyproject.toml` (`faulthandler_timeout`) is taken off."""
    faulthandler.cancel_dump_traceback_later()
