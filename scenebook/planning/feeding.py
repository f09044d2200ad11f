"""Assign units to outlets exactly: a bin packing with kinds, by OR-tools' CP-SAT, goal after goal.

Each goal is proved best before the next is asked for, and the last settle every tie, so that the same units and outlets
give the same answer everywhere.
"""

import math
from collections.abc import Sequence
from itertools import combinations
from typing import Any, NamedTuple

from scenebook.model import Outlet
from scenebook.planning.outlets import HARD, Bar, Draw, bars, overlap, watts
from scenebook.planning.under_way import solve_beside

__all__ = ["Feeding", "Remedies", "fed"]

_PARTS = 1000  # whole numbers for the solver: µA, mW
_FULL = 100  # hundredths of an outlet's mA
_PATIENCE = 20  # the solver's own seconds, which are the same on every machine: far more than a rig has needed
_TIES_AT_ONCE = 4  # so that the weights of a chunk of ties stay small


class Remedies(NamedTuple):
    """What may be had to feed every unit, with the price of each as it is weighed against the others."""

    lead: int = 1
    outlet: int = 10
    watts: int = 11


class Feeding(NamedTuple):
    """The outlet of each unit by index (none: it gets none), whether more W are needed, and whether it is proved."""

    at: tuple[int | None, ...]
    more_watts: bool = False
    proved: bool = True


def fed(
    draws: Sequence[Draw],
    outlets: Sequence[Outlet],
    headroom: float,
    watts_limit: float | None = None,
    remedies: Remedies | None = None,
) -> Feeding:
    """Return which unit hangs on which outlet: as many units as can be, then the fewest that share an outlet.

    Then the least share of its mA, to a hundredth, on the fullest of the outlets that are shared.

    With `remedies` leads and more W may be had, and a unit without an outlet needs one more: the cheapest of all that.
    Ties go to the order of the units, each to its first outlet.
    """
    if not draws or not outlets:
        return Feeding(tuple(None for _ in draws))
    return _Packing(draws, outlets, headroom, watts_limit, remedies).solved()


