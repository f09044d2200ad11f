"""Rows that hold the worst need of a scene at every level of likeness, written down where an answer breaks them.

The program (formulation.py) says that a scene's score is at most that of each of its musts. So it may count one must's
good half and another's bad half as one whole. But the worst reaches a level only where every must does: at each level,
from the one below, it gains at most what the must gains there that is met least. Which must that is depends on the
answer, and all rows at once would be thousands; the few that an answer breaks lower the bound as much as all.
"""

from collections.abc import Sequence
from typing import NamedTuple

from scenebook.planning.formulation import INFINITE, Program, Row, SceneVariables, levels_of
from scenebook.planning.instance import Ask

__all__ = ["Levels"]

_BROKEN = 1e-4


class _Way(NamedTuple):
    """What may hold a scene at a level: a variable, and the units of which one has to be carried (none: it alone)."""

    variable: int
    units: tuple[int, ...]

    def met(self, values: Sequence[float]) -> float:
        """Return how far an answer in part goes, from 0 to 1: as far as its units let it go."""
        return min(1.0, sum(values[unit] for unit in self.units)) if self.units else values[self.variable]


class _Held(NamedTuple):
    """A variable that is held at each of some levels: what the level gives, and what may hold it there."""

    variable: int
    levels: tuple[tuple[float, tuple[_Way, ...]], ...]


class Levels:
    """The levels of all scores of a program in which several musts have a part."""

    def __init__(self, program: Program) -> None:
        """Read the program; it gains no variable."""
        self._held: list[_Held] = []
        for ask, scene in zip(program.instance.asks, program.scenes, strict=True):
            for score in scene.scores:
                if len(score.needs) > 1 and len(score.parts) <= 2:  # more: each level has its own variable there
                    self._held.append(_held(program, ask, scene, score.needs, score.parts))

    def broken(self, values: Sequence[float]) -> list[Row]:
        """Return the rows that an answer in part breaks, one for a scene at most."""
        rows = []
        for held in self._held:
            said = values[held.variable]
            if said <= _BROKEN:
                continue
            row, true = {held.variable: 1.0}, 0.0
            for gives, ways in held.levels:
                met, variable = min((way.met(values), way.variable) for way in ways)
                row[variable] = row.get(variable, 0.0) - gives
                true += gives * met
            if said > true + _BROKEN:
                rows.append((-INFINITE, row, 0.0))
        return rows


def _held(
    program: Program, ask: Ask, scene: SceneVariables, numbers: tuple[int, ...], parts: dict[int, float]
) -> _Held:
    needs = [ask.needs[number] for number in numbers]
    levels = levels_of(needs)
    gated = scene.gate in parts
    (variable,) = [each for each in parts if each != scene.gate]
    before = levels[0] if gated else 0.0
    gate = [_Way(scene.gate, ())] if gated and scene.gate is not None else []
    held = []
    for level in levels[gated:]:
        ways = list(gate)
        for need in needs:
            units = tuple(unit for unit, like in need.best.items() if like >= level)
            ways.append(_Way(program.met(need, min(need.best[unit] for unit in units)), units))
        held.append((level - before, tuple(ways)))
        before = level
    return _Held(variable, tuple(held))
