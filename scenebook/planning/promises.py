"""What the mean score of each scene could come to on units carried in part, all scenes at once, and why.

For units carried in part a scene is played in part: each of its musts shares that part out among what meets it, the
likest first. How much to play is where one more bit of it no longer pays. What decided there, read as prices, is a
linear bound on the scene that holds for every set of units, and that is exact for the one asked; the program of the
mean score consists of such bounds (Benders' decomposition). That a place serves one need, and a unit so many sections
at once (S9), is not in them: they promise no less than is true, and the search takes the rest away.
"""

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy
from numpy.typing import NDArray

from scenebook.planning.instance import Ask, Instance, Need, each_bit

__all__ = ["Bound", "Promises", "Stand"]

Array = NDArray[numpy.float64]
_NEAR = 1e-9


class Bound(NamedTuple):
    """A scene's worth, weight included, is at most the constant and a share for each unit that is carried."""

    scene: int
    constant: float
    shares: dict[int, float]


class Stand(NamedTuple):
    """All scenes on units carried in part: what each is worth, how much it is played, and each need's price there.

    A price lies between what one bit less would have cost (`left`) and what one bit more would give (`right`).
    """

    worth: Array
    played: Array
    left: Array
    right: Array
    refused: Array


class Promises:
    """The scenes of an instance as tables: a row for each need, a column for each unit that may meet it."""

    def __init__(self, instance: Instance) -> None:
        """Lay out the needs, the likest unit first."""
        self.instance, self.count = instance, len(instance.units)
        self.weights = numpy.array([ask.weight for ask in instance.asks])
        needs = [(number, ask, need) for number, ask in enumerate(instance.asks) for need in ask.needs]
        self._scene = numpy.array([number for number, _, _ in needs], dtype=numpy.intp)
        self._must = numpy.array([not need.colour for _, _, need in needs], dtype=bool)
        self._rows = _rows_by_scene(instance)
        ranked = [_ranked(ask, need) for _, ask, need in needs]
        self._units, self._likes = _table(self.count, ranked)
        self._wide = numpy.array([len(row) for row in ranked])
        self._ends = numpy.cumsum([0, *(len(ask.needs) for ask in instance.asks)])
        self._idle = numpy.array([0.0 if _counted(ask) else ask.weight for ask in instance.asks])
        self._penalty = instance.colour_share * self.weights[self._scene]
        self._refusing = [(number, unit) for number, ask in enumerate(instance.asks) for unit in each_bit(ask.refusing)]
        self._line = numpy.arange(len(needs))
        self.doubtful = [number for number, ask in enumerate(instance.asks) if _doubtful(instance, ask)]

    def at(self, carried: Array) -> Stand:
        """Return where all scenes stand on units carried in part, each from 0 to 1."""
        filled = numpy.cumsum(numpy.append(carried, 0.0)[self._units], axis=1)
        most = self._most(carried, filled[:, -1])
        played = self._best(filled, most)
        share = played[self._scene]
        left, right = self._prices(filled, share)
        parts = numpy.diff(numpy.minimum(filled, share[:, None]), axis=1, prepend=0.0)
        lack = numpy.maximum(0.0, share - filled[:, -1]) * self._penalty
        gain = numpy.where(self._must, (self._likes * parts).sum(axis=1), -lack)
        return Stand(self._sums(gain) + self._idle * played, played, left, right, carried)

    def of_sets(self, sets: NDArray[numpy.bool_]) -> Array:
        """Return what many sets of units could be worth, a row of the table each."""
        there = numpy.column_stack([sets, numpy.zeros(len(sets), dtype=bool)])[:, self._units]
        met = (there & (numpy.arange(self._units.shape[1]) < self._wide[:, None])).any(axis=2)
        gain = numpy.where(self._must, (there * self._likes).max(axis=2), -self._penalty * ~met)
        lacking = self._by_scene((self._must & ~met).astype(numpy.float64)) > 0.5
        for scene, unit in self._refusing:
            lacking[:, scene] |= sets[:, unit]
        worth = numpy.maximum(0.0, self._by_scene(gain) + self._idle)
        return numpy.asarray(numpy.where(lacking, 0.0, worth).sum(axis=1), dtype=numpy.float64)

    def _by_scene(self, values: Array) -> Array:
        """Return the sums over the needs of each scene, for many sets at once."""
        sums = numpy.column_stack([numpy.zeros(len(values)), numpy.cumsum(values, axis=1)])
        return numpy.asarray(sums[:, self._ends[1:]] - sums[:, self._ends[:-1]], dtype=numpy.float64)

    def bound(self, stand: Stand, scene: int) -> Bound:
        """Return the bound on a scene that is exact where it stands."""
        rows = self._rows[scene]
        prices = {row: float(stand.left[row]) for row in rows}
        over = float(self._idle[scene]) + sum(prices.values())
        constant = over
        refused: int | None = None
        if stand.played[scene] < 1 - _NEAR:
            for row in rows:
                step = max(0.0, min(over, prices[row] - float(stand.right[row])))
                prices[row] -= step
                over -= step
            if over > _NEAR:
                refused = self._refuser(stand, scene)
            constant = over if refused is not None else max(0.0, over)
        return Bound(scene, constant, self._shares(scene, prices, refused, constant))

    def _shares(self, scene: int, prices: dict[int, float], refused: int | None, constant: float) -> dict[int, float]:
        shares: dict[int, float] = {} if refused is None else {refused: -constant}
        for row, price in prices.items():
            for unit, like in zip(self._units[row].tolist(), self._likes[row].tolist(), strict=True):
                more = (like if self._must[row] else 0.0) - price
                if unit < self.count and more > _NEAR:
                    shares[unit] = shares.get(unit, 0.0) + more
        return shares

    def _refuser(self, stand: Stand, scene: int) -> int | None:
        units = [unit for number, unit in self._refusing if number == scene]
        return max(units, key=lambda unit: float(stand.refused[unit]), default=None)

    def _sums(self, values: Array) -> Array:
        sums = numpy.bincount(self._scene, weights=values, minlength=len(self.weights))
        return numpy.asarray(sums, dtype=numpy.float64)

    def _most(self, carried: Array, total: Array) -> Array:
        """Return how much of each scene can be played: no more than of each of its musts."""
        most = numpy.ones(len(self.weights))
        numpy.minimum.at(most, self._scene[self._must], total[self._must])
        for scene, unit in self._refusing:
            most[scene] = min(most[scene], max(0.0, 1.0 - carried[unit]))
        return most

    def _best(self, filled: Array, played: Array) -> Array:
        """Return how much of each scene it pays to play: less, from the most on, while the last bit costs."""
        total = filled[:, -1]
        while True:
            share = played[self._scene]
            slope = self._idle + self._sums(self._prices(filled, share)[0])
            down = (slope < -_NEAR) & (played > _NEAR)
            if not down.any():
                return played
            below = numpy.where(filled < share[:, None] - _NEAR, filled, 0.0).max(axis=1, initial=0.0)
            below = numpy.where(self._must, below, numpy.where(total < share - _NEAR, total, 0.0))
            lower = numpy.zeros(len(played))
            numpy.maximum.at(lower, self._scene, below)
            played = numpy.where(down, lower, played)

    def _prices(self, filled: Array, share: Array) -> tuple[Array, Array]:
        total, last = filled[:, -1], filled.shape[1] - 1
        under = numpy.minimum((filled < share[:, None] - _NEAR).sum(axis=1), last)
        over = numpy.minimum((filled <= share[:, None] + _NEAR).sum(axis=1), last)
        full = total <= share + _NEAR
        left = numpy.where(self._must, self._likes[self._line, under], -self._penalty * (total < share - _NEAR))
        right = numpy.where(full, -numpy.inf, self._likes[self._line, over])
        return left, numpy.where(self._must, right, -self._penalty * full)