class _Packing:
    """The model: one truth for each unit and outlet that go together."""

    def __init__(
        self,
        draws: Sequence[Draw],
        outlets: Sequence[Outlet],
        headroom: float,
        watts_limit: float | None,
        remedies: Remedies | None,
    ) -> None:
        from ortools.sat.python import cp_model  # late: 80 MB, and only this asks for it

        self._cp, self.model = cp_model, cp_model.CpModel()
        self.draws, self.outlets, self.remedies, self._headroom = draws, outlets, remedies, headroom
        self.wrong = {(u, o): bars(d, out, headroom) for u, d in enumerate(draws) for o, out in enumerate(outlets)}
        self.on = {
            pair: self.model.new_bool_var(f"on {pair}") for pair, wrong in self.wrong.items() if self._may(wrong)
        }
        self.used = [self.model.new_bool_var(f"used {o}") for o in range(len(outlets))]
        self.more_watts = self.model.new_bool_var("more watts")
        self._proved = True
        self._add_rules(watts_limit)

    def _may(self, wrong: Sequence[Bar]) -> bool:
        if self.remedies is None:
            return not wrong
        return not set(wrong) & HARD

    def _add_rules(self, watts_limit: float | None) -> None:
        if self.remedies is None:
            self.model.add(self.more_watts == 0)
        for unit in range(len(self.draws)):
            self.model.add_at_most_one(self._of_unit(unit))
        for at in range(len(self.outlets)):
            self._add_limits(at)
        for (one, first), (two, second) in combinations(enumerate(self.draws), 2):
            for at, outlet in enumerate(self.outlets):
                if (one, at) in self.on and (two, at) in self.on and _apart(first, second, outlet):
                    self.model.add_at_most_one([self.on[one, at], self.on[two, at]])
        for one, two in _twins(self.outlets):
            self._keep_in_order(one, two)
        if watts_limit is not None:
            self._add_watts(watts_limit)

    def _add_limits(self, at: int) -> None:
        """Keep an outlet's mA, less headroom while units run and in full while they start."""
        limit, here = self.outlets[at].ma or 0.0, [(u, on) for (u, o), on in self.on.items() if o == at]
        self.model.add(sum(on for _, on in here) >= self.used[at])
        for room, each in ((limit * (1 - self._headroom), "ma"), (limit, "peak_ma")):
            load = sum(on * math.ceil(getattr(self.draws[u], each) * _PARTS - 1e-6) for u, on in here)
            if here:
                self.model.add(load <= math.floor(room * _PARTS + 1e-6))

    def _add_watts(self, limit: float) -> None:
        """Keep to what the supply gives in all: less headroom while units run, and in full while all start at once."""
        for room, each in ((limit * (1 - self._headroom), "ma"), (limit, "peak_ma")):
            loads = [on * self._milliwatts(u, o, each) for (u, o), on in self.on.items()]
            most = math.floor(room * _PARTS + 1e-6)
            self.model.add(sum(loads) <= most).only_enforce_if(self.more_watts.negated())

    def _keep_in_order(self, one: int, two: int) -> None:
        """Let no unit hang on the later of two outlets that are alike before an earlier unit hangs on the first.

        That loses no answer that the ties would choose, and spares the solver the same answers in another order.
        """
        for unit in range(len(self.draws)):
            if (unit, two) in self.on:
                earlier = [self.on[u, one] for u in range(unit) if (u, one) in self.on]
                self.model.add(self.on[unit, two] <= sum(earlier))

    def _milliwatts(self, unit: int, at: int, which: str) -> int:
        draw = self.draws[unit]
        found = overlap(draw.supply, self.outlets[at])
        return math.ceil(watts(found[1] if found else 0.0, getattr(draw, which)) * _PARTS - 1e-6)

    def _of_unit(self, unit: int) -> list[Any]:
        return [on for (u, _), on in self.on.items() if u == unit]

    def solved(self) -> Feeding:
        """Return the best: one goal after the other, each kept while the next is asked for."""
        everything = sum(self.on.values())
        self._keep_least(self._price())
        sharing = self._keep_least(everything - sum(self.used))
        if sharing:
            self._keep_least(self._fullest_shared())
        places = len(self.outlets) + 1
        for start in range(0, len(self.draws), _TIES_AT_ONCE):
            chunk = range(start, min(start + _TIES_AT_ONCE, len(self.draws)))
            self._keep_least(sum(self._rank(u) * places ** (chunk[-1] - u) for u in chunk))
        return Feeding(tuple(self._outlet(u) for u in range(len(self.draws))), self._more, self._proved)

    def _fullest_shared(self) -> Any:
        """Return in hundredths how full the fullest of the outlets is that feed several units."""
        fullest = self.model.new_int_var(0, _FULL, "fullest shared outlet")
        for at, outlet in enumerate(self.outlets):
            here = [(u, on) for (u, o), on in self.on.items() if o == at]
            shared = self.model.new_bool_var(f"shared {at}")
            self.model.add(sum(on for _, on in here) <= 1 + shared * len(here))
            load = sum(on * math.ceil(self.draws[u].ma * _PARTS - 1e-6) for u, on in here)
            room = math.floor((outlet.ma or 0.0) * _PARTS)
            if here:
                self.model.add(load * _FULL <= fullest * room).only_enforce_if(shared)
        return fullest

    def _outlet(self, unit: int) -> int | None:
        return next((o for o in range(len(self.outlets)) if self._values.get((unit, o))), None)

    def _price(self) -> Any:
        """Return what is to be least: the units without an outlet, or what has to be had."""
        without = len(self.draws) - sum(self.on.values())
        if self.remedies is None:
            return without
        leads = sum(on for pair, on in self.on.items() if set(self.wrong[pair]) & {Bar.POLARITY, Bar.PLUG})
        return leads * self.remedies.lead + without * self.remedies.outlet + self.more_watts * self.remedies.watts

    def _rank(self, unit: int) -> Any:
        """Return the place of a unit's outlet, and the place after all of them for none."""
        count = len(self.outlets)
        return count + sum(on * (o - count) for (u, o), on in self.on.items() if u == unit)

    def _keep_least(self, goal: Any) -> int:
        """Find the least of a goal, and let it stand as a rule for the goals that come after; return it."""
        solver = self._cp.CpSolver()
        solver.parameters.num_workers = 1  # the model is small, and one worker always goes the same way
        solver.parameters.max_deterministic_time = _PATIENCE
        self.model.minimize(goal)
        status = solve_beside(solver, self.model)
        assert status in (self._cp.OPTIMAL, self._cp.FEASIBLE), "a unit without an outlet is always possible"
        self._proved = self._proved and status == self._cp.OPTIMAL
        least = round(solver.objective_value)
        self.model.add(goal <= least)
        self._values = {pair: solver.boolean_value(on) for pair, on in self.on.items()}
        self._begin_here(solver)
        self._more = solver.boolean_value(self.more_watts)
        return least

    def _begin_here(self, solver: Any) -> None:
        """Let the next goal begin at what has been found, so that there is always an answer."""
        self.model.clear_hints()  # type: ignore[no-untyped-call]
        for each in (*self.on.values(), *self.used, self.more_watts):
            self.model.add_hint(each, solver.value(each))


def _twins(outlets: Sequence[Outlet]) -> list[tuple[int, int]]:
    """Return the outlets that are alike but for their names, each with the next of its kind."""
    last: dict[Outlet, int] = {}
    found = []
    for index, outlet in enumerate(outlets):
        kind = outlet.model_copy(update={"name": "any"})
        if kind in last:
            found.append((last[kind], index))
        last[kind] = index
    return found


def _apart(one: Draw, two: Draw, outlet: Outlet) -> bool:
    """Return whether two units can never share an outlet: one must be alone, or they accept no voltage in common.

    Ranges that meet two by two meet all together, so pairs are enough.
    """
    first, second = overlap(one.supply, outlet), overlap(two.supply, outlet)
    if one.alone or two.alone or first is None or second is None:
        return True
    return max(first[0], second[0]) > min(first[1], second[1])
