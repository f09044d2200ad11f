"""The best set of units by the mean score: branch and bound on the units, over bounds on each scene.

The program has a variable for each unit and one for what each scene is worth; its rows are the bounds that promises.py
finds where they are broken, so that it stays small and is solved on from where it stood. A whole answer that promises
more than places and sections allow (S9) gets rows against that: on a largest set of units on which the scene comes to
no more, one of those outside has to be carried. A branch ends where it cannot be better than the best so far.
"""

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy
from numpy.typing import NDArray

from scenebook.planning.doubts import BROKEN, Doubts
from scenebook.planning.formulation import INFINITE, Row
from scenebook.planning.instance import Instance, each_bit
from scenebook.planning.kept import KeptModel, Relaxed
from scenebook.planning.promises import Promises
from scenebook.planning.within import Within

__all__ = ["MeanSearch", "Run"]

Array = NDArray[numpy.float64]
_EQUAL, _SLACK = 1e-6, 2e-5
_WHOLE = 1e-6
_GRAM = 100.0  # of two sets worth as much the lighter is better, then the one with fewer units
_ENOUGH = 0.02  # an answer in part is near enough to what its scenes can come to
_ENOUGH_OF_GAP = 0.15  # or as a share of what is left to prove
_LOOPS, _PROBED, _MOVES, _TRIED, _TOLD = 60, 30, 12, 8, 8


class Run(Protocol):
    """One choice under way, as choice.py keeps it: the best set so far, and whether to go on."""

    carried: int
    stopped: bool

    @property
    def left(self) -> float:
        """The seconds that are left."""

    def offer(self, carried: int) -> None:
        """Keep a set that is better than the best so far."""

    def told(self, carried: int, bound: float) -> bool:
        """Hear of a set and the bound."""


Begin = Callable[[Sequence[float], float], float]
"""Told how much of each unit an answer in part carries, and its worth; may look for a good set.

Returns the share by which sets must be better than that to be looked for first: how far away the best can be is known
long before what it is.
"""


class _Node(NamedTuple):
    """A part of all sets: the least and the most of each unit, and what its parent and the step to it were."""

    least: Array
    most: Array
    bound: float
    unit: int = -1
    up: bool = False
    part: float = 0.0


class MeanSearch:
    """Chooses from one instance by the mean score; rows on places (S9), dear to find, are kept between choices."""

    def __init__(self, instance: Instance, weights: Sequence[float]) -> None:
        """Lay out the scenes; `weights` decide between sets of equal worth."""
        self.instance, self.weights = instance, weights
        self.promises = Promises(instance)
        self.doubts = Doubts(instance, self.promises)

    def climb(self, run: Run, within: Within, limits: Sequence[Row], begin: Begin | None = None) -> tuple[float, bool]:
        """Find the best set; return the bound on any, and whether that is what the best is worth.

        `begin` may look for a first set, from the first answer in part and its bound.
        """
        tree = _Tree(self, run, within, self._model(limits), begin=begin)
        tree.search()
        if tree.done and tree.share:
            tree = _Tree(self, run, within, self._model(limits), cap=tree.bound)
            tree.search()
        worth = self.instance.worth(run.carried)
        bound = tree.bound + self.instance.idle
        return (worth, True) if tree.done else (max(worth, bound), False)

    def settle(self, run: Run, within: Within, limits: Sequence[Row]) -> bool:
        """Look for a lighter set that is worth as much; tell whether it is certain that there is none."""
        tree = _Tree(self, run, within, self._model(limits), settling=True)
        tree.search()
        return tree.done

    def _model(self, limits: Sequence[Row]) -> KeptModel:
        costs = numpy.concatenate([numpy.zeros(self.promises.count), numpy.ones(len(self.promises.weights))])
        most = numpy.concatenate([numpy.ones(self.promises.count), self.promises.weights])
        return KeptModel(costs, most, [*limits, *self.doubts.rows])


@dataclass
class _Gains:
    """What a branch on each unit has cost so far, down and up, for one whole step."""

    sums: Array
    seen: Array

    def note(self, unit: int, *, up: bool, cost: float, part: float) -> None:
        """Keep what a step cost that led from a part of a unit to all of it, or to none."""
        step = (1.0 - part) if up else part
        if step > _WHOLE:
            self.sums[unit, int(up)] += cost / step
            self.seen[unit, int(up)] += 1.0

    def score(self, parts: Array) -> Array:
        """Return how much a branch on each unit promises to bring the bound down on both sides."""
        common = self.sums.sum(axis=0) / numpy.maximum(1.0, self.seen.sum(axis=0))
        each = numpy.where(self.seen > 0, self.sums / numpy.maximum(1.0, self.seen), common + 1e-3)
        down, up = each[:, 0] * parts, each[:, 1] * (1.0 - parts)
        return numpy.maximum(down, 1e-4) * numpy.maximum(up, 1e-4)


