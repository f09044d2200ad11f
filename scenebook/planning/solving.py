"""The one place that speaks to the solver, HiGHS (MIT licence): a program with limits in, a set of units out."""

import os
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from threading import Lock
from typing import Any, NamedTuple

from scenebook.planning.formulation import INFINITE, Row

__all__ = ["Answer", "Model", "Relaxation", "Watch", "quiet", "solved"]

Watch = Callable[[int, float], bool]
"""Told the units of the best answer so far (as bits, 0 for none) and the bound; returns whether to go on."""

_ABSOLUTE_GAP = 1e-7
_INFINITE = 1e30


@dataclass
class Model:
    """What is made greater: costs and rows over variables from 0 to 1, of which the first `whole` are whole."""

    costs: Sequence[float]
    rows: Sequence[Row]
    whole: int
    fixed: Mapping[int, float] = field(default_factory=dict)


class Answer(NamedTuple):
    """The units of the best answer (None: there is none), the bound on any, and whether the two are proved to meet."""

    carried: int | None
    bound: float
    proved: bool
    met: tuple[int, ...] = ()  # every better set that was found on the way


class _Quiet:
    """Keeps standard output clean: the solver greets there whatever its options say, below Python's own output.

    Several may work at once, in threads of their own: output comes back with the last.
    """

    def __init__(self) -> None:
        self._lock, self._inside = Lock(), 0
        self._kept: int | None = None

    def __enter__(self) -> None:
        with self._lock:
            if self._inside == 0:
                self._turn_away()
            self._inside += 1

    def __exit__(self, *_: object) -> None:
        with self._lock:
            self._inside -= 1
            if self._inside == 0 and self._kept is not None:
                os.dup2(self._kept, 1)
                os.close(self._kept)
                self._kept = None

    def _turn_away(self) -> None:
        sys.stdout.flush()
        try:
            self._kept = os.dup(1)
        except OSError:  # standard output is closed: nothing can be written there
            return
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.close(nowhere)


quiet = _Quiet()


class Relaxation:
    """A model whose units may be carried in part; rows are added, and it is solved on from where it stood."""

    def __init__(self, model: Model) -> None:
        """Hand the model to the solver."""
        with quiet:
            self._solver = _solver(model, whole=False)

    def solved(self) -> tuple[list[float], float]:
        """Return the values of all variables, and the worth."""
        with quiet:
            self._solver.run()
        return list(self._solver.getSolution().col_value), float(self._solver.getInfo().objective_function_value)

    def add(self, rows: Sequence[Row]) -> None:
        """Add rows."""
        import numpy

        for least, row, most in rows:
            index, value = numpy.array(list(row), dtype=numpy.int32), numpy.array(list(row.values()))
            self._solver.addRow(max(least, -_INFINITE), min(most, _INFINITE), len(row), index, value)


def solved(
    model: Model,
    *,
    seconds: float,
    start: int | None = None,
    above: float | None = None,
    enough: float = 0.0,
    watch: Watch | None = None,
) -> Answer:
    """Return the best set of units, from a first one that is known to do.

    With `above` nothing is looked for that comes to no more, and the bound is never less; `proved` without a set, or
    with one of no more, then says that there is no better. `enough` is how far from the best, as a share, will do.
    """
    import numpy

    watched = _Watched(model.whole, watch)
    with quiet:
        solver = _solver(model, whole=True)
        solver.setOptionValue("mip_rel_gap", enough)
        solver.setOptionValue("mip_abs_gap", _ABSOLUTE_GAP)
        solver.setOptionValue("time_limit", max(0.01, seconds))
        if above is not None:
            _look_above(solver, above)
        if start is not None:
            chosen = numpy.array([float(start >> number & 1) for number in range(model.whole)])
            solver.setSolution(model.whole, numpy.arange(model.whole, dtype=numpy.int32), chosen)
        solver.cbMipImprovingSolution += watched.better
        solver.cbMipInterrupt += watched.go_on
        solver.run()
    if watched.raised is not None:
        raise watched.raised
    info, status = solver.getInfo(), solver.modelStatusToString(solver.getModelStatus())
    carried, bound = None, _bound(info, status)
    if solver.solutionStatusToString(info.primal_solution_status) == "Feasible":
        carried = _bits(solver.getSolution().col_value, model.whole)
        bound = max(bound, float(info.objective_function_value))
    done = status == "Optimal" or (above is not None and status == "Infeasible")
    bound = bound if above is None else max(bound, above)
    return Answer(carried, bound, done and not watched.stopped, tuple(watched.met))


