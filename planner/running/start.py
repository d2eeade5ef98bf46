"""`manage.py start`: the whole workroom comes up with one command and goes down with ctrl-C."""

import argparse
import contextlib
import logging
import os
import signal
import socket
import sys
import threading
import traceback
import webbrowser
from collections.abc import Sequence

from planner.running.lock import FileLock
from planner.running.network import (
    DEMO_PORT,
    EVERY_NETWORK,
    OWN_PORT,
    THIS_MACHINE,
    PortError,
    lan_address,
    listen,
)
from planner.running.serving import Server, others_end
from planner.running.worker import WorkerProcess
from planner.settings import data_folder

log = logging.getLogger(__name__)

STOPPING_SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
#: When all is stopped, threads may go on for so long (s); reckoning a plan is seldom longer.
THREADS_GRACE = 2.0
#: The worker and the server are looked at so often (s).
LOOK_EVERY = 0.3


def start(arguments: Sequence[str]) -> int:
    """Runs until it is stopped; returns the exit status. Expects NOTCHBOOK_DEMO to be set for the demo."""
    options = _parse(arguments)
    if os.environ.get("DATABASE_URL"):
        say("DATABASE_URL is set, so this workroom is hosted and its parts are started one by one:")
        say("see DEVELOPERS.md, “Hosted”. Unset it to run on this machine alone.")
        return 1
    stop = _stop_on_signals()
    data_folder().mkdir(mode=0o700, parents=True, exist_ok=True)
    lock = FileLock(data_folder() / "running.lock")
    if not lock.take():
        return _already_running(lock, options)
    try:
        listener = listen(EVERY_NETWORK if options.lan else THIS_MACHINE, options.port)
    except PortError as error:
        say(str(error))
        lock.release()
        return 1
    port = listener.getsockname()[1]
    address = f"http://{THIS_MACHINE}:{port}"
    lock.write_note({"pid": os.getpid(), "address": address})
    status = 1
    try:
        status = _run(listener, address, options, stop)
    finally:
        listener.close()
        lock.release()
        say("Notchbook has stopped.")
        _end_threads(status)
    return status


def _end_threads(status: int) -> None:
    """Waits for threads to end. Where one is still at work this process is ended without clearing up under it."""
    if others_end(THREADS_GRACE):
        return
    if sys.exc_info()[0] is not None:
        traceback.print_exc()
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):
            stream.flush()
    os._exit(status)


def say(text: str) -> None:
    """To the terminal; not being able to (it was closed) must not keep anything from being shut down."""
    with contextlib.suppress(OSError, ValueError):
        sys.stdout.write(text + "\n")
        sys.stdout.flush()


def _parse(arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="manage.py start", description="Starts Notchbook.")
    parser.add_argument("--demo", action="store_true", help="open the invented demo workroom, kept apart")
    parser.add_argument("--port", type=_port, help=f"another port than {OWN_PORT} (demo: {DEMO_PORT})")
    parser.add_argument(
        "--lan",
        action="store_true",
        help="let phones and computers in the same network in; scanning tickets with a phone needs it",
    )
    parser.add_argument("--no-browser", action="store_true", help="do not open the browser")
    options = parser.parse_args(arguments)
    if options.port is None:
        options.port = DEMO_PORT if options.demo else OWN_PORT
    return options


def _port(text: str) -> int:
    if not text.isdecimal() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is not a port; give a number from 1024 to 65535")
    return int(text)


def _stop_on_signals() -> threading.Event:
    stop = threading.Event()
    for name in STOPPING_SIGNALS:
        number = getattr(signal, name, None)
        if number is not None:
            signal.signal(number, lambda *_: stop.set())
    return stop


def _already_running(lock: FileLock, options: argparse.Namespace) -> int:
    note = lock.read_note()
    address = note.get("address", "")
    say(f"Notchbook is already running here (process {note.get('pid', 'unknown')}):  {address}/")
    say("Open that address, or stop the other one first (ctrl-C in its window).")
    if address:
        _open_browser(address + "/", options)
    return 1


