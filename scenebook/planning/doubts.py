"""Rows against what a scene is promised beyond its places and sections (rule S9), for the program of the mean score.

A scene on more units comes to no less as long as each need asks for the likest first: then, of a set that does not do,
a largest one that still does not is looked for, and one of the units outside it has to be carried for more. Elsewhere
the row holds for just the units that decided.
"""

from collections.abc import Iterable, Iterator, Sequence

import numpy
from numpy.typing import NDArray

from scenebook.planning.formulation import INFINITE, Row
from scenebook.planning.instance import Ask, Instance, each_bit
from scenebook.planning.promises import Promises

__all__ = ["BROKEN", "Doubts"]

Array = NDArray[numpy.float64]
BROKEN = 1e-6  # by how much a row must be broken to be written down
_WORTH_HAVING = 0.02  # by how much an answer in part must break one


class Doubts:
    """Finds such rows for one instance, and keeps them: they hold whatever the limits are."""

    def __init__(self, instance: Instance, promises: Promises) -> None:
        """Begin with none."""
        self._instance, self._promises = instance, promises
        self._rows: dict[tuple[float, tuple[tuple[int, float], ...]], Row] = {}

    @property
    def rows(self) -> Iterable[Row]:
        """All rows that are kept."""
        return self._rows.values()

    def keep(self, rows: Sequence[Row]) -> list[Row]:
        """Keep rows on places and return those that were not known."""
        fresh = []
        for row in rows:
            key = row[2], tuple(sorted(row[1].items()))
            if key not in self._rows:
                self._rows[key] = row
                fresh.append(row)
        return fresh

    def refuted(self, values: Array, carried: int) -> list[Row]:
        """Return rows against what a whole answer promises of scenes beyond what the units really do."""
        count, rows = self._promises.count, []
        order = [*each_bit(carried), *(number for number in range(count) if not carried >> number & 1)]
        for number in self._promises.doubtful:
            ask = self._instance.asks[number]
            level = ask.weight * self._instance.value(ask, carried)
            if values[count + number] > level + BROKEN:
                rows.append(self._row(number, level, carried, order))
        return rows

    def doubted(self, values: Array) -> list[Row]:
        """Return the rows on places that an answer in part breaks, of those found by adding the most carried units."""
        count, rows = self._promises.count, []
        order = numpy.argsort(-values[:count], kind="stable").tolist()
        for number in self._promises.doubtful:
            ask = self._instance.asks[number]
            if ask.steady and values[count + number] > _WORTH_HAVING:
                ranked = [unit for unit in order if (ask.units & ~ask.refusing) >> unit & 1]
                best = max(self._broken(number, values, ranked), default=None, key=lambda found: found[0])
                rows += [best[1]] if best else []
        return rows

    def _broken(self, number: int, values: Array, ranked: Sequence[int]) -> Iterator[tuple[float, Row]]:
        """Yield by how much each row of a scene is broken, and the row, where it is worth having."""
        ask, count = self._instance.asks[number], self._promises.count
        inside, levels = 0, {0.0}
        for unit in ranked:
            levels.add(ask.weight * self._instance.value(ask, inside))
            inside |= 1 << unit
        said = float(values[count + number])
        for level in levels:
            if ask.weight * self._instance.value(ask, 0) <= level < said - _WORTH_HAVING:
                grown = self._grown(ask, level, 0, ranked)
                outside = [unit for unit in ranked if not grown >> unit & 1]
                by = said - level - (self._most(ask) - level) * float(values[outside].sum())
                if by > _WORTH_HAVING:
                    yield by, self._as_row(number, level, ask.units & ~ask.refusing & ~grown, 0)

    def _row(self, number: int, level: float, carried: int, order: Sequence[int]) -> Row:
        ask = self._instance.asks[number]
        units = ask.units & ~ask.refusing
        if ask.steady and not carried & ask.refusing:
            ranked = [unit for unit in order if units >> unit & 1]
            return self._as_row(number, level, units & ~self._grown(ask, level, carried & units, ranked), 0)
        asked = self._instance.found(ask, carried).asked
        return self._as_row(number, level, asked & ~carried, asked & carried)

    def _as_row(self, number: int, level: float, unless: int, or_without: int) -> Row:
        """Return: worth <= level + (most - level) x (how many of `unless` are carried, and of `or_without` are not)."""
        more = self._most(self._instance.asks[number]) - level
        row = {self._promises.count + number: 1.0, **dict.fromkeys(each_bit(unless), -more)}
        row |= dict.fromkeys(each_bit(or_without), more)
        return -INFINITE, row, level + more * or_without.bit_count()

    def _most(self, ask: Ask) -> float:
        best = self._instance.at_best(ask, ask.units & ~ask.refusing)
        return ask.weight * self._instance.value_of(ask, best)

    def _grown(self, ask: Ask, level: float, inside: int, order: Sequence[int]) -> int:
        """Return a largest set of units, from `inside` on in this order, on which a scene comes to no more."""
        for unit in order:
            more = inside | 1 << unit
            if more != inside and ask.weight * self._instance.value(ask, more) <= level + BROKEN / 2:
                inside = more
        return inside
