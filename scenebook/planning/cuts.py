"""Where the program promises more of a scene than its places allow (S9), and the rows that take the promise away.

A scene on more units comes to no less, need by need, as long as each need asks for the likest first: then, of a set
that does not do, a largest one that still does not is looked for, and one of the units outside it has to be carried for
more. Where a nearer stand-in is less like than a wider one that is not so, nor where a scene leaves what a stand-in
plays; there the row holds for just the units that decided.

What is proved is S9's own sharing-out of places. The best sharing-out can be better: a need that could do with its
second place takes its first, and another lacks. A rig is worth what states/ makes of it: such a promise goes as well.
"""

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from scenebook.planning.formulation import INFINITE, Program, Row, SceneVariables, levels_of
from scenebook.planning.instance import Ask, Found, each_bit

__all__ = ["broken", "violated"]

Level = Callable[[Found], float]
_ROUNDED = 1e-9
_SOME = 4  # levels that are tried for one variable
_WORTH_HAVING = 0.02  # by how much a fractional answer must break a row


class _Promise(NamedTuple):
    """Something that the program says of a scene, as a sum of variables; what is true of it, and what it may be."""

    parts: dict[int, float]
    true: Level
    levels: tuple[float, ...] = (0.0,)
    most: float = 1.0


def broken(program: Program, carried: int) -> list[Row]:
    """Return rows against all that the program promises of a set of units and that they do not do."""
    instance, rows = program.instance, []
    order = [*each_bit(carried), *(number for number in range(len(instance.units)) if not carried >> number & 1)]
    for ask, scene in zip(instance.asks, program.scenes, strict=True):
        true, promised = instance.found(ask, carried), instance.at_best(ask, carried)
        if not promised.settable or (true.likeness == promised.likeness and true.settable):
            continue
        for promise in _promises(ask, scene):
            level = promise.true(true)
            if promise.true(promised) > level + _ROUNDED:
                rows.append(_row(program, ask, promise, level, carried, order))
    return rows


def violated(program: Program, values: Sequence[float], most: int) -> list[Row]:
    """Return the rows that a fractional answer breaks most, of those found by adding units, greatest first."""
    instance = program.instance
    found: list[tuple[float, Row]] = []
    order = sorted(range(len(instance.units)), key=lambda number: -values[number])
    for ask, scene in zip(instance.asks, program.scenes, strict=True):
        if not ask.steady or len(ask.needs) < 2:
            continue
        units = ask.units & ~ask.refusing  # with one that refuses, the program promises nothing anyway
        ranked = [number for number in order if units >> number & 1]
        for promise in _promises(ask, scene):
            said = sum(values[variable] * part for variable, part in promise.parts.items())
            best: tuple[float, Row] | None = None
            for level in promise.levels:
                if level >= said:
                    break
                if promise.true(instance.found(ask, 0)) > level + _ROUNDED:
                    continue  # the scene comes to more with no unit at all
                outside = units & ~_grown(program, ask, promise, level, 0, ranked)
                by = said - level - (promise.most - level) * sum(values[number] for number in each_bit(outside))
                if by > max(_WORTH_HAVING, best[0] if best else 0.0):
                    best = by, _as_row(promise, level, outside, 0)
            if best is not None:
                found.append((best[0] * ask.weight, best[1]))
    found.sort(key=lambda item: -item[0])
    return [row for _, row in found[:most]]


def _promises(ask: Ask, scene: SceneVariables) -> Iterator[_Promise]:
    """Yield what the program says of a scene: that it is played, each score, and each colour where it is played."""
    if scene.gate is not None:
        yield _Promise({scene.gate: 1.0}, lambda found: float(_played(ask, found)))
    for score in scene.scores:
        low, levels = 0.0, (0.0, *levels_of(ask.needs[number] for number in score.needs))
        for variable, part in score.parts.items():
            if variable != scene.gate:
                inside = [(level - low) / part for level in levels if low <= level < low + part]
                some = tuple(inside[:: max(1, len(inside) // _SOME)])
                yield _Promise({variable: 1.0}, _worst(ask, score.needs, low, part), some, min(1.0, (1.0 - low) / part))
            low += part
    for colour, lack in scene.lacks.items():
        assert scene.gate is not None
        yield _Promise({scene.gate: 1.0, lack: -1.0}, _is_met(colour))


def _played(ask: Ask, found: Found) -> bool:
    return found.settable and all(found.likeness[number] > 0 for number in ask.musts)


def _worst(ask: Ask, needs: tuple[int, ...], low: float, part: float) -> Level:
    """Return how much of a part of the likeness, from `low` on, the worst of some needs fills."""

    def worst(found: Found) -> float:
        like = min(found.likeness[number] for number in needs) if _played(ask, found) else 0.0
        return min(1.0, max(0.0, (like - low) / part))

    return worst


def _is_met(colour: int) -> Level:
    return lambda found: float(found.likeness[colour] >= 0)


def _row(program: Program, ask: Ask, promise: _Promise, level: float, carried: int, order: Sequence[int]) -> Row:
    if ask.steady and not carried & ask.refusing:
        units = ask.units & ~ask.refusing
        ranked = [number for number in order if units >> number & 1]
        inside = _grown(program, ask, promise, level, carried & units, ranked)
        return _as_row(promise, level, units & ~inside, 0)
    asked = program.instance.found(ask, carried).asked
    return _as_row(promise, level, asked & ~carried, asked & carried)


def _as_row(promise: _Promise, level: float, unless: int, or_without: int) -> Row:
    """Return: promise <= level + (most - level) x (how many of `unless` are carried, and of `or_without` are not)."""
    row, more = dict(promise.parts), promise.most - level
    for number in each_bit(unless):
        row[number] = row.get(number, 0.0) - more
    for number in each_bit(or_without):
        row[number] = row.get(number, 0.0) + more
    return -INFINITE, row, level + more * or_without.bit_count()


def _grown(program: Program, ask: Ask, promise: _Promise, level: float, inside: int, order: Sequence[int]) -> int:
    """Return a largest set of units, from `inside` on in this order, on which a scene comes to no more."""
    found = program.instance.found
    for number in order:
        bit = 1 << number
        if not inside & bit and promise.true(found(ask, inside | bit)) <= level + _ROUNDED:
            inside |= bit
    return inside
