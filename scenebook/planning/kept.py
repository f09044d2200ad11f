"""A linear program that the solver keeps between questions: rows are added, bounds moved, and it goes on from there."""

from collections.abc import Sequence
from typing import Any, NamedTuple

import highspy
import numpy
from numpy.typing import NDArray

from scenebook.planning.formulation import Row
from scenebook.planning.solving import quiet

__all__ = ["KeptModel", "Relaxed"]

Array = NDArray[numpy.float64]
_STATUS = highspy.HighsModelStatus
_CERTAIN = _STATUS.kOptimal, _STATUS.kInfeasible, _STATUS.kObjectiveBound


class Relaxed(NamedTuple):
    """The values of all variables, what they come to, and what one more of each would give."""

    values: Array
    worth: float
    gains: Array


class KeptModel:
    """Costs to be made greater over variables with bounds, under rows that grow in number; nothing is whole."""

    def __init__(self, costs: Array, most: Array, rows: Sequence[Row]) -> None:
        """Take the costs, the most that each variable may be (the least is 0), and the first rows, which stay."""
        count = len(costs)
        self._first = len(rows)
        program = highspy.HighsLp()
        program.num_col_, program.num_row_ = count, 0
        program.col_cost_, program.col_lower_, program.col_upper_ = -costs, numpy.zeros(count), most
        with quiet:
            self._solver: Any = highspy.Highs()  # type: ignore[no-untyped-call]
            self._solver.setOptionValue("output_flag", False)
            self._solver.setOptionValue("presolve", "off")
            self._solver.passModel(program)
            self.add(rows)

    @property
    def count(self) -> int:
        """How many rows it holds."""
        return int(self._solver.getNumRow())

    def add(self, rows: Sequence[Row]) -> None:
        """Add rows."""
        starts = numpy.cumsum([0, *(len(row[1]) for row in rows)])[:-1].astype(numpy.int32)
        index = numpy.array([number for row in rows for number in row[1]], dtype=numpy.int32)
        value = numpy.array([share for row in rows for share in row[1].values()], dtype=numpy.float64)
        least = numpy.array([row[0] for row in rows], dtype=numpy.float64)
        most = numpy.array([row[2] for row in rows], dtype=numpy.float64)
        self._solver.addRows(len(rows), least, most, len(index), starts, index, value)

    def within(self, least: Array, most: Array) -> None:
        """Move the bounds of the first variables."""
        count = len(least)
        self._solver.changeColsBounds(count, numpy.arange(count, dtype=numpy.int32), least, most)

    def worthless(self, worth: float) -> None:
        """Say that an answer of this worth or less is as good as none."""
        self._solver.setOptionValue("objective_bound", -worth)

    def solved(self) -> Relaxed | None:
        """Return the answer, or None where there is none or it is not worth having."""
        with quiet:
            self._solver.run()
            if self._solver.getModelStatus() not in _CERTAIN:  # its numbers went astray: once more, from nothing
                self._solver.clearSolver()
                self._solver.run()
        if self._solver.getModelStatus() != _STATUS.kOptimal:
            return None
        solution = self._solver.getSolution()
        worth = -float(self._solver.getInfo().objective_function_value)
        return Relaxed(numpy.array(solution.col_value), worth, -numpy.array(solution.col_dual))

    def forget_idle(self) -> None:
        """Drop the rows that bind nothing in the last answer; the first ones stay."""
        basic = highspy.HighsBasisStatus.kBasic
        binds_nothing = numpy.array([status == basic for status in self._solver.getBasis().row_status], dtype=bool)
        binds_nothing[: self._first] = False
        idle = numpy.flatnonzero(binds_nothing).astype(numpy.int32)
        if len(idle):
            self._solver.deleteRows(len(idle), idle)
