"""HiGHS, the solver of whole-number programmes: silent, stopped in time, absent without harm.

A :class:`Programme` is built column by column and row by row and handed to :func:`solve`; :class:`Ways` says how it is
to be solved. :func:`relax` answers the prices of a linear programme.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from operator import mul
from typing import Any

#: HiGHS looks at its clock only between steps of its work, so it is given this much less time than there is (s).
MARGIN_SECONDS = 0.05


class NoSolver(Exception):  # noqa: N818 - it says what happened
    """HiGHS is not installed or failed; what was asked is then answered without it."""


@dataclass(slots=True)
class Programme:
    """Minimise cost; every column is a whole number unless it says otherwise."""

    cost: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    row_low: list[float] = field(default_factory=list)
    row_high: list[float] = field(default_factory=list)
    starts: list[int] = field(default_factory=lambda: [0])
    index: list[int] = field(default_factory=list)
    value: list[float] = field(default_factory=list)

    def column(self, cost: float, high: float, *, low: float = 0.0, whole: bool = True) -> int:
        """A new column; answers its number."""
        self.cost.append(cost)
        self.low.append(low)
        self.high.append(high)
        self.whole.append(whole)
        return len(self.cost) - 1

    def row(
        self, terms: Iterable[tuple[int, float]], *, low: float = -math.inf, high: float = math.inf
    ) -> None:
        """low ≤ Σ factor × column ≤ high; each column at most once."""
        for column, factor in terms:
            if factor:
                self.index.append(column)
                self.value.append(factor)
        self.starts.append(len(self.index))
        self.row_low.append(low)
        self.row_high.append(high)


@dataclass(frozen=True, slots=True)
class Ways:
    """How a programme is solved. Without `presolve` it begins at once, which pays for thousands of columns.

    `absolute_gap`: solutions that much worse than the bound count as optimal. At a solution of at most `good_enough`
    it ends. `feasibility`: by so much a row may be missed; None is HiGHS's own. `symmetry`: looks for columns that may
    be exchanged.
    """

    absolute_gap: float = 1e-6
    presolve: bool = False
    feasibility: float | None = 1e-7
    good_enough: float | None = None
    symmetry: bool = True


PLAIN = Ways()


@dataclass(frozen=True, slots=True)
class Solved:
    """`values` by column, None where nothing was found in time; no solution is below `bound`."""

    values: tuple[float, ...] | None
    bound: float
    is_optimal: bool
    is_infeasible: bool = False


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
    start: Mapping[int, float] | None = None,
    ways: Ways = PLAIN,
) -> Solved:
    """The best until `deadline` (time.monotonic) or until `should_stop` says so.

    `start` is a solution to begin with; columns not named are 0. Raises NoSolver where the solver is missing or fails.
    """
    found = _solved(programme, deadline, should_stop, start, ways)
    if not _contradicts_itself(found, programme, ways):
        return found
    # Given a start, HiGHS 1.16 may call it optimal after presolve and tell a bound below it. Neither is to be trusted.
    found = _solved(programme, deadline, should_stop, None, ways)
    if not _contradicts_itself(found, programme, ways):
        return found
    return Solved(found.values, -math.inf, is_optimal=False)


def _solved(
    programme: Programme,
    deadline: float,
    should_stop: Callable[[], bool] | None,
    start: Mapping[int, float] | None,
    ways: Ways,
) -> Solved:
    """One answer of HiGHS, as it is. Raises NoSolver."""
    highspy = _library()
    seconds = deadline - time.monotonic() - MARGIN_SECONDS
    if seconds <= 0:
        return Solved(None, -math.inf, is_optimal=False)
    try:
        highs = _quiet(highspy)()
        _set_options(highs, seconds, ways)
        if highs.passModel(_model(highspy, programme)) == highspy.HighsStatus.kError:
            raise NoSolver("HiGHS refuses the programme")
        if start is not None:
            solution = highspy.HighsSolution()
            solution.col_value = [start.get(column, 0.0) for column in range(len(programme.cost))]
            highs.setSolution(solution)
        _stop_in_time(highs, deadline, should_stop)
        highs.run()
        return _read(highspy, highs)
    except NoSolver:
        raise
    except Exception as error:  # anything the library throws means the same here
        raise NoSolver(f"{type(error).__name__}: {error}") from error


def _contradicts_itself(found: Solved, programme: Programme, ways: Ways) -> bool:
    """Whether a solution is said to be optimal that costs more than the bound, by more than the gap allowed."""
    if not found.is_optimal or found.values is None or not math.isfinite(found.bound):
        return False
    cost: float = sum(map(mul, programme.cost, found.values))
    return cost > found.bound + ways.absolute_gap + 1e-6 * max(1.0, abs(cost))


def relax(cost: Any, rows: Any, lower: Any, upper: Any, *, deadline: float) -> Any:
    """Prices of the rows in: least cost · x, x ≥ 0, lower ≤ rowsᵀ x ≤ upper (`rows[i]` the factors of x[i]).

    None where no x meets the rows. Raises NoSolver where the solver is missing, fails or runs out of time.
    """
    import numpy as np

    highspy = _library()
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
        highs = _quiet(highspy)()
        _set_options(highs, max(0.01, deadline - time.monotonic() - MARGIN_SECONDS), PLAIN)
        highs.passModel(lp)
        highs.run()
        status = highs.getModelStatus()
        if status == highspy.HighsModelStatus.kOptimal:
            return np.array(highs.getSolution().row_dual)
        if status in _infeasible(highspy):
            return None
    except Exception as error:  # anything the library throws means the same here
        raise NoSolver(f"{type(error).__name__}: {error}") from error
    raise NoSolver(str(status))


def _library() -> Any:
    """The highspy module; raises NoSolver."""
    try:
        import highspy
    except ImportError as error:
        raise NoSolver("HiGHS is not installed") from error
    return highspy


@lru_cache(maxsize=1)
def _quiet(highspy: Any) -> Any:
    """A class of solvers that print nothing.

    The wrapper asks for callbacks while it is being made, which prints the banner before anybody could turn output
    off; so it is turned off just before.
    """

    class Quiet(highspy.Highs):  # type: ignore[misc]
        def enableCallbacks(self) -> None:  # noqa: N802 - the wrapper's name
            self.setOptionValue("output_flag", False)
            super().enableCallbacks()

    return Quiet


def _set_options(highs: Any, seconds: float, ways: Ways) -> None:
    for name, value in (
        ("time_limit", seconds),
        # HiGHS shares its threads in a process and refuses to change their number.
        ("threads", 1),
        ("random_seed", 1),
        ("mip_rel_gap", 0.0),
        ("mip_abs_gap", ways.absolute_gap),
        # Presolve probes for minutes on some programmes of cut plans without a look at the clock, and gains little.
        ("presolve", "on" if ways.presolve else "off"),
        ("mip_detect_symmetry", ways.symmetry),
        ("objective_target", -math.inf if ways.good_enough is None else ways.good_enough),
    ):
        highs.setOptionValue(name, value)
    if ways.feasibility is not None:
        highs.setOptionValue("mip_feasibility_tolerance", ways.feasibility)


def _model(highspy: Any, p: Programme) -> Any:
    import numpy as np

    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(p.cost), len(p.row_low)
    lp.col_cost_ = np.array(p.cost, dtype=float)
    lp.col_lower_ = np.array(p.low, dtype=float)
    lp.col_upper_ = np.array(p.high, dtype=float)
    lp.row_lower_ = np.array(p.row_low, dtype=float)
    lp.row_upper_ = np.array(p.row_high, dtype=float)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.array(p.starts, dtype=np.int32)
    lp.a_matrix_.index_ = np.array(p.index, dtype=np.int32)
    lp.a_matrix_.value_ = np.array(p.value, dtype=float)
    kinds = highspy.HighsVarType
    lp.integrality_ = [kinds.kInteger if whole else kinds.kContinuous for whole in p.whole]
    return lp


def _stop_in_time(highs: Any, deadline: float, should_stop: Callable[[], bool] | None) -> None:
    """Stops the solver at its next look-up past the deadline or once `should_stop` says so."""

    def look(event: Any) -> None:
        if time.monotonic() >= deadline or (should_stop is not None and should_stop()):
            event.interrupt()

    highs.cbMipInterrupt.subscribe(look)
    highs.cbSimplexInterrupt.subscribe(look)
    highs.cbIpmInterrupt.subscribe(look)


def _infeasible(highspy: Any) -> tuple[Any, ...]:
    states = highspy.HighsModelStatus
    return states.kInfeasible, states.kUnboundedOrInfeasible


def _read(highspy: Any, highs: Any) -> Solved:
    status = highs.getModelStatus()
    states = highspy.HighsModelStatus
    if status in _infeasible(highspy):
        return Solved(None, math.inf, is_optimal=False, is_infeasible=True)
    optimal = {states.kOptimal, states.kModelEmpty}
    cut_short = {
        states.kTimeLimit,
        states.kInterrupt,
        states.kObjectiveBound,
        states.kObjectiveTarget,
        states.kSolutionLimit,
    }
    if status not in optimal | cut_short:
        raise NoSolver(f"HiGHS ended with {status}")
    info = highs.getInfo()
    has_solution = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    bound = info.mip_dual_bound
    return Solved(
        tuple(highs.getSolution().col_value) if has_solution else None,
        bound if math.isfinite(bound) else -math.inf,
        is_optimal=status in optimal and has_solution,
    )