def _bound(info: Any, status: str) -> float:
    """Return the bound on any answer; the solver says no number of what it sees at once to have none, or broke off."""
    if status == "Infeasible":
        return -INFINITE
    return float(info.mip_dual_bound) if info.valid else INFINITE


def _look_above(solver: Any, least: float) -> None:
    """Let the search end every branch that promises no more, and spend nothing on first answers of its own."""
    solver.setOptionValue("objective_bound", -least)  # the solver makes less of what it is given, turned about
    solver.setOptionValue("mip_heuristic_effort", 0.0)
    for name in ("rins", "rens", "root_reduced_cost", "feasibility_jump"):
        solver.setOptionValue(f"mip_heuristic_run_{name}", False)


class _Watched:
    """Keeps every better answer, and lets `watch` end the work: what it raises ends it too.

    The solver would swallow that, so it is kept, to be raised anew.
    """

    def __init__(self, whole: int, watch: Watch | None) -> None:
        self._whole, self._watch = whole, watch
        self.met: list[int] = []
        self.stopped = False
        self.raised: BaseException | None = None

    def better(self, event: Any) -> None:
        """Keep a better answer."""
        self.met.append(_bits(event.data_out.mip_solution, self._whole))

    def go_on(self, event: Any) -> None:
        """Ask whether to go on."""
        if not self.stopped and self._watch is not None:
            try:
                self.stopped = not self._watch(self.met[-1] if self.met else 0, float(event.data_out.mip_dual_bound))
            except BaseException as error:
                self.stopped, self.raised = True, error
        if self.stopped:
            event.interrupt()


def _bits(values: Sequence[float], whole: int) -> int:
    return sum(1 << number for number in range(whole) if values[number] > 0.5)


def _solver(model: Model, *, whole: bool) -> Any:
    import highspy
    import numpy

    count = len(model.costs)
    lower, upper = numpy.zeros(count), numpy.ones(count)
    for variable, value in model.fixed.items():
        lower[variable] = upper[variable] = value
    program = highspy.HighsLp()
    program.num_col_, program.num_row_ = count, len(model.rows)
    program.sense_ = highspy.ObjSense.kMaximize
    program.col_cost_ = numpy.array(model.costs, dtype=numpy.float64)
    program.col_lower_, program.col_upper_ = lower, upper
    infinite = highspy.kHighsInf
    program.row_lower_ = numpy.array([max(row[0], -infinite) for row in model.rows])
    program.row_upper_ = numpy.array([min(row[2], infinite) for row in model.rows])
    program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    starts = numpy.cumsum([0, *(len(row[1]) for row in model.rows)])
    program.a_matrix_.start_ = starts.astype(numpy.int32)
    program.a_matrix_.index_ = numpy.array([n for row in model.rows for n in row[1]], dtype=numpy.int32)
    program.a_matrix_.value_ = numpy.array([c for row in model.rows for c in row[1].values()], dtype=numpy.float64)
    if whole:
        kinds = highspy.HighsVarType.kInteger, highspy.HighsVarType.kContinuous
        program.integrality_ = [kinds[number >= model.whole] for number in range(count)]
    solver: Any = highspy.Highs()  # type: ignore[no-untyped-call]
    solver.setOptionValue("output_flag", False)
    solver.passModel(program)
    return solver
