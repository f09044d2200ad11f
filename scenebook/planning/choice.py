"""The best set of units within limits, proved best; or the best found, with the bound on what is still possible.

The program (formulation.py) promises no less than is true, so its optimum is a bound. Where the set that it chooses
does not keep what was promised, rows are added that take the promise away, and it is solved again, until the promise is
kept. Every worth that is returned is the true one, by the rules of states/. Rows hold whatever the limits are, so one
search answers many questions.
"""

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from time import perf_counter
from typing import TYPE_CHECKING, NamedTuple

from scenebook.planning.cuts import broken, violated
from scenebook.planning.formulation import INFINITE, Program, Row, program_of
from scenebook.planning.instance import Instance, each_bit
from scenebook.planning.levels import Levels
from scenebook.planning.nearby import few_units
from scenebook.planning.solving import Answer, Model, Relaxation, solved

if TYPE_CHECKING:
    from scenebook.planning.mean import MeanSearch

__all__ = ["Bounded", "Choice", "Progress", "Search", "Within"]

_ROUNDS, _ROWS_A_ROUND = 12, 400
_MANY, _SOME = 50, 1e-6  # units that are carried in part: a question so large that a close answer is sought first
_CLOSE = 0.0099  # how far from the bound that is, as a share
_FEW, _FAILED = 32, 6  # units to choose anew among; how often in vain
_NEAR_S, _NEAR_TIME, _NEAR_ENOUGH = 3.0, 0.2, 0.001  # for each such choice; the share of all the time; how exactly
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
        self._weights = tuple(weights or [0.0] * len(instance.units))
        self._known: set[tuple[float, tuple[tuple[int, float], ...]]] = set()

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
        if self.instance.mean:
            return self._best_mean(run, settle=settle)
        values, bound = self._tighten(run)
        large = sum(_SOME < value < 1.0 - _SOME for value in values[: len(self.instance.units)]) > _MANY
        if large and bound > self._far(run, _CLOSE):
            self._look_near(run, values)
            bound = self._climb(run, bound, _CLOSE)[0]
        bound, proved = self._climb(run, bound)
        worth = self.instance.worth(run.carried)
        bound = worth if proved else max(worth, bound)
        settled = proved and settle and self._settle(run, worth)
        self._drop_idle(run)
        return Choice(run.carried, self.instance.worth(run.carried), bound, proved, settled)

    @cached_property
    def program(self) -> Program:
        """The program of the worst-met need."""
        return program_of(self.instance)

    @cached_property
    def _levels(self) -> Levels:
        return Levels(self.program)

    @cached_property
    def _by_mean(self) -> "MeanSearch":
        from scenebook.planning.mean import MeanSearch

        return MeanSearch(self.instance, self._weights)

    def _best_mean(self, run: "_Run", *, settle: bool) -> Choice:
        """Return the best set by the mean score, which has a search of its own."""
        limits = [(-INFINITE, dict(enumerate(limit.counts)), limit.most) for limit in run.within.limits]
        bound, proved = self._by_mean.climb(run, run.within, limits)
        settled = proved and settle and self._by_mean.settle(run, run.within, limits)
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

    def _tighten(self, run: "_Run") -> tuple[list[float], float]:
        """Add the rows that answers in part break most, take a first set that fits from them, and return the last."""
        relaxation = Relaxation(run.model(self.program.costs))
        for number in range(_ROUNDS):
            values, worth = relaxation.solved()
            if number == 0:
                run.offer(_filled(run.within, values, len(self.instance.units)))
            rows = [*self._levels.broken(values), *violated(self.program, values, _ROWS_A_ROUND)]
            if run.left <= 0 or not self.add(rows):
                break
            relaxation.add(rows)
        run.offer(_filled(run.within, values, len(self.instance.units)))
        return values, worth + self.instance.idle

    def _far(self, run: "_Run", share: float) -> float:
        """Return a worth that is a share above the best so far."""
        return self.instance.worth(run.carried) * (1.0 + share)

    def _look_near(self, run: "_Run", values: Sequence[float]) -> None:
        """Choose anew among a few units at a time, the others as they are, while that finds better sets."""
        pick, failed, ends = random.Random(0), 0, run.left * (1.0 - _NEAR_TIME)
        while failed < _FAILED and run.left > ends and not run.stopped:
            among = few_units(pick, values[: len(self.instance.units)], run.carried, _FEW)
            others = [number for number in range(len(self.instance.units)) if not among >> number & 1]
            model = run.model(self.program.costs, also={each: float(run.carried >> each & 1) for each in others})
            seconds = min(_NEAR_S, run.left)
            before = self.instance.worth(run.carried)
            answer = solved(model, above=before - self.instance.idle, seconds=seconds, enough=_NEAR_ENOUGH)
            self._learn(run, answer)
            run.told(0, INFINITE)
            failed = 0 if self.instance.worth(run.carried) > before + _EQUAL else failed + 1

    def _learn(self, run: "_Run", answer: Answer) -> bool:
        """Offer every set that was met, and add rows for what it does not keep; tell whether there were new ones."""
        fresh = False
        for carried in (*answer.met, *([answer.carried] if answer.carried is not None else [])):
            if run.within.fits(carried):
                run.offer(carried)
                fresh |= self.add(broken(self.program, carried))
        return fresh

    def _climb(self, run: "_Run", bound: float, share: float = 0.0) -> tuple[float, bool]:
        """Solve, and add rows for what is not kept, until the promise is kept or time is over.

        Sets that are better by no more than a share are not looked for: that the rest is no better is sooner known.
        """
        while run.left > 0 and not run.stopped:
            fresh = self.add(broken(self.program, run.carried))
            above = self._far(run, share)
            model = run.model(self.program.costs)
            answer = solved(model, above=above - self.instance.idle, seconds=run.left, watch=run.told)
            fresh |= self._learn(run, answer)
            bound = min(bound, answer.bound + self.instance.idle)
            if bound <= max(above, self._far(run, share)) + _EQUAL:
                return bound, bound <= self.instance.worth(run.carried) + _EQUAL
            if not fresh:
                break
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

    def model(self, costs: Sequence[float], *more: Row, also: Mapping[int, float] | None = None) -> Model:
        """Return the program with the limits of this choice, and with what else is fixed."""
        limits = [(-INFINITE, dict(enumerate(limit.counts)), limit.most) for limit in self.within.limits]
        fixed = dict.fromkeys(each_bit(self.within.must), 1.0) | dict.fromkeys(each_bit(self.within.never), 0.0)
        rows = [*self._search.program.rows, *limits, *more]
        return Model(costs, rows, len(self._search.instance.units), {**(also or {}), **fixed})

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
