"""A search of CP-SAT that is under way: somebody is told of the best so far and the bound, and may end it.

The solver works beside the thread that asks, which inside it would hear no Ctrl-C before the end. Nor may the solver
take Ctrl-C for itself: that would end one search in silence, and the next would begin. What is found does not hang on
who watches, unless told to stop.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass
from math import ceil
from time import perf_counter
from typing import TYPE_CHECKING, Any

from scenebook.planning.pieces import Board

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

__all__ = ["Progress", "UnderWay", "Watch", "solve_beside"]

_LOOK_S = 0.1  # between two looks whether to go on
_DUST = 1e-6  # of a bound that is a whole number


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a search is, after so many seconds: the best so far and the least that is possible; less is better.

    It counts how far an arrangement is from what is liked; where a larger board is looked for its area in mm², and
    `larger` is that board. Nothing is in either before there is any.
    """

    best: int | None
    bound: int | None
    seconds: float
    larger: Board | None = None


Watch = Callable[[Progress], bool]
"""Told how far a search is; returns whether to go on."""


class UnderWay:
    """Some searches, one after the other, and who is told of them: once told to stop, none of them goes on."""

    def __init__(self, watch: Watch | None = None) -> None:
        self._watch, self._start = watch, perf_counter()
        self._best: int | None = None
        self._bound: int | None = None
        self._larger: Board | None = None
        self.stopped = False

    def goes_on(self) -> bool:
        """Say how far the search is, and return whether to go on."""
        if self._watch is not None and not self.stopped:
            far = Progress(self._best, self._bound, perf_counter() - self._start, self._larger)
            self.stopped = not self._watch(far)
        return not self.stopped

    def told(self, best: int | None) -> bool:
        """Hear of the best so far, if there is any; return whether to go on."""
        if best is not None and (self._best is None or best < self._best):
            self._best = best
        return self.goes_on()

    def solved(
        self,
        solver: "cp_model.CpSolver",
        model: "cp_model.CpModel",
        *,
        sides: tuple[Any, Any] | None = None,
        bounds: bool = True,
    ) -> Any:
        """Solve, telling of it; return the solver's status, or nothing where it was not begun.

        Args:
            solver: with its parameters set.
            model: what it is asked.
            sides: those of the board, where it may grow.
            bounds: whether its bound holds for all arrangements, and not for some alone.
        """
        if not self.goes_on():
            return None
        if not model.has_objective():
            return solve_beside(solver, model, goes_on=self.goes_on)
        if bounds:
            solver.best_bound_callback = self._bounded
        return solve_beside(solver, model, goes_on=self.goes_on, found=_teller(self._found, sides))

    def _bounded(self, bound: float) -> None:
        self._bound = max(self._bound or 0, ceil(bound - _DUST))

    def _found(self, best: int, larger: Board | None) -> None:
        if self._best is None or best < self._best:
            self._best, self._larger = best, larger


def solve_beside(
    solver: "cp_model.CpSolver",
    model: "cp_model.CpModel",
    *,
    goes_on: Callable[[], bool] = lambda: True,
    found: "cp_model.CpSolverSolutionCallback | None" = None,
) -> Any:
    """Solve in a thread of its own and return the status; where `goes_on` says no, the solver ends with what it has.

    What is raised meanwhile in the thread that asks, such as KeyboardInterrupt, ends it as well.
    """
    solver.parameters.catch_sigint_signal = False
    with ThreadPoolExecutor(1) as beside:
        answer = beside.submit(solver.solve, model, found)
        try:
            while wait([answer], _LOOK_S).not_done:
                if not goes_on():
                    solver.stop_search()
        finally:
            while not answer.done():  # told again and again: a solver that has not begun yet does not hear it
                solver.stop_search()
                wait([answer], _LOOK_S)
    return answer.result()


def _teller(told: Callable[[int, Board | None], None], sides: tuple[Any, Any] | None) -> Any:
    """Return what tells of each better answer that the solver finds."""
    from ortools.sat.python import cp_model  # late: 80 MB

    class Teller(cp_model.CpSolverSolutionCallback):
        def on_solution_callback(self) -> None:
            board = Board(self.value(sides[0]), self.value(sides[1])) if sides else None
            told(round(self.objective_value), board)

    return Teller()
