"""The program that hunts for shorter strips in a process of its own. See `hunt.py`.

Started as a script by `solver.py`. One line of JSON comes in on stdin, lines of JSON go out on stdout; further lines
in tell what others found. Once it is done another question may come, which it is sooner ready for: all it needs is
loaded, and tables it has made it makes no second time. When stdin closes, whoever asked is gone and the process ends at
once.

In:  {"height", "shapes": [{"points", "demand", "turns"}], "seconds", "seed", "scattered", "alone",
      "share": [number, of], "start": spots or null, "examples": [{"length", "kinds": [{"shapes", "ranks", "spots"}]}]},
     {"spots": [[shape, degrees, dx, dy], ...]} ...
Out: {"kind": "ready"} once all tables are made, {"kind": "layout", "length", "spots"} ..., {"kind": "done"},
     {"kind": "failed", "text"}

Started with `--prepare` it asks nothing and only compiles what a hunt calls, where that is not kept yet (some 15 s).
"""

from __future__ import annotations

import json
import os
import queue
import sys
import threading
import time
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    from planner.core.lays.solver import Arrangement, Example

#: A question, and what others found to it since it was asked.
_Asked: TypeAlias = "tuple[dict[str, Any], queue.SimpleQueue[Any]]"
#: One thread for each process: several of them run side by side. Read when numpy is loaded.
_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")

#: In the closing part of a hunt all go on from the shortest strip of them all. It takes the larger share of the time,
#: but no more than so many seconds, which is what exchanges take; and never less than the smaller share. (Measured with
#: six tops, 24 hunts of 15 s each: 0.3 % shorter than with six seconds of it.)
_LEAST_CLOSING, _MOST_CLOSING, _CLOSING_SECONDS = 0.15, 0.35, 3.5
#: The share of its time for which a hunt lays pieces by examples, and the most seconds.
_BEGINNING, _MOST_BEGINNING = 0.25, 10.0
#: A hunt of no more seconds is a short one.
_SHORT = 20.0


def main() -> int:
    """Reads the question, hunts, sends every shorter strip."""
    out = os.fdopen(os.dup(1), "w", encoding="utf-8", newline="\n")
    os.dup2(2, 1)  # Whatever a library prints goes to stderr.
    os.environ.update(dict.fromkeys(_THREADS, "1"))
    if hasattr(os, "nice"):
        os.nice(5)  # The pages of whoever waits for the marker come first.
    # Behind all libraries, so that nothing of the project passes for one of them.
    sys.path.append(str(Path(__file__).resolve().parents[3]))
    if "--prepare" in sys.argv:
        _prepare()
        return 0
    questions: queue.SimpleQueue[_Asked] = queue.SimpleQueue()
    threading.Thread(target=_listen, args=(questions,), daemon=True).start()
    begun = 0.0
    while True:
        question, heard = questions.get()
        try:
            _hunt(question, heard, out, begun)
        except Exception as fault:
            _send(out, {"kind": "failed", "text": f"{type(fault).__name__}: {fault}"})
            return 1
        begun = time.process_time()
        _send(out, {"kind": "done"})


def _prepare() -> None:
    """Compiles what is not kept yet; of several started at once the first does it, the others wait for it."""
    from planner.core.lays import kept_code

    with kept_code.one_at_a_time():
        if not kept_code.is_complete():
            from planner.core.lays.hunt import compile_all

            compile_all()


class _Clock:
    """How much of its time a hunt has spent (s), asked for when it is ready to begin.

    Time that other work takes the processor away does not count until as much again has gone by, so that a lay is
    not laid badly because the machine is busy. By the clock it is counted from now on, for on a busy machine it takes
    half a minute to get ready; of a longer hunt the processor time that took is counted as well.
    """

    def __init__(self, seconds: float, begun: float = 0.0) -> None:
        """`begun`: the processor time that questions before this one took (s)."""
        self._wall = time.monotonic()
        self._processor = time.process_time() if seconds <= _SHORT else begun

    @property
    def spent(self) -> float:
        return max(time.process_time() - self._processor, (time.monotonic() - self._wall) / 2)


def _listen(questions: queue.SimpleQueue[_Asked]) -> None:
    """Hands on each question with what is heard after it, until the next one."""
    heard: queue.SimpleQueue[Any] = queue.SimpleQueue()
    while line := sys.stdin.readline():
        told = json.loads(line)
        if "shapes" in told:
            heard = queue.SimpleQueue()
            questions.put((told, heard))
        else:
            heard.put(told["spots"])
    os._exit(3)


def _hunt(question: dict[str, Any], heard: queue.SimpleQueue[Any], out: IO[str], begun: float) -> None:
    from planner.core.lays.hunt import Hunt
    from planner.core.lays.solver import Shape, Strip

    shapes = [
        Shape(tuple((float(x), float(y)) for x, y in s["points"]), s["demand"], tuple(s["turns"]))
        for s in question["shapes"]
    ]
    start = _arrangement(question["start"]) if question["start"] else None
    strip = Strip(question["height"], 0.0, tuple(shapes))
    hunt = Hunt(
        strip,
        question["seed"],
        start,
        scattered=question["scattered"],
        alone=question["alone"],
        examples=[_example(one) for one in question["examples"]] if question["alone"] else (),
        share=(question["share"][0], question["share"][1]),
    )

    def news() -> Arrangement | None:
        return None if heard.empty() else _arrangement(heard.get())

    seconds = question["seconds"]
    clock = _Clock(seconds, begun)
    _send(out, {"kind": "ready"})
    for length, found in hunt.run(
        news,
        over=lambda: clock.spent > seconds,
        closing=lambda: clock.spent > seconds - _closing_seconds(seconds),
        beginning=lambda: clock.spent < min(_BEGINNING * seconds, _MOST_BEGINNING),
    ):
        spots = [[s.shape, s.rotation_deg, s.dx, s.dy] for s in found]
        _send(out, {"kind": "layout", "length": length, "spots": spots})


def _closing_seconds(seconds: float) -> float:
    return max(_LEAST_CLOSING * seconds, min(_MOST_CLOSING * seconds, _CLOSING_SECONDS))


def _arrangement(spots: list[list[float]]) -> Arrangement:
    from planner.core.lays.solver import Spot

    return tuple(Spot(int(s), float(r), float(x), float(y)) for s, r, x, y in spots)


def _example(data: dict[str, Any]) -> Example:
    from planner.core.lays.solver import Example, KindLike

    kinds = tuple(
        KindLike(tuple(k["shapes"]), tuple(k["ranks"]), tuple((x, y, turn) for x, y, turn in k["spots"]))
        for k in data["kinds"]
    )
    return Example(data["length"], kinds)


def _send(out: IO[str], message: dict[str, Any]) -> None:
    out.write(json.dumps(message) + "\n")
    out.flush()


if __name__ == "__main__":
    code = main()
    sys.stdout.flush()
    os._exit(code)
