"""The fewest sets that together hold all of something: exact, by OR-tools' CP-SAT (Apache 2.0).

Pure. Which of several smallest answers it is does not depend on the solver.
"""

from collections.abc import Collection, Hashable, Sequence
from typing import Any

from scenebook.errors import BadValueError
from scenebook.planning.under_way import solve_beside

__all__ = ["smallest_cover"]

_SECONDS = 60.0  # for each question to the solver; a gig's take milliseconds


def smallest_cover(sets: Sequence[Collection[Hashable]], wanted: Collection[Hashable] | None = None) -> tuple[int, ...]:
    """Return the numbers of the fewest sets that together hold all that is `wanted`, else all that any set holds.

    What no set holds is passed over. Of several smallest answers it is the one whose first number is least, then its
    second, and so on: the earliest in the order given.

    Raises:
        BadValueError: no smallest answer was proved in a minute.
    """
    held = [frozenset(each) if wanted is None else frozenset(each).intersection(wanted) for each in sets]
    kept = [number for number, each in enumerate(held) if each and each not in held[:number]]
    things = list(dict.fromkeys(thing for number in kept for thing in held[number]))
    if not things:
        return ()
    found = _Covers([[at for at, number in enumerate(kept) if thing in held[number]] for thing in things], len(kept))
    return tuple(kept[at] for at in found.earliest())


class _Covers:
    """The question in the solver's form: at least one of each row of numbers is taken, and as few as can be."""

    def __init__(self, rows: Sequence[Sequence[int]], count: int) -> None:
        from ortools.sat.python import cp_model  # late: 80 MB

        self._cp, self._rows, self._count = cp_model, rows, count

    def earliest(self) -> list[int]:
        """Return the smallest answer that comes first: number after number, each as early as can be."""
        answer = self._least(None, [], 0)
        taken: list[int] = []
        while len(taken) < len(answer):
            answer = self._least(len(answer), taken, answer[len(taken)])
            taken = answer[: len(taken) + 1]
        return answer

    def _least(self, size: int | None, taken: Sequence[int], known: int) -> list[int]:
        """Return an answer of the least size; with a `size`, one whose next number after those taken is least.

        `known` is a number that it can be.
        """
        model, begin = self._cp.CpModel(), taken[-1] + 1 if taken else 0
        uses = [model.new_bool_var("") for _ in range(self._count)]
        for row in self._rows:
            model.add_at_least_one([uses[at] for at in row])
        if size is None:
            model.minimize(sum(uses))
            return self._solved(model, uses)
        model.add(sum(uses) <= size)
        for at in range(begin):
            model.add(uses[at] == int(at in taken))
        nexts = [model.new_bool_var("") for _ in range(begin, known + 1)]
        model.add_exactly_one(nexts)
        for at, following in enumerate(nexts, begin):
            model.add_implication(following, uses[at])
        model.minimize(sum(at * following for at, following in enumerate(nexts, begin)))
        return self._solved(model, uses)

    def _solved(self, model: Any, uses: Sequence[Any]) -> list[int]:
        solver = self._cp.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_time_in_seconds = _SECONDS
        if solve_beside(solver, model) != self._cp.OPTIMAL:
            raise BadValueError(f"no shortest list was proved in {_SECONDS:g} seconds")
        return [at for at, use in enumerate(uses) if solver.boolean_value(use)]