def _run(listener: socket.socket, address: str, options: argparse.Namespace, stop: threading.Event) -> int:
    lan = f"http://{host}:{listener.getsockname()[1]}" if options.lan and (host := lan_address()) else None
    _tell_settings(address, lan, options)

    import django

    django.setup()
    from django.utils import timezone

    from planner.running.patience import try_patiently
    from planner.running.prepare import prepare_database, take_up_again, tidy_up
    from planner.running.warm import warm_up_beside

    now = timezone.now()
    prepare_database(demo=options.demo)
    try_patiently(lambda: take_up_again(after_crash=False), stop)
    worker = WorkerProcess(data_folder())
    if not stop.is_set():
        worker.start()
    server = None
    try:
        server = Server(listener)
        warm_up_beside()
        _greet(address, lan, options)
        try_patiently(lambda: tidy_up(now=now), stop)
        return _watch(server, worker, stop)
    finally:
        say("\nStopping …")
        worker.stop()
        if server is not None:
            server.stop()


def _tell_settings(address: str, lan: str | None, options: argparse.Namespace) -> None:
    """Puts into the environment what the settings read, for this process and for the worker."""
    os.environ.setdefault("NOTCHBOOK_BASE_URL", lan or address)
    if options.lan:
        hosts = [os.environ.get("NOTCHBOOK_HOSTS", ""), socket.gethostname(), f"{socket.gethostname()}.local"]
        if lan:
            hosts.append(lan.removeprefix("http://").rsplit(":", 1)[0])
        os.environ["NOTCHBOOK_HOSTS"] = ",".join(host for host in hosts if host)
    os.environ["NOTCHBOOK_LOG"] = "server"


def _greet(address: str, lan: str | None, options: argparse.Namespace) -> None:
    from planner.web.links import first_entry_path

    first = first_entry_path()
    say(f"Notchbook{' (demo workroom)' if options.demo else ''} is running:  {address}/")
    if first:
        say("Nobody has come in yet. This link makes you the maker; it works once, within 24 hours:")
        say(f"    {address}{first}")
    if options.lan:
        say(f"From phones and computers in the same network:  {lan}/" if lan else "No network found.")
        say("Everybody in that network can reach the sign-in page, and what is sent is not encrypted:")
        say("use --lan only in a network you trust.")
    say("Stop it with ctrl-C.")
    _open_browser(address + (first or "/"), options)


def _open_browser(address: str, options: argparse.Namespace) -> None:
    has_screen = sys.platform in ("win32", "darwin") or any(
        os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY")
    )
    if has_screen and not options.no_browser:
        # Some browsers keep their caller waiting.
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()


def _watch(server: Server, worker: WorkerProcess, stop: threading.Event) -> int:
    """Until it is stopped: starts the worker again when it ended by itself. Nothing it meets there ends the server."""
    while not stop.wait(LOOK_EVERY):
        if not server.is_alive():
            say("The server stopped by itself. The file server.log in the data folder may tell why.")
            return 1
        delay = worker.crashed()
        if delay is not None:
            say(
                f"The background worker stopped by itself (status {worker.exit_status()}). It starts again in"
                f" {delay:.0f} s; worker.log and worker-output.log in the data folder may tell why."
            )
        elif worker.due_again():
            _start_again(worker)
    return 0


def _start_again(worker: WorkerProcess) -> None:
    """Starts the worker once what it was cut off from is back in the queue, or tries so later."""
    from django.db import Error, connection

    from planner.running.prepare import take_up_again

    try:
        take_up_again(after_crash=True)
        worker.start()
    except (Error, OSError):
        # The database may be locked for long by one that writes much, the machine out of memory for a while.
        log.exception("the background worker could not be started again")
        delay = worker.put_off()
        connection.close()
        say(
            f"The background worker could not be started again yet; this is tried once more in {delay:.0f} s."
            " The pages can be used meanwhile; server.log in the data folder tells why."
        )
