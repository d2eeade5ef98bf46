"""HiGHS, the solver of integer programmes: one call, silent, stopped in time, absent without harm."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

INFINITY = math.inf

#: HiGHS looks at its clock between steps of its work; so much is held back.
MARGIN_SECONDS = 0.05


class NoSolver(Exception):  # noqa: N818 - it says what happened
    """HiGHS is not installed or failed; plans are then made without it."""


@dataclass(slots=True)
class Programme:
    """Minimise cost · x with row bounds and variable bounds, all variables whole numbers. Built row by row."""

    cost: list[float] = field(default_factory=list)
    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    row_lower: list[float] = field(default_factory=list)
    row_upper: list[float] = field(default_factory=list)
    starts: list[int] = field(default_factory=lambda: [0])
    index: list[int] = field(default_factory=list)
    value: list[float] = field(default_factory=list)

    def variable(self, cost: float, lower: float, upper: float) -> int:
        """A new variable; returns its number."""
        self.cost.append(cost)
        self.lower.append(lower)
        self.upper.append(upper)
        return len(self.cost) - 1

    def row(self, terms: Sequence[tuple[int, float]], lower: float, upper: float) -> None:
        """A new row: lower ≤ Σ factor · variable ≤ upper."""
        for i, factor in terms:
            self.index.append(i)
            self.value.append(factor)
        self.starts.append(len(self.index))
        self.row_lower.append(lower)
        self.row_upper.append(upper)


@dataclass(frozen=True, slots=True)
class Solved:
    """What came out: values (None where no solution is known), bound, and whether it is proven."""

    values: tuple[int, ...] | None
    bound: float
    is_optimal: bool
    is_infeasible: bool


@lru_cache(maxsize=1)
def _library() -> Any:
    """The highspy module with a silent solver class beside it; raises NoSolver."""
    try:
        import highspy
    except ImportError as error:
        raise NoSolver(str(error)) from error

    class Quiet(highspy.Highs):
        """Prints nothing: its base class greets on standard output as soon as it sets up callbacks."""

        def enableCallbacks(self) -> None:  # noqa: N802 - the library's name
            self.setOptionValue("output_flag", False)
            super().enableCallbacks()  # type: ignore[no-untyped-call]

    return highspy, Quiet


def is_there() -> bool:
    """Whether the solver can be used at all."""
    try:
        _library()
    except NoSolver:
        return False
    return True


def solve(
    programme: Programme,
    *,
    deadline: float,
    should_stop: Callable[[], bool] | None = None,
    start: Sequence[float] | None = None,
    cutoff: float | None = None,
) -> Solved:
    """Solves until `deadline` (time.monotonic) or until `should_stop` says so.

    `start`: a solution known. `cutoff`: solutions not better than this need not be looked for (the bound then is
    not above it). Raises NoSolver where the solver is missing or fails.
    """
    highspy, quiet = _library()
    seconds = deadline - time.monotonic() - MARGIN_SECONDS
    if seconds <= 0:
        return Solved(None, -INFINITY, is_optimal=False, is_infeasible=False)
    try:
        highs = quiet()
        _set_options(highs, seconds, cutoff)
        highs.passModel(_model(highspy, programme))
        if start is not None:
            solution = highspy.HighsSolution()
            solution.col_value = list(start)
            highs.setSolution(solution)
        _stop_in_time(highs, deadline, should_stop)
        highs.run()
        return _read(highspy, highs)
    except NoSolver:
        raise
    except Exception as error:  # anything the library throws means the same here
        raise NoSolver(f"{type(error).__name__}: {error}") from error


def _set_options(highs: Any, seconds: float, cutoff: float | None) -> None:
    # Presolve probes for minutes on some of these programmes without a look at the clock, and gains little.
    for name, value in (
        ("time_limit", seconds),
        ("threads", 1),
        ("random_seed", 1),
        ("mip_rel_gap", 0.0),
        ("mip_abs_gap", 1e-6),
        ("mip_feasibility_tolerance", 1e-7),
        ("presolve", "off"),
    ):
        highs.setOptionValue(name, value)
    if cutoff is not None:
        highs.setOptionValue("objective_bound", cutoff)


def _model(highspy: Any, p: Programme) -> Any:
    import numpy as np

    lp = highspy.HighsLp()
    lp.num_col_ = len(p.cost)
    lp.num_row_ = len(p.row_lower)
    lp.col_cost_ = np.array(p.cost, dtype=float)
    lp.col_lower_ = np.array(p.lower, dtype=float)
    lp.col_upper_ = np.array(p.upper, dtype=float)
    lp.row_lower_ = np.array(p.row_lower, dtype=float)
    lp.row_upper_ = np.array(p.row_upper, dtype=float)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.array(p.starts, dtype=np.int32)
    lp.a_matrix_.index_ = np.array(p.index, dtype=np.int32)
    lp.a_matrix_.value_ = np.array(p.value, dtype=float)
    lp.integrality_ = [highspy.HighsVarType.kInteger] * lp.num_col_
    return lp


def _stop_in_time(highs: Any, deadline: float, should_stop: Callable[[], bool] | None) -> None:
    def look(event: Any) -> None:
        if time.monotonic() >= deadline or (should_stop is not None and should_stop()):
            event.interrupt()

    highs.cbMipInterrupt.subscribe(look)
    highs.cbSimplexInterrupt.subscribe(look)
    highs.cbIpmInterrupt.subscribe(look)


def _read(highspy: Any, highs: Any) -> Solved:
    status = highs.getModelStatus()
    states = highspy.HighsModelStatus
    if status in (states.kInfeasible, states.kUnboundedOrInfeasible):
        return Solved(None, INFINITY, is_optimal=False, is_infeasible=True)
    known = {
        states.kOptimal,
        states.kTimeLimit,
        states.kInterrupt,
        states.kObjectiveBound,
        states.kSolutionLimit,
    }
    if status not in known:
        raise NoSolver(str(status))
    info = highs.getInfo()
    has_solution = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    values = tuple(round(x) for x in highs.getSolution().col_value) if has_solution else None
    bound = info.mip_dual_bound
    return Solved(
        values,
        bound if math.isfinite(bound) else -INFINITY,
        is_optimal=status == states.kOptimal and values is not None,
        is_infeasible=False,
    )


def relax(cost: Any, rows: Any, lower: Any, upper: Any, *, deadline: float) -> Any:
    """Prices of the rows in: least cost · x, x ≥ 0, lower ≤ rowsᵀ x ≤ upper (`rows[i]` the factors of x[i]).

    None where no x meets the rows. Raises NoSolver where the solver is missing, fails or runs out of time.
    """
    import numpy as np

    highspy, quiet = _library()
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = rows.shape
    lp.col_cost_ = np.asarray(cost, dtype=float)
    lp.col_lower_ = np.zeros(lp.num_col_)
    lp.col_upper_ = np.full(lp.num_col_, np.inf)
    lp.row_lower_, lp.row_upper_ = lower, upper
    where, what = np.nonzero(rows)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_ = np.searchsorted(where, np.arange(lp.num_col_ + 1)).astype(np.int32)
    lp.a_matrix_.index_ = what.astype(np.int32)
    lp.a_matrix_.value_ = rows[where, what].astype(float)
    try:
        highs = quiet()
        _set_options(highs, max(0.01, deadline - time.monotonic() - MARGIN_SECONDS), None)
        highs.passModel(lp)
        highs.run()
        status = highs.getModelStatus()
        if status == highspy.HighsModelStatus.kOptimal:
            return np.array(highs.getSolution().row_dual)
        if status in (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible):
            return None
    except Exception as error:  # anything the library throws means the same here
        raise NoSolver(f"{type(error).__name__}: {error}") from error
    raise NoSolver(str(status))
