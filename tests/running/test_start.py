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

from tests.running.conftest import PATIENCE, Running, until

Run = Callable[..., Running]
pytestmark = pytest.mark.slow


def test_comes_up_is_entered_by_the_printed_link_and_ctrl_c_leaves_nothing_but_the_owners_key(
    run: Run, tmp_path: Path
) -> None:
    """From no data folder at all; a second start finds the same key, which was made for the owner alone.

    It prints no link any more, for somebody has come in. To be told to end by the system leaves nothing either.
    """
    running = run("--port", "0", new=True).wait_until_up()
    key = tmp_path / "workroom" / "secret-key"
    first = key.read_text()
    assert len(first) > 50
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert stat.S_IMODE(key.parent.stat().st_mode) == 0o700
    assert running.fetch("/health/") == (200, "ok\n")
    assert "Sign in" in running.fetch("/")[1]
    assert len(running.workers()) == 1
    link = enter(running)
    assert running.fetch(link.removeprefix(running.address))[0] == 410
    assert running.stop(signal.SIGINT) == 0
    assert running.workers() == []
    assert "Notchbook has stopped." in running.printed
    again = run("--port", "0").wait_until_up()
    assert "/entry/" not in again.printed
    assert key.read_text() == first
    assert len(again.workers()) == 1
    assert again.stop(signal.SIGTERM) == 0
    assert again.workers() == []


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


def test_a_second_start_is_told_of_the_first_and_a_worker_ends_with_its_server_and_is_started_again_alone(
    run: Run,
) -> None:
    """All of two starts, for each takes seconds. The last is left by closing its terminal, which leaves nothing."""
    running = run("--port", "0").wait_until_up()
    second = run("--port", "0")
    assert second.process.wait(PATIENCE) == 1
    assert f"already running here (process {running.process.pid}):  {running.address}/" in second.printed
    # The first one goes on, and answers only to this machine and its names.
    assert running.fetch("/health/")[0] == 200
    assert running.address.startswith("http://127.0.0.1:")
    assert running.fetch("/health/", host="elsewhere.example")[0] == 400
    # The worker ends when its server is killed, and a start follows.
    assert len(running.workers()) == 1
    running.process.kill()
    running.process.wait()
    until(lambda: not running.workers())
    again = run("--port", "0").wait_until_up()
    # A worker that dies is started again, and it is said.
    (first,) = again.workers()
    os.kill(first, signal.SIGKILL)
    until(lambda: "The background worker stopped by itself" in again.printed)
    until(lambda: again.workers() not in ([], [first]))
    assert again.stop(signal.SIGHUP) == 0
    assert again.workers() == []


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
