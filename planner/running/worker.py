"""The background worker as a child of the server: started, watched, started again, and never left alone.

The child reads its standard input, which is a pipe from the parent. When the parent ends, in whatever way,
the pipe closes and the child ends too.
"""

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

from planner.bootstrap import ROOT

#: How long a task may go on when the worker is told to stop (seconds). What is cut off is taken up later.
GRACE = 3.0
#: A worker that crashed is started again after so long, each further time after twice that, up to the longest (s).
FIRST_DELAY, LONGEST_DELAY = 2.0, 60.0


class WorkerProcess:
    """Keeps one background worker going. `folder` takes what it prints when it crashes."""

    def __init__(self, folder: Path) -> None:
        self._output = folder / "worker-output.log"
        self._process: subprocess.Popen[bytes] | None = None
        self._started_at = 0.0
        self._crashes = 0
        self._due_at: float | None = None

    def start(self) -> None:
        """Starts the worker in a process group of its own, so that ctrl-C reaches the server alone."""
        with self._output.open("ab" if self._crashes else "wb") as output:
            self._process = subprocess.Popen(
                [sys.executable, str(ROOT / "manage.py"), "worker", "--with-parent"],
                stdin=subprocess.PIPE,
                stdout=output,
                stderr=output,
                env={**os.environ, "NOTCHBOOK_LOG": "worker"},
                start_new_session=sys.platform != "win32",
                creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),  # Windows only
            )
        self._started_at = time.monotonic()
        self._due_at = None

    def crashed(self) -> float | None:
        """Seconds until the next start, told once for each crash; None while all is well or already told."""
        if self._process is None or self._process.poll() is None or self._due_at is not None:
            return None
        self._sweep()
        lived = time.monotonic() - self._started_at
        self._crashes = 0 if lived > LONGEST_DELAY else self._crashes
        return self.put_off()

    def put_off(self) -> float:
        """Seconds until the next start, twice as long each time: it crashed, or could not be started."""
        self._crashes += 1
        delay = min(FIRST_DELAY * 2.0 ** (self._crashes - 1), LONGEST_DELAY)
        self._due_at = time.monotonic() + delay
        return delay

    def due_again(self) -> bool:
        """True when the wait after a crash is over."""
        return self._due_at is not None and time.monotonic() >= self._due_at

    def exit_status(self) -> int | None:
        """How the worker ended; None while it runs."""
        return None if self._process is None else self._process.poll()

    def stop(self) -> None:
        """Ends the worker and whatever it started; returns when nothing is left."""
        if self._process is None:
            return
        if self._process.stdin is not None:
            with contextlib.suppress(OSError):
                self._process.stdin.close()
        try:
            self._process.wait(GRACE + 1.0)
        except subprocess.TimeoutExpired:
            self._process.kill()
        self._sweep()
        self._process.wait()

    def _sweep(self) -> None:
        """Ends what the worker may have left in its process group."""
        assert self._process is not None
        if sys.platform != "win32":
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(self._process.pid, signal.SIGKILL)


def end_with_parent() -> None:
    """In the worker: ends this process, and its group, when the pipe on standard input closes."""
    # The raw descriptor, not sys.stdin: a thread that blocks inside sys.stdin holds its lock at exit.
    threading.Thread(target=_wait_for_end, args=(0,), name="end-with-parent", daemon=True).start()


def _wait_for_end(descriptor: int) -> None:
    while True:
        try:
            if not os.read(descriptor, 1024):
                break
        except OSError:
            break
    # First politely, and once only: an idle worker ends at once, a busy one gets to finish a short task.
    if sys.platform == "win32":
        signal.raise_signal(signal.SIGTERM)  # os.kill would end the process on the spot there.
    else:
        os.kill(os.getpid(), signal.SIGTERM)
    time.sleep(GRACE)
    if sys.platform != "win32" and os.getpgrp() == os.getpid():
        os.killpg(os.getpid(), signal.SIGKILL)
    os._exit(1)
