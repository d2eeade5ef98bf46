"""A whole-number programme for HiGHS: columns and rows as they are found, a hard time limit, and stop."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any


class NoSolverError(RuntimeError):
    """HiGHS is not installed, or gave up on a programme it should have solved."""


@dataclass(frozen=True, slots=True)
class Solved:
    """`values` by column, None where nothing was found in time; no solution is below `bound`."""

    values: tuple[float, ...] | None
    bound: float
    is_optimal: bool


@dataclass
class Programme:
    """Minimise cost; every column is a whole number unless it says otherwise."""

    cost: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    rows: list[tuple[float, float, list[int], list[float]]] = field(default_factory=list)

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
        """low ≤ Σ coefficient × column ≤ high; each column at most once."""
        found = [(column, value) for column, value in terms if value]
        self.rows.append((low, high, [column for column, _ in found], [value for _, value in found]))

    def solve(
        self,
        seconds: float,
        *,
        should_stop: Callable[[], bool] | None = None,
        start: Mapping[int, float] | None = None,
        absolute_gap: float = 0.002,
        presolve: bool = True,
        good_enough: float | None = None,
    ) -> Solved:
        """The best within `seconds`. Raises NoSolverError where HiGHS is missing or fails.

        `start` is a solution to begin with, columns not named are 0. Without `presolve` it begins at once, which pays
        for few rows and thousands of columns. At a solution of at most `good_enough` it ends.
        """
        began = time.monotonic()
        try:
            import highspy
        except ImportError as error:
            raise NoSolverError("HiGHS is not installed") from error
        try:
            highs = _quiet(highspy)
            for option, value in (
                ("mip_rel_gap", 0.0),
                ("mip_abs_gap", absolute_gap),
                ("random_seed", 1),
                ("presolve", "on" if presolve else "off"),
                ("mip_detect_symmetry", presolve),
                ("objective_target", -math.inf if good_enough is None else good_enough),
                # As for cut plans: HiGHS shares its threads in a process and refuses to change their number.
                ("threads", 1),
                ("time_limit", max(seconds - (time.monotonic() - began), 0.05)),
            ):
                highs.setOptionValue(option, value)
            if highs.passModel(self._as_lp(highspy)) == highspy.HighsStatus.kError:
                raise NoSolverError("HiGHS refuses the programme")
            if start is not None:
                solution = highspy.HighsSolution()
                solution.col_value = [start.get(column, 0.0) for column in range(len(self.cost))]
                highs.setSolution(solution)
            if should_stop is not None:
                _stop_when(highs, should_stop)
            highs.run()
            return _solved(highspy, highs)
        except (RuntimeError, TypeError, ValueError, AttributeError) as error:
            raise NoSolverError(f"HiGHS failed: {error}") from error

    def _as_lp(self, highspy: Any) -> Any:
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.cost), len(self.rows)
        lp.col_cost_, lp.col_lower_, lp.col_upper_ = self.cost, self.low, self.high
        lp.row_lower_ = [row[0] for row in self.rows]
        lp.row_upper_ = [row[1] for row in self.rows]
        kinds = highspy.HighsVarType
        lp.integrality_ = [kinds.kInteger if whole else kinds.kContinuous for whole in self.whole]
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        starts = [0]
        for row in self.rows:
            starts.append(starts[-1] + len(row[2]))
        lp.a_matrix_.start_ = starts
        lp.a_matrix_.index_ = [column for row in self.rows for column in row[2]]
        lp.a_matrix_.value_ = [value for row in self.rows for value in row[3]]
        return lp


def _quiet(highspy: Any) -> Any:
    """A solver that prints nothing.

    The wrapper asks for callbacks while it is being made, which prints the banner before anybody could turn
    output off; so it is turned off just before.
    """

    class Quiet(highspy.Highs):  # type: ignore[misc]
        def enableCallbacks(self) -> None:  # noqa: N802 - the wrapper's name
            self.setOptionValue("output_flag", False)
            super().enableCallbacks()

    return Quiet()


def _stop_when(highs: Any, should_stop: Callable[[], bool]) -> None:
    """Stops the solver at its next look-up once `should_stop` says so."""

    def look(event: Any) -> None:
        if should_stop():
            event.interrupt()

    highs.cbSimplexInterrupt.subscribe(look)
    highs.cbMipInterrupt.subscribe(look)


def _solved(highspy: Any, highs: Any) -> Solved:
    statuses = highspy.HighsModelStatus
    status = highs.getModelStatus()
    ended = (
        statuses.kOptimal,
        statuses.kModelEmpty,
        statuses.kTimeLimit,
        statuses.kInterrupt,
        statuses.kObjectiveTarget,
    )
    if status not in ended:
        raise NoSolverError(f"HiGHS ended with {status}")
    info = highs.getInfo()
    has_values = info.primal_solution_status == 2
    values: Sequence[float] = highs.getSolution().col_value
    bound = info.mip_dual_bound
    return Solved(
        values=tuple(values) if has_values else None,
        bound=bound if math.isfinite(bound) else -math.inf,
        is_optimal=status in (statuses.kOptimal, statuses.kModelEmpty),
    )
