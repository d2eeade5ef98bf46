"""The program that runs in a process of its own and packs outlines into a strip.

Started as a script by `solver.py`, never imported by it: the solver library may panic, cannot be stopped in
a thread, and holds memory. One line of JSON comes in on stdin, lines of JSON go out on stdout. When stdin
closes, whoever asked is gone and the process ends at once.

In:  {"height", "separation", "seconds", "seed", "workers", "shapes": [{"points", "demand", "turns"}]}
Out: {"kind": "ready"} once it begins, {"kind": "layout", "spots": [[shape, degrees, dx, dy], ...]}, {"kind": "done"},
     {"kind": "failed", "text"}
"""

from __future__ import annotations

import json
import os
import sys
import threading
from typing import IO, Any

#: How often the latest arrangement is sent on (seconds).
SEND_EVERY = 0.1


def main() -> int:
    """Reads the question, solves it, sends arrangements while they come."""
    out = _own_stdout()
    question = json.loads(sys.stdin.readline())
    threading.Thread(target=_end_with_asker, daemon=True).start()
    if hasattr(os, "nice"):
        os.nice(5)  # The pages of whoever waits for the marker come first.
    try:
        _solve(question, out)
    # A panic of the library is a BaseException, so `except Exception` would miss it.
    except BaseException as fault:
        _send(out, {"kind": "failed", "text": f"{type(fault).__name__}: {fault}"})
        return 1
    _send(out, {"kind": "done"})
    return 0


def _own_stdout() -> IO[str]:
    """Keeps stdout for the answers; whatever a library prints there goes to stderr instead."""
    out = os.fdopen(os.dup(1), "w", encoding="utf-8", newline="\n")
    os.dup2(2, 1)
    return out


def _end_with_asker() -> None:
    while sys.stdin.readline():
        pass
    os._exit(3)


def _send(out: IO[str], message: dict[str, Any]) -> None:
    out.write(json.dumps(message) + "\n")
    out.flush()


def _solve(question: dict[str, Any], out: IO[str]) -> None:
    import spyrrow

    items = [
        spyrrow.Item(str(n), [(float(x), float(y)) for x, y in s["points"]], s["demand"], s["turns"])
        for n, s in enumerate(question["shapes"])
    ]
    config = spyrrow.StripPackingConfig(
        min_items_separation=question["separation"] or None,
        total_computation_time=question["seconds"],
        num_workers=question["workers"],
        seed=question["seed"],
    )
    instance = spyrrow.StripPackingInstance("", question["height"], items)
    reports = spyrrow.ProgressQueue()
    ended: list[Any] = []

    def work() -> None:
        try:
            ended.append(instance.solve(config, reports))
        except BaseException as fault:
            ended.append(fault)

    _send(out, {"kind": "ready"})
    worker = threading.Thread(target=work, daemon=True)
    worker.start()
    usable = (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas)
    while worker.is_alive():
        worker.join(SEND_EVERY)
        layouts = [solution for kind, solution in reports.drain() if kind in usable]
        if layouts:
            _send_layout(out, layouts[-1])
    if isinstance(ended[0], BaseException):
        raise ended[0]
    _send_layout(out, ended[0])


def _send_layout(out: IO[str], solution: Any) -> None:
    spots = [[int(p.id), p.rotation, p.translation[0], p.translation[1]] for p in solution.placed_items]
    _send(out, {"kind": "layout", "spots": spots})


if __name__ == "__main__":
    code = main()
    sys.stdout.flush()
    # Not sys.exit: a thread still inside the library must not keep the process alive.
    os._exit(code)
