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


def test_comes_up_with_a_worker_and_ctrl_c_leaves_nothing_but_the_owners_key(
    run: Run, tmp_path: Path
) -> None:
    """From no data folder at all; a second start finds the same key, which was made for the owner alone.

    To be told to end by the system leaves nothing either.
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
    assert running.stop(signal.SIGINT) == 0
    assert running.workers() == []
    assert "Notchbook has stopped." in running.printed
    again = run("--port", "0").wait_until_up()
    assert key.read_text() == first
    assert len(again.workers()) == 1
    assert again.stop(signal.SIGTERM) == 0
    assert again.workers() == []


def test_the_worker_ends_when_the_server_is_killed_and_a_start_follows(run: Run) -> None:
    """That start is left by closing its terminal, which leaves nothing behind."""
    killed = run("--port", "0").wait_until_up()
    assert len(killed.workers()) == 1
    killed.process.kill()
    killed.process.wait()
    until(lambda: not killed.workers())
    again = run("--port", "0").wait_until_up()
    assert len(again.workers()) == 1
    assert again.stop(signal.SIGHUP) == 0
    assert again.workers() == []


def test_a_worker_that_dies_is_started_again_and_it_is_said(run: Run) -> None:
    running = run("--port", "0").wait_until_up()
    (first,) = running.workers()
    os.kill(first, signal.SIGKILL)
    until(lambda: "The background worker stopped by itself" in running.printed)
    until(lambda: running.workers() not in ([], [first]))
    assert running.stop() == 0
    assert running.workers() == []


def test_a_second_start_says_where_the_first_one_is_which_answers_only_to_this_machine_and_its_names(
    run: Run,
) -> None:
    running = run("--port", "0").wait_until_up()
    second = run("--port", "0")
    assert second.process.wait(PATIENCE) == 1
    assert f"already running here (process {running.process.pid}):  {running.address}/" in second.printed
    assert running.fetch("/health/")[0] == 200
    assert running.address.startswith("http://127.0.0.1:")
    assert running.fetch("/health/", host="elsewhere.example")[0] == 400


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


def test_first_entry_through_the_printed_link(run: Run) -> None:
    running = run("--port", "0").wait_until_up()
    found = re.search(r"http://\S+/entry/\S+", running.printed)
    assert found
    browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
    page = browser.open(found[0]).read().decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)
    assert token
    form = {"csrfmiddlewaretoken": token[1], "name": "Mira", "password": "seven brass thimbles"}
    typed = urllib.parse.urlencode({**form, "again": form["password"]}).encode()
    assert browser.open(found[0], typed).url == running.address + "/"
    assert running.fetch(found[0].removeprefix(running.address))[0] == 410
    assert running.stop() == 0
    later = run("--port", "0").wait_until_up()
    assert "/entry/" not in later.printed
