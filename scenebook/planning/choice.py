"""The best set of units within limits, proved best; or the best found, with the bound on what is still possible.

The program (formulation.py) promises no less than is true, so its optimum is a bound. Where the set that it chooses
does not keep what was promised, rows are added that take the promise away, and it is solved again, until the promise is
kept. Every worth that is returned is the true one, by the rules of states/. Rows hold whatever the limits are, so one
search answers many questions.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from time import perf_counter
from typing import NamedTuple

from scenebook.planning.cuts import broken, violated
from scenebook.planning.formulation import INFINITE, Row, program_of
from scenebook.planning.instance import Instance, each_bit
from scenebook.planning.solving import Model, relaxed, solved

__all__ = ["Bounded", "Choice", "Progress", "Search", "Within"]

_ROUNDS, _ROWS_A_ROUND = 12, 400
_A_GRAM, _A_UNIT = 0.1, 0.001  # of two sets worth as much the lighter is better, then the one with fewer units
_SLACK = 2e-5  # a row as tight as a solver is exact may be found to have no answer
_EQUAL = 1e-6  # two worths nearer than this are the same: likenesses are given by ear


class Bounded(NamedTuple):
    """A limit in numbers: what each unit of the question counts, and how much all may count."""

    counts: tuple[float, ...]
    most: float

    def of(self, carried: int) -> float:
        """Return what a set of units counts."""
        return sum(self.counts[number] for number in each_bit(carried))


class Within(NamedTuple):
    """What a choice has to keep: limits, units that must be carried and units that must not, as bits."""

    limits: tuple[Bounded, ...] = ()
    must: int = 0
    never: int = 0

    def fits(self, carried: int) -> bool:
        """Whether a set of units keeps all of it."""
        if self.must & ~carried or self.never & carried:
            return False
        return all(limit.of(carried) <= limit.most + 1e-9 for limit in self.limits)


class Choice(NamedTuple):
    """A set of units, its true worth, and the most that any other could be worth.

    `proved`: none is worth more. `settled`: of those worth as much none is lighter, or as light with fewer units.
    """

    carried: int
    worth: float
    bound: float
    proved: bool
    settled: bool


@dataclass(frozen=True)
class Progress:
    """How far a search is: the best worth so far and the bound on what is still possible, after so many seconds."""

    worth: float
    bound: float
    seconds: float


Watch = Callable[[Progress], bool]
"""Told how far a search is; returns whether to go on."""


class Search:
    """Chooses from one instance, under one set of limits after another; what it has learned it keeps."""

    def __init__(self, instance: Instance, weights: Sequence[float] | None = None) -> None:
        """Keep the question; `weights` decide between sets of equal worth, the lighter first."""
        self.instance = instance
        self.program = program_of(instance)
        self._weights = tuple(weights or [0.0] * len(instance.units))
        self._known: set[tuple[float, tuple[tuple[int, float], ...]]] = set()
        self._tightened = False

    def best(
        self,
        within: Within,
        *,
        seconds: float = INFINITE,
        start: int | None = None,
        watch: Watch | None = None,
        settle: bool = True,
    ) -> Choice:
        """Return the best set of units within limits, the lightest of several, then the one with fewest units.

        `start` is a set that keeps the limits, where one is known. `watch` is told of progress and may end the work.
        Without `settle` any of several will do.
        """
        run = _Run(self, within, seconds, watch)
        run.offer(within.must)
        if start is not None and within.fits(start):
            run.offer(start)
        self._tighten(run)
        bound, proved = self._climb(run)
        worth = self.instance.worth(run.carried)
        bound = worth if proved else max(worth, bound)
        settled = proved and settle and self._settle(run, worth)
        self._drop_idle(run)
        return Choice(run.carried, self.instance.worth(run.carried), bound, proved, settled)

    def _drop_idle(self, run: "_Run") -> None:
        """Leave at home what adds nothing, the heaviest first."""
        worth = self.instance.worth(run.carried)
        for number in sorted(each_bit(run.carried & ~run.within.must), key=lambda number: -self._weights[number]):
            if self.instance.worth(run.carried & ~(1 << number)) >= worth - _EQUAL:
                run.carried &= ~(1 << number)

    def add(self, rows: Sequence[Row]) -> bool:
        """Keep rows that are not known yet, and tell whether there were any."""
        fresh = False
        for row in rows:
            key = row[2], tuple(sorted(row[1].items()))
            if key not in self._known:
                self._known.add(key)
                self.program.rows.append(row)
                fresh = True
        return fresh

    def lightness(self, carried: int) -> tuple[float, int]:
        """Return what decides between sets of equal worth."""
        return sum(self._weights[number] for number in each_bit(carried)), carried.bit_count()

    def _tighten(self, run: "_Run") -> None:
        """Add the rows that answers in part break most; and take from them a first set that fits."""
        for number in range(_ROUNDS):
            values, _ = relaxed(run.model(self.program.costs))
            if number == 0:
                run.offer(_filled(run.within, values, len(self.instance.units)))
            if self._tightened or run.left <= 0 or not self.add(violated(self.program, values, _ROWS_A_ROUND)):
                break
        run.offer(_filled(run.within, values, len(self.instance.units)))
        self._tightened = True

    def _climb(self, run: "_Run") -> tuple[float, bool]:
        """Solve, and add rows for what is not kept, until the promise is kept or time is over."""
        bound, start = INFINITE, True
        while run.left > 0 and not run.stopped:
            fresh = self.add(broken(self.program, run.carried))
            first = run.carried if start else None
            answer = solved(run.model(self.program.costs), start=first, seconds=run.left, watch=run.told)
            bound = min(bound, answer.bound + self.instance.idle)
            for carried in (*answer.met, *([answer.carried] if answer.carried is not None else [])):
                if run.within.fits(carried):
                    run.offer(carried)
                    fresh |= self.add(broken(self.program, carried))
            if bound <= self.instance.worth(run.carried) + _EQUAL:
                return bound, True
            if not fresh and not start:
                break
            start = fresh  # HiGHS 1.16 may take a first answer for more than it is: then ask again without one
        return bound, False

    def _settle(self, run: "_Run", worth: float) -> bool:
        """Look for a lighter set that is worth as much, and tell whether it is certain that there is none."""
        count = len(self.instance.units)
        least: Row = (worth - self.instance.idle - _SLACK, dict(enumerate(self.program.costs)), INFINITE)
        costs = [-(weight * _A_GRAM + _A_UNIT) for weight in self._weights]
        costs += [0.0] * (len(self.program.costs) - count)
        start: int | None = run.carried
        while run.left > 0 and not run.stopped:
            answer = solved(run.model(costs, least), start=start, seconds=run.left, watch=run.told)
            if answer.carried is None or not answer.proved:
                return False
            known = sum(costs[number] for number in each_bit(answer.carried)) > answer.bound - _A_UNIT / 2
            if known and self.instance.worth(answer.carried) >= worth - _EQUAL:
                if self.lightness(answer.carried) < self.lightness(run.carried):
                    run.carried = answer.carried
                return True
            if not self.add(broken(self.program, answer.carried)):
                if start is None:
                    return False
                start = None
        return False


class _Run:
    """One choice under way: the best set so far, the time left, and who is told of it."""

    def __init__(self, search: Search, within: Within, seconds: float, watch: Watch | None) -> None:
        self.within, self.carried = within, within.must
        self._search, self._watch = search, watch
        self._start, self._seconds = perf_counter(), seconds
        self.stopped = False

    @property
    def left(self) -> float:
        """The seconds that are left."""
        return self._seconds - (perf_counter() - self._start)

    def model(self, costs: Sequence[float], *more: Row) -> Model:
        """Return the program with the limits of this choice."""
        limits = [(-INFINITE, dict(enumerate(limit.counts)), limit.most) for limit in self.within.limits]
        fixed = dict.fromkeys(each_bit(self.within.must), 1.0) | dict.fromkeys(each_bit(self.within.never), 0.0)
        rows = [*self._search.program.rows, *limits, *more]
        return Model(costs, rows, len(self._search.instance.units), fixed)

    def offer(self, carried: int) -> None:
        """Keep a set that is worth more than the best so far, or as much and lighter."""
        worth = self._search.instance.worth
        gain = worth(carried) - worth(self.carried)
        lighter = self._search.lightness(carried) < self._search.lightness(self.carried)
        if gain > _EQUAL or (gain > -_EQUAL and lighter and self.within.fits(carried)):
            self.carried = carried

    def told(self, carried: int, bound: float) -> bool:
        """Hear of a better set and the bound; say on how far the search is, and whether to go on."""
        if carried and self.within.fits(carried):
            self.offer(carried)
        if self._watch is not None and not self.stopped:
            instance = self._search.instance
            far = Progress(instance.worth(self.carried), bound + instance.idle, perf_counter() - self._start)
            self.stopped = not self._watch(far)
        return not self.stopped


def _filled(within: Within, values: Sequence[float], count: int) -> int:
    """Return a set that fits, filled with the units of which an answer in part carries most."""
    carried = within.must
    for number in sorted(range(count), key=lambda number: -values[number]):
        if values[number] > 0 and within.fits(carried | 1 << number):
            carried |= 1 << number
    return carried
