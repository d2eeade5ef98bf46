"""The lower layer of nesting: shapes into a strip, by the solver in a process of its own.

Works in any unit and with any turns. What comes back is what the solver says, unchecked: coordinates are
32-bit inside it, so overlaps of a millionth of the size occur. `nest.py` judges them.
"""

from __future__ import annotations

import contextlib
import json
import logging
import math
import queue
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, Any

from planner.core.lays import kept_code
from planner.core.lays.children import Child, Kept, Lines, complaints_file
from planner.core.outline import Point

log = logging.getLogger(__name__)

_CHILD = Path(__file__).with_name("child.py")
_SEARCHER = Path(__file__).with_name("searcher.py")
#: How often the caller is asked whether to stop (seconds).
_LOOK_EVERY = 0.05
#: The solver's own overrun, before the process is killed (seconds).
_SLACK = 5.0
#: Getting ready takes a process a second, on a very busy machine half a minute; more is given up (seconds).
_LONGEST_READYING = 120.0
#: Compiling our own search is given up after so long (seconds); on a busy machine it gives way and takes minutes.
_LONGEST_PREPARING = 1800.0
#: Between the lays of a batch plans are thought over, for some seconds; who waits longer gives its memory back (s).
KEPT_SECONDS = 30.0
#: Processes that wait for another strip to hunt.
_KEPT = Kept()


class SolverFailed(Exception):  # noqa: N818 - it says what happened
    """The solver gave up, could not be started or was ended from outside; the text is for a log."""


@dataclass(frozen=True, slots=True)
class Shape:
    """An outline wanted `demand` times, near its own origin, with the allowed `turns` in degrees."""

    points: tuple[Point, ...]
    demand: int
    turns: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip of fixed `height`. `separation` is kept between shapes and also from the strip's edges."""

    height: float
    separation: float
    shapes: tuple[Shape, ...]


@dataclass(frozen=True, slots=True)
class Spot:
    """Where one copy of a shape went: turned about its origin by `rotation_deg`, then moved by (dx, dy)."""

    shape: int
    rotation_deg: float
    dx: float
    dy: float


Arrangement = tuple[Spot, ...]


@dataclass(frozen=True, slots=True)
class KindLike:
    """Shapes of one kind, each as often as it is wanted, smallest first, and where those of an example lie.

    `ranks` say which size each is, from 0; `spots` are those of the example, smallest first: centre along and across
    the strip, and turn in degrees.
    """

    shapes: tuple[int, ...]
    ranks: tuple[int, ...]
    spots: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, slots=True)
class Example:
    """An arrangement of the same pieces in other sizes (`examples.py`), drawn out to the `length` that is likely."""

    length: float
    kinds: tuple[KindLike, ...]


def arrangements(
    strip: Strip,
    *,
    seconds: float,
    seed: int = 0,
    workers: int = 2,
    should_stop: Callable[[], bool] | None = None,
) -> Iterator[Arrangement]:
    """Ever better arrangements of all shapes, as the solver finds them; the last is its best.

    `seconds` is its budget (whole seconds, at least 1), counted from when its process is ready. That is killed when
    `should_stop` says so, when it overruns its budget by more than a quarter and 5 s, or when the caller closes the
    generator.
    Raises SolverFailed where it ends without saying so; what was yielded before stands.
    """
    budget = max(1, math.floor(seconds))
    question = _question(strip) | {"seconds": budget, "seed": seed, "workers": workers}
    longest = budget * 1.25 + _SLACK
    latest = time.monotonic() + _LONGEST_READYING + longest
    lines: Lines = queue.Queue()
    child = _child(_CHILD)
    try:
        child.ask(question, lines)
        while True:
            if (should_stop and should_stop()) or time.monotonic() > latest:
                return
            try:
                _, line = lines.get(timeout=_LOOK_EVERY)
            except queue.Empty:
                continue
            message = _message(line)
            if message["kind"] == "ready":
                latest = time.monotonic() + longest
            elif message["kind"] == "layout":
                yield _arrangement(message)
            elif message["kind"] == "done":
                return
            else:
                raise SolverFailed(f"{message.get('text', '')}\n{child.tail()}".strip())
    finally:
        child.end()


def hunted(
    strip: Strip,
    *,
    seconds: float,
    seed: int = 0,
    workers: int = 2,
    start: Arrangement | None = None,
    beside: Iterable[Arrangement] = (),
    examples: Sequence[Example] = (),
    should_stop: Callable[[], bool] | None = None,
) -> Iterator[Arrangement]:
    """Ever shorter arrangements that our own search finds (`hunt.py`), in `workers` processes.

    Each is told what the others find. The first begins with `start` and goes on from the shortest found anywhere, the
    others begin anew, by the `examples` where there are any. `seconds` are processor time, twice as much by the clock
    on a busy machine; that getting ready takes long there does not count. What comes `beside`, while they get ready, is
    passed on and told to them; it may be longer than `start`. `separation` must be 0 and all turns quarter turns. Ends
    and raises as :func:`arrangements`; one process that fails does not end the others.
    """
    question = _question(strip) | {
        "seconds": seconds,
        "start": _spots(start) if start else None,
        "examples": [asdict(one) for one in examples],
    }
    lines: Lines = queue.Queue()
    children: list[Child] = []
    try:
        for number in range(max(1, workers)):
            children.append(_KEPT.take(_SEARCHER) or _child(_SEARCHER))
            own = {
                "seed": seed * 1000 + number,
                "scattered": number > 0,
                "share": (number, max(1, workers)),
                "alone": number > 0 or workers < 2,
            }
            children[number].ask(question | own, lines, number)
        for arrangement in beside:
            for child in children:
                child.tell({"spots": _spots(arrangement)})
            yield arrangement
        yield from _shortest_of(children, lines, seconds * 2 + 3 * _SLACK, should_stop)
    finally:
        for child in children:
            _KEPT.leave(child)