def _counted(ask: Ask) -> list[int]:
    return [number for number in ask.musts if not ask.needs[number].trigger]


def _rows_by_scene(instance: Instance) -> list[range]:
    rows, start = [], 0
    for ask in instance.asks:
        rows.append(range(start, start + len(ask.needs)))
        start += len(ask.needs)
    return rows


def _ranked(ask: Ask, need: Need) -> list[tuple[float, int]]:
    """Return what meets a need, the likest first, and how much each adds to the worth of the scene."""
    share = 0.0 if need.colour or need.trigger else ask.weight / len(_counted(ask))
    found = [(like * share, unit) for unit, like in need.best.items() if like > 0 or need.colour]
    return sorted(found, reverse=True)


def _table(nobody: int, ranked: list[list[tuple[float, int]]]) -> tuple[NDArray[Any], Array]:
    wide = max((len(row) for row in ranked), default=1)
    units, likes = numpy.full((len(ranked), wide), nobody), numpy.zeros((len(ranked), wide))
    for number, row in enumerate(ranked):
        units[number, : len(row)] = [unit for _, unit in row]
        likes[number, : len(row)] = [like for like, _ in row]
    return units, likes


def _doubtful(instance: Instance, ask: Ask) -> bool:
    """Whether a scene may come to less than each need's best: two needs may want one place, or too many sections."""
    if not ask.steady:
        return True
    limited = {by for by, most in enumerate(instance.sections) if most is not None}
    wanted: dict[int, int] = {}
    for by, number in _wanted(ask):
        wanted[by] = wanted.get(by, 0) | 1 << number
    return any(needs.bit_count() > 1 or by in limited for by, needs in wanted.items())


def _wanted(ask: Ask) -> Iterator[tuple[int, int]]:
    for number, need in enumerate(ask.needs):
        for offer in need.offers:
            yield offer.by, number
