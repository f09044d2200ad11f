"""Good sets of units to begin with, by simulated annealing: one unit is taken in, and what it leaves no room for goes.

A set that is worse is gone on with as well, the less often the worse it is and the later (Kirkpatrick, Gelatt and
Vecchi, "Optimization by Simulated Annealing", Science 220, 1983; from memory). A step asks only those scenes that the
exchanged units have to do with. Several short walks find more than a long one, since what they do not agree on can be
chosen anew afterwards. Chance comes from a seed, and effort is a number of steps: the same question has the same answer
on a busy machine.
"""

import math
import random
from collections.abc import Callable, Iterable, Iterator

from scenebook.planning.instance import Instance, each_bit
from scenebook.planning.within import Within

__all__ = ["annealed"]

_HOT, _COLD = 3.0, 0.3  # what may be lost in a step at first, and at last, in scenes played as often as most are
_EXCHANGED = 0.8  # how often a unit goes though there would be room
_GO = 2  # how many units may go for one
_TOLD = 256  # steps from one look at the time to the next
_EQUAL = 1e-6


def annealed(
    instance: Instance, within: Within, start: int, among: int, *, steps: int, go_on: Callable[[int], bool]
) -> Iterator[int]:
    """Yield the best set within limits of one walk after another, each of so many steps from a first set.

    Only units of `among` come in. `go_on` is told the best set of the walk now and then, and may end the work.
    """
    scenes, number = _Scenes(instance), 0
    while True:
        walk = _Walk(scenes, within, start, among, number)
        for step in range(steps):
            if not walk.away or (step % _TOLD == 0 and not go_on(walk.best)):
                yield walk.best
                return
            walk.step(scenes.usual * _HOT * (_COLD / _HOT) ** (step / steps))
        yield walk.best
        number += 1


class _Scenes:
    """The scenes of a question: which ask for a unit, and how often they are played as a rule."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.asking: list[set[int]] = [set() for _ in instance.units]
        for number, ask in enumerate(instance.asks):
            for unit in each_bit(ask.units):
                self.asking[unit].add(number)
        self.usual = sum(ask.weight for ask in instance.asks) / max(1, len(instance.asks))


class _Walk:
    """Where a walk stands: the set, what each scene comes to on it, and what counts towards each limit."""

    def __init__(self, scenes: _Scenes, within: Within, start: int, among: int, seed: int) -> None:
        self._scenes, self._within = scenes, within
        self._pick = random.Random(seed)
        self._carried = self.best = start
        self._here = list(each_bit(start & ~within.must))
        self.away = [unit for unit in each_bit(among & ~start & ~within.never) if scenes.asking[unit]]
        self._counts = [limit.of(start) for limit in within.limits]
        self._worths = [scenes.instance.weighed(number, start) for number in range(len(scenes.instance.asks))]
        self._behind = 0.0  # the best set, in worth

    def step(self, heat: float) -> None:
        """Exchange units by chance, and go on from there unless that loses more than the heat allows."""
        comes = self._pick.choice(self.away)
        exchange = self._exchange(comes)
        if exchange is None:
            return
        goes, counts = exchange
        carried = (self._carried | 1 << comes) & ~sum(1 << unit for unit in goes)
        changed = self._changed(carried, (comes, *goes))
        gain = sum(worth - self._worths[number] for number, worth in changed)
        if gain < 0 and self._pick.random() >= math.exp(gain / heat):
            return
        self._carried, self._counts = carried, counts
        for number, worth in changed:
            self._worths[number] = worth
        self.away.remove(comes)
        self.away += goes
        self._here = [unit for unit in self._here if unit not in goes] + [comes]
        self._behind -= gain
        if self._behind < -_EQUAL and self._within.fits(carried):
            self.best, self._behind = carried, 0.0

    def _exchange(self, comes: int) -> tuple[list[int], list[float]] | None:
        """Return what goes for a unit that comes, and what then counts; None where that would still be too much."""
        limits = self._within.limits
        some = self._pick.sample(self._here, min(_GO, len(self._here)))
        for many in range(self._pick.random() < _EXCHANGED, len(some) + 1):
            goes = some[:many]
            counts = [
                count + limit.counts[comes] - sum(limit.counts[unit] for unit in goes)
                for count, limit in zip(self._counts, limits, strict=True)
            ]
            if all(count <= limit.most for count, limit in zip(counts, limits, strict=True)):
                return goes, counts
        return None

    def _changed(self, carried: int, exchanged: Iterable[int]) -> list[tuple[int, float]]:
        """Return the scenes that come to more or less on a set, and to what."""
        instance, worths = self._scenes.instance, self._worths
        known, changed = instance.known, []
        for number in set().union(*(self._scenes.asking[unit] for unit in exchanged)):
            units, before = known[number]
            worth = before.get(carried & units)
            if worth is None:
                worth = instance.weighed(number, carried)
            if worth != worths[number]:
                changed.append((number, worth))
        return changed