class _Tree:
    """All sets within limits, split again and again; what is left of them is no better than the best so far."""

    def __init__(
        self,
        mean: MeanSearch,
        run: Run,
        within: Within,
        model: KeptModel,
        *,
        begin: Begin | None = None,
        cap: float = INFINITE,
        settling: bool = False,
    ) -> None:
        self._mean, self._run, self._within, self._model = mean, run, within, model
        self._count = count = mean.promises.count
        self._first, self._cap, self._settling = begin, cap, settling
        self._gains = _Gains(numpy.zeros((count, 2)), numpy.zeros((count, 2)))
        least = numpy.array([float(within.must >> number & 1) for number in range(count)])
        most = numpy.array([float(not within.never >> number & 1) for number in range(count)])
        self._root = _Node(least, most, float(mean.promises.weights.sum()))
        self._open: list[tuple[float, int, _Node]] = []
        self._number, self._roomy = 0, 0
        self.bound, self.done, self.share = self._root.bound, False, 0.0
        self._best = run.carried, mean.instance.worth(run.carried)
        self._base = self._best[1] - mean.instance.idle

    @property
    def _need(self) -> float:
        """What a branch must promise more than to be looked at."""
        if self._settling:
            return self._base - _SLACK
        if self._best[0] != self._run.carried:
            self._best = self._run.carried, self._mean.instance.worth(self._run.carried)
        return self._best[1] * (1.0 + self.share) - self._mean.instance.idle + _EQUAL

    def search(self) -> None:
        """Look through all sets, until time is over or the player says stop."""
        if self._settling:
            self._model.add([self._lighter()])
        node: _Node | None = self._root
        while node is not None or self._open:
            if node is None:
                node = heapq.heappop(self._open)[2]
            self.bound = min(self._cap, max(node.bound, -self._open[0][0] if self._open else -INFINITE))
            if self.bound <= self._need and not self._settling:
                break
            if self._run.left <= 0 or self._run.stopped:
                return
            node = self._step(node)
        self.bound, self.done = self._need, True

    def _step(self, node: _Node) -> _Node | None:
        """Look at one part: return the half to go on with, and put the other by."""
        if node.bound <= self._need:
            return None
        found = self._looked(node)
        if node.unit >= 0:
            cost = node.bound - max(self._need, found.worth if found else -INFINITE)
            self._gains.note(node.unit, up=node.up, cost=cost, part=node.part)
        if node is self._root and found is not None:
            self.bound = min(self._cap, found.worth)
        if self._number % _TOLD == 0:
            self._run.told(0, self._base if self._settling else max(self.bound, self._need))
        if found is None:
            return None
        if self._run.stopped:
            self._put_by(node._replace(bound=found.worth))
            return None
        least, most = self._fixed(node, found)
        values = found.values[: self._count]
        if node is self._root:
            self._begin(found, least, most)
        elif not self._settling and self._number % _TOLD == 0:
            self._improve(values)
        scores = self._gains.score(values)
        scores[(values < _WHOLE) | (values > 1.0 - _WHOLE)] = -1.0
        scores[least == most] = -2.0
        unit = int(scores.argmax())
        below, above = most.copy(), least.copy()
        below[unit], above[unit] = 0.0, 1.0
        part = float(values[unit])
        self._put_by(_Node(least, below, found.worth, unit, False, part))
        return _Node(above, most, found.worth, unit, True, part)

    def _put_by(self, node: _Node) -> None:
        self._number += 1
        heapq.heappush(self._open, (-node.bound, -self._number, node))

    def _begin(self, found: Relaxed, least: Array, most: Array) -> None:
        """Begin with a good set near the first answer, and with what branches on some units would cost."""
        if not self._settling:
            self._improve(found.values[: self._count])
        if self._first is not None:
            self.share = self._first(found.values[: self._count].tolist(), found.worth + self._mean.instance.idle)
        values = found.values[: self._count]
        parts = numpy.minimum(values, 1.0 - values)
        for unit in numpy.argsort(-parts, kind="stable")[:_PROBED].tolist():
            if parts[unit] < _WHOLE or self._run.stopped or self._run.left <= 0:
                break
            for up in (False, True):
                low, high = least.copy(), most.copy()
                low[unit], high[unit] = (1.0, 1.0) if up else (0.0, 0.0)
                answer = self._asked(low, high)
                cost = found.worth - max(self._need, answer.worth if answer else -INFINITE)
                self._gains.note(unit, up=up, cost=cost, part=float(values[unit]))

    def _fixed(self, node: _Node, found: Relaxed) -> tuple[Array, Array]:
        """Return the bounds of the units, with those fixed that could not be better the other way."""
        values, gains = found.values[: self._count], found.gains[: self._count]
        least, most, need = node.least.copy(), node.most.copy(), self._need
        most[(values < _WHOLE) & (found.worth + gains <= need)] = 0.0
        least[(values > 1.0 - _WHOLE) & (found.worth - gains <= need)] = 1.0
        return least, most

    def _asked(self, least: Array, most: Array) -> Relaxed | None:
        if (least > most).any():
            return None
        self._model.within(least, most)
        self._model.worthless(self._need)
        return self._model.solved()

    def _looked(self, node: _Node) -> Relaxed | None:
        """Solve one part and write down what its answer breaks; None where there is nothing better in it."""
        if self._roomy and self._model.count > self._roomy:
            self._model.forget_idle()
            self._roomy = max(self._roomy, 2 * self._model.count)
        found = self._asked(node.least, node.most)
        for _ in range(_LOOPS):
            if found is None or found.worth <= self._need:
                return None
            rows, over = self._breaks(found)
            parts = found.values[: self._count]
            if (numpy.minimum(parts, 1.0 - parts) < _WHOLE).all():
                more = self._whole(found.values)
                if more is None:
                    return None
                rows += more
                if not rows:
                    return None
            elif over < max(_ENOUGH, (0.0 if node is self._root else _ENOUGH_OF_GAP) * (found.worth - self._need)):
                rows = self._mean.doubts.keep(self._mean.doubts.doubted(found.values)) if node is self._root else []
                if not rows:
                    break
            self._model.add(rows)
            found = self._model.solved()
        if node is self._root:
            self._model.forget_idle()
            self._roomy = 3 * self._model.count
            found = self._model.solved()
        return found

    def _breaks(self, found: Relaxed) -> tuple[list[Row], float]:
        """Return the bounds on scenes that an answer breaks, and by how much all together."""
        promises, count = self._mean.promises, self._count
        stand = promises.at(numpy.clip(found.values[:count], 0.0, 1.0))
        over = found.values[count:] - stand.worth
        rows: list[Row] = []
        for scene in numpy.flatnonzero(over > BROKEN).tolist():
            bound = promises.bound(stand, scene)
            shares = {unit: -share for unit, share in bound.shares.items()}
            rows.append((-INFINITE, {count + scene: 1.0, **shares}, bound.constant))
        return rows, float(numpy.maximum(over, 0.0).sum())

    def _whole(self, values: Array) -> list[Row] | None:
        """Take a whole answer: return rows against what it promises in vain; None where all it promises is true."""
        carried = sum(1 << number for number in range(self._count) if values[number] > 0.5)
        if not self._within.fits(carried):  # a limit missed by less than the solver sees
            return [(-INFINITE, dict.fromkeys(each_bit(carried), 1.0), carried.bit_count() - 1.0)]
        before = self._run.carried
        self._run.offer(carried)
        rows = self._mean.doubts.refuted(values, carried)
        self._mean.doubts.keep(rows)
        if self._settling and self._run.carried != before:
            rows.append(self._lighter())
        return rows

    def _lighter(self) -> Row:
        """Return the row that asks for sets lighter than the best so far, or as light with fewer units."""
        costs = {number: weight * _GRAM + 1.0 for number, weight in enumerate(self._mean.weights)}
        return -INFINITE, costs, sum(costs[number] for number in each_bit(self._run.carried)) - 0.5

    def _improve(self, values: Array) -> None:
        """Take a set near an answer in part, and exchange units while that makes it better."""
        carried = self._within.must
        for number in numpy.argsort(-values, kind="stable").tolist():
            if values[number] > _WHOLE and self._within.fits(carried | 1 << number):
                carried |= 1 << number
        self._run.offer(carried)
        some = sum(1 << int(number) for number in numpy.flatnonzero(values > _WHOLE))
        for _ in range(_MOVES):
            before = self._run.carried
            sets = self._near(before, some)
            if not sets or self._run.left <= 0:
                return
            table = numpy.array([[each >> number & 1 for number in range(self._count)] for each in sets], dtype=bool)
            worths = self._mean.promises.of_sets(table)
            for place in numpy.argsort(-worths, kind="stable")[:_TRIED].tolist():
                self._run.offer(sets[place])
            if self._run.carried == before:
                return

    def _near(self, carried: int, some: int) -> list[int]:
        """Return the sets within limits that come of taking one unit in, or one in for one out."""
        away = [0, *(1 << number for number in each_bit(carried & ~self._within.must))]
        added = [1 << number for number in each_bit(some & ~carried & ~self._within.never)]
        return [each for out in away for more in added if self._within.fits(each := carried & ~out | more)]