@contextlib.contextmanager
def one_after_another(seconds: float = KEPT_SECONDS) -> Iterator[None]:
    """Within this block, processes that have hunted a strip wait so many seconds for the next: for nesting many lays in
    turn."""
    _KEPT.keep(seconds)
    try:
        yield
    finally:
        _KEPT.keep(0.0)


def prepare_search() -> None:
    """Has everything compiled that our own search calls, where it is not yet; returns when that is done (some 20 s).

    Done in a process of its own, which gives way to others, once even where several ask for it at the same time. Until
    then lays are left to the library (`kept_code.is_awaited`), and for good where it fails (`kept_code.is_given_up`);
    the next start tries again. That it took too long is no failure: on a busy machine it has no turn, so it stays
    awaited, to be tried once more later.
    """
    if kept_code.is_complete():
        return
    kept_code.try_again()
    if kept_code.is_given_up():
        log.warning("our own search cannot be compiled or kept on this computer, the library nests by itself")
        return
    try:
        done = subprocess.run(
            [sys.executable, "-P", str(_SEARCHER), "--prepare"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            encoding="utf-8",
            errors="replace",
            timeout=_LONGEST_PREPARING,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0)
            | getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0),
        )
        why = done.stderr[-500:] if done.returncode else ""
    except subprocess.TimeoutExpired:
        log.warning(
            "our own search could not be compiled yet, for the machine has much to do; the library nests meanwhile"
        )
        return
    except OSError as fault:
        why = str(fault)
    if not kept_code.is_complete():
        kept_code.give_up()
        log.warning("our own search could not be compiled, the library nests by itself: %s", why)


def _shortest_of(
    children: Sequence[Child],
    lines: Lines,
    longest: float,
    should_stop: Callable[[], bool] | None,
) -> Iterator[Arrangement]:
    """What the children find, the shortest so far each time, passed on to the others.

    They are given up when `longest` seconds have gone by since the last of them said that it is ready.
    """
    running, shortest, fault = set(range(len(children))), math.inf, ""
    latest = time.monotonic() + _LONGEST_READYING + longest
    while running and not (should_stop and should_stop()) and time.monotonic() < latest:
        try:
            number, line = lines.get(timeout=_LOOK_EVERY)
        except queue.Empty:
            continue
        message = _message(line)
        if number not in running:
            continue
        if message["kind"] == "ready":
            latest = time.monotonic() + longest
        elif message["kind"] == "done":
            running.discard(number)
            children[number].is_done = True
        elif message["kind"] != "layout":
            running.discard(number)
            fault = fault or f"{message.get('text', '')}\n{children[number].tail()}".strip()
        elif message["length"] < shortest:
            shortest = message["length"]
            for other in running - {number}:
                children[other].tell({"spots": message["spots"]})
            yield _arrangement(message)
    if not running and fault:
        raise SolverFailed(fault)


def _question(strip: Strip) -> dict[str, Any]:
    shapes = [{"points": s.points, "demand": s.demand, "turns": s.turns} for s in strip.shapes]
    return {"height": strip.height, "separation": strip.separation, "shapes": shapes}


def _spots(arrangement: Arrangement) -> list[list[float]]:
    return [[s.shape, s.rotation_deg, s.dx, s.dy] for s in arrangement]


def _arrangement(message: dict[str, Any]) -> Arrangement:
    return tuple(Spot(int(s), float(r), float(x), float(y)) for s, r, x, y in message["spots"])


def _child(program: Path) -> Child:
    """A process of its own that runs the program and has not been asked yet. Raises SolverFailed."""
    complaints = complaints_file()
    try:
        return Child(program, _start(program, complaints), complaints)
    except SolverFailed:
        complaints.close()
        raise


def _start(program: Path, complaints: IO[bytes]) -> subprocess.Popen[str]:
    """The child by its file's path: it then needs no package on its path, wherever the parent runs."""
    # -P keeps the script's folder off the child's path, so no file beside it can pass for a library.
    command = [sys.executable, "-P", str(program)]
    try:
        return subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=complaints,
            encoding="utf-8",
            # An interrupt at the terminal is the parent's affair; it ends the child in order.
            start_new_session=sys.platform != "win32",
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
    except OSError as fault:
        raise SolverFailed(f"could not start {command[0]}: {fault}") from fault


def _message(line: str) -> dict[str, Any]:
    if not line:
        return {"kind": "failed", "text": "the solver's process ended without an answer"}
    try:
        message: dict[str, Any] = json.loads(line)
    except ValueError:
        return {"kind": "failed", "text": f"not understood: {line[:200]!r}"}
    return message
