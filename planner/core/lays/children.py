"""Processes that search a strip: asked, heard, told what others found, ended; or kept for the next question.

To start a process that hunts and to load all it calls takes its processor a second and more, about as long as a small
lay is hunted for. Who nests one lay after another therefore keeps those that are done with a question, for a short
while and only where it said so (:meth:`Kept.keep`); they end with it, for then their input closes.
"""

from __future__ import annotations

import contextlib
import json
import queue
import subprocess
import tempfile
import threading
import time
from pathlib import Path
from typing import IO, Any

#: What a process said, with the number it was given; an empty text stands for its end.
Lines = queue.Queue[tuple[int, str]]

#: A process is asked no further question so long after its start (s): whatever it holds is given back now and then.
_LONGEST_KEPT = 600.0


class Child:
    """A process that answers one question after the other, and says so in lines."""

    def __init__(self, program: Path, process: subprocess.Popen[str], complaints: IO[bytes]) -> None:
        self.program, self.process, self._complaints = program, process, complaints
        self.began = time.monotonic()
        #: Whether it said that it is done with what it was asked last.
        self.is_done = False
        self._lines: Lines = queue.Queue()
        self._number = 0
        self._is_heard = False

    def ask(self, question: dict[str, Any], lines: Lines, number: int = 0) -> None:
        """Asks the question; the answer's lines are gathered there, under this number."""
        self._lines, self._number, self.is_done = lines, number, False
        # Written here, so that nothing told later can overtake it; a child reads its first line at once.
        self._write(question)
        if not self._is_heard:
            self._is_heard = True
            threading.Thread(target=self._hear, daemon=True).start()

    def tell(self, message: dict[str, Any]) -> None:
        """Tells it something; one that is gone is told nothing, its end is heard of on its own pipe."""
        self._write(message)

    def tail(self) -> str:
        """The end of what it complained of."""
        self._complaints.seek(0)
        return self._complaints.read()[-2000:].decode("utf-8", "replace")

    def end(self) -> None:
        """Ends it whatever it does and leaves no pipe open."""
        self.process.kill()
        self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout, self._complaints):
            # What was not sent yet of the question no longer matters.
            with contextlib.suppress(OSError, ValueError):
                if pipe:
                    pipe.close()

    def _write(self, message: dict[str, Any]) -> None:
        with contextlib.suppress(OSError, ValueError):
            assert self.process.stdin is not None
            self.process.stdin.write(json.dumps(message) + "\n")
            self.process.stdin.flush()

    def _hear(self) -> None:
        assert self.process.stdout is not None
        # The child may be gone or be ended meanwhile; the empty line says so.
        with contextlib.suppress(OSError, ValueError):
            for line in self.process.stdout:
                self._lines.put((self._number, line))
        self._lines.put((self._number, ""))


def complaints_file() -> IO[bytes]:
    """Where a process writes what it complains of; gone once it is closed."""
    return tempfile.TemporaryFile()


class Kept:
    """Processes that wait for another question; none is kept before somebody says for how long."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._seconds = 0.0
        #: Those that wait, with the moment since when, the longest first.
        self._waiting: list[tuple[float, Child]] = []
        self._timer: threading.Timer | None = None

    def keep(self, seconds: float) -> None:
        """From now on those that are done wait so long for another question (s); with 0 none does any more."""
        with self._lock:
            self._seconds = seconds
        if seconds <= 0:
            self._sweep()

    def take(self, program: Path) -> Child | None:
        """One that runs this program and waits; None where there is none."""
        with self._lock:
            for waiting in reversed(self._waiting):
                _, child = waiting
                if child.program == program and child.process.poll() is None:
                    self._waiting.remove(waiting)
                    return child
        return None

    def leave(self, child: Child) -> None:
        """Keeps one that is done with its question, and ends any other."""
        is_young = time.monotonic() - child.began < _LONGEST_KEPT
        with self._lock:
            seconds = self._seconds
            if stays := seconds > 0 and child.is_done and is_young and child.process.poll() is None:
                self._waiting.append((time.monotonic(), child))
                self._look_in(seconds)
        if not stays:
            child.end()

    def _look_in(self, seconds: float) -> None:
        """In so many seconds those that waited long enough end, unless somebody looks before. Call it with the lock."""
        if self._timer is None:
            self._timer = threading.Timer(seconds, self._sweep)
            self._timer.daemon = True
            self._timer.start()

    def _sweep(self) -> None:
        """Ends those that have waited long enough."""
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
                self._timer = None
            now = time.monotonic()
            over = [waiting for waiting in self._waiting if waiting[0] + self._seconds <= now]
            self._waiting = [waiting for waiting in self._waiting if waiting not in over]
            if self._waiting:
                self._look_in(self._waiting[0][0] + self._seconds - now)
        for _, child in over:
            child.end()
