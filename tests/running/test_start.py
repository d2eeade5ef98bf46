"""`manage.py start` for real: up, down, twice, on a busy port, killed."""

import os
import re
import signal
import socket
import stat
import urllib.parse
import urllib.request
from collections.abc import Callable
from http.cookiejar import CookieJar
from pathlib import Path

import pytest

from planner.running.start import _stop_on_signals
from tests.running.conftest import PATIENCE, Running, until

Run = Callable[..., Running]
pytestmark = pytest.mark.slow


def test_a_workroom_comes_up_is_entered_goes_down_and_comes_up_again_after_whatever_ended_it(
    run: Run, tmp_path: Path
) -> None:
    """Three starts, for each takes seconds: left by ctrl-C, killed outright, told to end by the system."""
    running = run("--port", "0", new=True).wait_until_up()  # from no data folder at all
    key = tmp_path / "workroom" / "secret-key"
    first_key = key.read_text()
    assert len(first_key) > 50
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert stat.S_IMODE(key.parent.stat().st_mode) == 0o700
    assert running.fetch("/health/") == (200, "ok\n")
    assert "Sign in" in running.fetch("/")[1]
    assert len(running.workers()) == 1
    link = enter(running)
    assert running.fetch(link.removeprefix(running.address))[0] == 410
    is_told_of_the_first(run("--port", "0"), running)
    assert running.stop(signal.SIGINT) == 0
    assert running.workers() == []
    assert "Notchbook has stopped." in running.printed
    # The key is the same; no link is printed any more, for somebody has come in.
    again = run("--port", "0").wait_until_up()
    assert "/entry/" not in again.printed
    assert key.read_text() == first_key
    # A worker that dies is started again, and it is said; it ends when its server is killed, and a start follows.
    (first,) = again.workers()
    os.kill(first, signal.SIGKILL)
    until(lambda: "The background worker stopped by itself" in again.printed)
    until(lambda: again.workers() not in ([], [first]))
    again.process.kill()
    again.process.wait()
    until(lambda: not again.workers())
    last = run("--port", "0").wait_until_up()
    assert len(last.workers()) == 1
    assert last.stop(signal.SIGTERM) == 0
    assert last.workers() == []


def is_told_of_the_first(second: Running, running: Running) -> None:
    """The first one goes on, and answers only to this machine and its names."""
    assert second.process.wait(PATIENCE) == 1
    assert f"already running here (process {running.process.pid}):  {running.address}/" in second.printed
    assert running.fetch("/health/")[0] == 200
    assert running.address.startswith("http://127.0.0.1:")
    assert running.fetch("/health/", host="elsewhere.example")[0] == 400


def test_every_way_to_be_told_to_end_ends_it() -> None:
    """Ctrl-C, the system and the terminal that is closed all set the same event; a start waits for nothing else."""
    numbers = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
    before = {number: signal.getsignal(number) for number in numbers}
    try:
        stop = _stop_on_signals()
        for number in numbers:
            # Otherwise the signal would end the tests.
            assert signal.getsignal(number) is not before[number], number.name
            signal.raise_signal(number)
            assert stop.is_set(), number.name
            stop.clear()
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def enter(running: Running) -> str:
    """Follows the link for the first entry as its maker would, and returns it."""
    found = re.search(r"http://\S+/entry/\S+", running.printed)
    assert found
    browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
    page = browser.open(found[0]).read().decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)
    assert token
    form = {"csrfmiddlewaretoken": token[1], "name": "Mira", "password": "seven brass thimbles"}
    typed = urllib.parse.urlencode({**form, "again": form["password"]}).encode()
    assert browser.open(found[0], typed).url == running.address + "/"
    return found[0]


def test_a_busy_port_is_named_and_another_suggested(run: Run) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        running = run("--port", str(port))
        assert running.process.wait(PATIENCE) == 1
    assert f"Port {port} is in use by another program." in running.printed
    assert "start --port " in running.printed


def test_what_is_no_port_is_told(run: Run) -> None:
    running = run("--port", "eighty")
    assert running.process.wait(PATIENCE) == 2
    assert "'eighty' is not a port" in running.printed
