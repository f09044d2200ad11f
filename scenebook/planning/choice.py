"""The best set of units within limits, proved best; or the best found, with the bound on what is still possible.

The program (formulation.py) promises no less than is true, so its optimum is a bound. Where the set that it chooses
does not keep what was promised, rows are added that take the promise away, and it is solved again, until the promise is
kept. Every worth that is returned is the true one, by the rules of states/. Rows hold whatever the limits are, so one
search answers many questions.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property, partial
from time import perf_counter
from typing import TYPE_CHECKING, NamedTuple

from scenebook.planning.annealing import annealed
from scenebook.planning.cuts import broken, violated
from scenebook.planning.formulation import INFINITE, Program, Row, program_of
from scenebook.planning.halves import solved_in_halves
from scenebook.planning.instance import Instance, each_bit
from scenebook.planning.levels import Levels
from scenebook.planning.merging import Merges
from scenebook.planning.solving import Answer, Model, Relaxation, solved
from scenebook.planning.within import Within

if TYPE_CHECKING:
    from scenebook.planning.mean import MeanSearch

__all__ = ["Choice", "Progress", "Search"]

_ROUNDS, _ROWS_A_ROUND = 12, 400
_MANY, _SOME = 50, 1e-6  # units that are carried in part: a question so large that a close answer is sought first
_CLOSE = 0.0099  # how far from the bound that is, as a share
_STEPS_A_UNIT = 60  # of a walk, for each of the units to choose among
_MERGE_S, _ENOUGH = 3.0, 0.001  # for choosing anew what walks do not agree on, and how exactly
_A_GRAM, _A_UNIT = 0.1, 0.001  # of two sets worth as much the lighter is better, then the one with fewer units
_SLACK = 2e-5  # a row as tight as a solver is exact may be found to have no answer
_EQUAL = 1e-6  # two worths nearer than this are the same: likenesses are given by ear


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
        if share := self._begin(run, values, bound):
            run.divided_by = self._dividing(values)
            bound = self._climb(run, bound, share)[0]
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
        limits = _as_rows(run.within)
        bound, proved = self._by_mean.climb(run, run.within, limits, partial(self._begin, run))
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
            if not run.told(0, worth) or run.left <= 0:
                break
            rows = [*self._levels.broken(values), *violated(self.program, values, _ROWS_A_ROUND)]
            if not self.add(rows):
                break
            relaxation.add(rows)
        run.offer(_filled(run.within, values, len(self.instance.units)))
        return values, worth + self.instance.idle

    def _far(self, run: "_Run", share: float) -> float:
        """Return a worth that is a share above the best so far."""
        return self.instance.worth(run.carried) * (1.0 + share)

    def _begin(self, run: "_Run", values: Sequence[float], bound: float) -> float:
        """Of a large question find a good set first, from an answer in part and its bound.

        Return the share by which sets must be better to be looked for next: 0 where that is not worth while.
        """
        in_part = sum(_SOME < value < 1.0 - _SOME for value in values[: len(self.instance.units)])
        if in_part <= _MANY or bound <= self._far(run, _CLOSE):
            return 0.0
        among = sum(1 << number for number in range(len(self.instance.units)) if values[number] > _SOME) | run.carried
        steps = _STEPS_A_UNIT * among.bit_count()

        def go_on(carried: int) -> bool:
            return run.told(carried, bound - self.instance.idle) and run.left > 0

        self._walk(run, annealed(self.instance, run.within, run.carried, among, steps=steps, go_on=go_on))
        return _CLOSE

    def _dividing(self, values: Sequence[float]) -> int:
        """Return the unit that divides a question best: carried by half, and asked for by most of what is played."""
        weights = [0.0] * len(self.instance.units)
        for ask in self.instance.asks:
            for number in each_bit(ask.units):
                weights[number] += ask.weight
        return max(range(len(weights)), key=lambda number: weights[number] * min(values[number], 1.0 - values[number]))

    def _walk(self, run: "_Run", walks: Iterable[int]) -> None:
        """Beside each walk choose anew where those before did not agree with the best, until that is in vain."""
        found: list[int] = []
        merges, merging = Merges(), None
        with ThreadPoolExecutor(1) as beside:
            for walked in walks:
                if merging is not None:
                    before, answer = self._far(run, 0.0), merging.result()
                    self._learn(run, answer)
                    merges.note(better=self._far(run, 0.0) > before + _EQUAL, done=answer.proved)
                run.offer(walked)
                found.insert(0, walked)
                if merges.over or run.stopped or run.left <= 0:
                    break
                merging = beside.submit(self._chosen_anew(run, merges.among(run.carried, found)))

    def _chosen_anew(self, run: "_Run", among: int) -> Callable[[], Answer]:
        """Return the choice among some units, the others as they are in the best so far: it reads nothing later."""
        seconds, others = min(_MERGE_S, run.left), ((1 << len(self.instance.units)) - 1) & ~among
        if self.instance.mean:
            within = run.within._replace(must=run.carried & ~among, never=others & ~run.carried)
            return partial(self._mean_anew, _Run(self, within, seconds, partial(_goes_on, run)), run.carried)
        model = run.model(self.program.costs, also={n: float(run.carried >> n & 1) for n in each_bit(others)})
        above = self._far(run, 0.0) - self.instance.idle
        goes_on = partial(_goes_on, run)
        return partial(solved, model, above=above, seconds=seconds, enough=_ENOUGH, watch=goes_on)

    def _mean_anew(self, run: "_Run", start: int) -> Answer:
        run.offer(start)
        bound, proved = self._by_mean.climb(run, run.within, _as_rows(run.within))
        return Answer(run.carried, bound, proved)

    def _learn(self, run: "_Run", answer: Answer) -> bool:
        """Offer every set that was met, and add rows for what it does not keep; tell whether there were new ones."""
        fresh = False
        for carried in (*answer.met, *([answer.carried] if answer.carried is not None else [])):
            if run.within.fits(carried):
                run.offer(carried)
                fresh |= not self.instance.mean and self.add(broken(self.program, carried))
        return fresh

    def _climb(self, run: "_Run", bound: float, share: float = 0.0) -> tuple[float, bool]:
        """Solve, and add rows for what is not kept, until the promise is kept or time is over.

        Sets that are better by no more than a share are not looked for: that the rest is no better is sooner known.
        """
        while run.left > 0 and not run.stopped:
            fresh = self.add(broken(self.program, run.carried))
            above = self._far(run, share)
            model = run.model(self.program.costs)
            answer = run.solved(model, above - self.instance.idle)
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

        def told(carried: int, _: float) -> bool:  # a bound on lightness is none on worth, and that is known by now
            return run.told(carried, worth - self.instance.idle)

        while run.left > 0 and not run.stopped:
            answer = solved(run.model(costs, least), start=start, seconds=run.left, watch=told)
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
        self.divided_by: int | None = None  # of a large question, the unit with which and without which it is asked

    @property
    def left(self) -> float:
        """The seconds that are left."""
        return self._seconds - (perf_counter() - self._start)

    def model(self, costs: Sequence[float], *more: Row, also: Mapping[int, float] | None = None) -> Model:
        """Return the program with the limits of this choice, and with what else is fixed."""
        limits = _as_rows(self.within)
        fixed = dict.fromkeys(each_bit(self.within.must), 1.0) | dict.fromkeys(each_bit(self.within.never), 0.0)
        rows = [*self._search.program.rows, *limits, *more]
        return Model(costs, rows, len(self._search.instance.units), {**(also or {}), **fixed})

    def solved(self, model: Model, above: float) -> Answer:
        """Return the best set that is worth more than is known, of a large question in two halves."""
        if self.divided_by is None:
            return solved(model, above=above, seconds=self.left, watch=self.told)
        return solved_in_halves(model, self.divided_by, above=above, seconds=self.left, watch=self.told)

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


def _goes_on(run: _Run, *_: object) -> bool:
    """Return whether a smaller choice may go on: it is told of nothing."""
    return not run.stopped


def _as_rows(within: Within) -> list[Row]:
    """Return the limits as rows over the units."""
    return [(-INFINITE, dict(enumerate(limit.counts)), limit.most) for limit in within.limits]


def _filled(within: Within, values: Sequence[float], count: int) -> int:
    """Return a set that fits, filled with the units of which an answer in part carries most."""
    carried = within.must
    for number in sorted(range(count), key=lambda number: -values[number]):
        if values[number] > 0 and within.fits(carried | 1 << number):
            carried |= 1 << number
    return carried
