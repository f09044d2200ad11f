"""A choice of units as a linear program in which only "is carried" is whole.

For each kind of need one variable is the likeness that the carried units give it; it is shared by all scenes that have
the need. A scene's score is at most that of each of its musts. Where a colour may be missing, a gate says whether the
scene is played at all, so that a scene is never worth less than nothing; where that could pay off in part, each level
of likeness has its own variable. So the program is exact for likeness and colours wherever "is carried" is whole, with
no further whole variable. That places run out (S9) is not in it: it promises no less than is true, and cuts.py takes
the rest away.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

from scenebook.planning.instance import Ask, Instance, Need, each_bit

__all__ = ["INFINITE", "Program", "Row", "SceneVariables", "Score", "program_of"]

INFINITE = float("inf")

Row = tuple[float, dict[int, float], float]
"""Least, coefficients by variable, most."""


@dataclass(frozen=True)
class Score:
    """The worst likeness of some musts of a scene, as a sum of variables."""

    needs: tuple[int, ...]
    parts: dict[int, float]


@dataclass
class SceneVariables:
    """Where a scene stands in the program: the gate is 1 if it is played; what each colour's lack costs, by need."""

    gate: int | None = None
    scores: list[Score] = field(default_factory=list)
    lacks: dict[int, int] = field(default_factory=dict)


class Program:
    """A linear program to be made greater; its first variables say which unit is carried, and all are from 0 to 1."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.costs: list[float] = [0.0] * len(instance.units)
        self.rows: list[Row] = []
        self.scenes: list[SceneVariables] = []
        self._met: dict[tuple[frozenset[tuple[int, float]], float], int] = {}
        self._likeness: dict[frozenset[tuple[int, float]], int] = {}

    def variable(self, cost: float = 0.0) -> int:
        """Add a variable and return its number."""
        self.costs.append(cost)
        return len(self.costs) - 1

    def at_most(self, variable: int, others: Mapping[int, float], constant: float = 0.0) -> None:
        """Add the row: variable <= sum of others + constant."""
        self.rows.append((-INFINITE, {**{other: -share for other, share in others.items()}, variable: 1.0}, constant))

    def met(self, need: Need, likeness: float) -> int:
        """Return the variable that is 1 if a unit is carried that gives a need at least this likeness."""
        best = need.best
        key = frozenset(best.items()), likeness
        found = self._met.get(key)
        if found is None:
            enough = [unit for unit, like in best.items() if like >= likeness]
            found = enough[0] if len(enough) == 1 else self.variable()
            if len(enough) > 1:
                self.at_most(found, dict.fromkeys(enough, 1.0))
            self._met[key] = found
        return found

    def likeness(self, need: Need) -> int:
        """Return the variable that is the likeness with which a need is met."""
        key = frozenset(need.best.items())
        if key not in self._likeness:
            parts: dict[int, float] = {}
            before = 0.0
            for level in levels_of([need]):
                met = self.met(need, level)
                parts[met] = parts.get(met, 0.0) + level - before
                before = level
            only = next(iter(parts)) if len(parts) == 1 and before == 1.0 else None
            self._likeness[key] = self.variable() if only is None else only
            if only is None:
                self.at_most(self._likeness[key], parts)
        return self._likeness[key]


def program_of(instance: Instance) -> Program:
    """Return the program of a choice, without its limits."""
    program = Program(instance)
    for ask in instance.asks:
        program.scenes.append(_scene(program, ask))
    return program


def levels_of(needs: Iterable[Need]) -> list[float]:
    """Return the likenesses above 0 that make a difference to the worst of some needs, from the least."""
    return sorted({like for need in needs for like in need.best.values() if like > 0})


def _scene(program: Program, ask: Ask) -> SceneVariables:
    scene, share = SceneVariables(), program.instance.colour_share
    counted = tuple(number for number in ask.musts if not ask.needs[number].trigger)
    colours = [number for number, need in enumerate(ask.needs) if need.colour]
    groups = [(number,) for number in counted] if program.instance.mean else [counted] if counted else []
    if colours or ask.refusing or len(ask.musts) > len(counted) or len(groups) != 1:
        scene.gate = _gate(program, ask)
    if scene.gate is not None and not groups:
        program.costs[scene.gate] += ask.weight
    least = [levels_of(ask.needs[number] for number in group)[0] for group in groups]
    detailed = bool(groups) and share * len(colours) > sum(least) / len(least)
    for group in groups:
        score = Score(group, _parts(program, [ask.needs[number] for number in group], scene.gate, detailed=detailed))
        scene.scores.append(score)
        for variable, part in score.parts.items():
            program.costs[variable] += part * ask.weight / len(groups)
    for number in colours:
        lack = scene.lacks[number] = program.variable(-share * ask.weight)
        assert scene.gate is not None
        met = program.met(ask.needs[number], 0.0)
        program.rows.append((-INFINITE, {scene.gate: 1.0, lack: -1.0, met: -1.0}, 0.0))
    return scene


def _gate(program: Program, ask: Ask) -> int:
    """Return a variable that is at most 1 if every must is met and no unit stands in the way."""
    gate = program.variable()
    for number in ask.musts:
        need = ask.needs[number]
        program.at_most(gate, {program.met(need, levels_of([need])[0]): 1.0})
    for unit in each_bit(ask.refusing):
        program.at_most(gate, {unit: -1.0}, 1.0)
    return gate


def _parts(program: Program, needs: list[Need], gate: int | None, *, detailed: bool) -> dict[int, float]:
    """Return the worst likeness of some needs as a sum of variables."""
    if gate is None:
        worst = program.variable()
        for need in needs:
            program.at_most(worst, {program.likeness(need): 1.0})
        return {worst: 1.0}
    least = levels_of(needs)[0]
    if detailed:
        return _by_level(program, needs, gate)
    more = program.variable()
    program.at_most(more, {gate: 1.0 - least})
    for need in needs:
        program.at_most(more, _sum({program.likeness(need): 1.0}, program.met(need, levels_of([need])[0]), -least))
    return {gate: least, more: 1.0}


def _sum(parts: dict[int, float], variable: int, share: float) -> dict[int, float]:
    return {**parts, variable: parts.get(variable, 0.0) + share}


def _by_level(program: Program, needs: list[Need], gate: int) -> dict[int, float]:
    levels = levels_of(needs)
    parts, last = {gate: levels[0]}, gate
    for before, level in pairwise(levels):
        variable = program.variable()
        program.at_most(variable, {last: 1.0})
        for need in needs:
            own = min(like for like in need.best.values() if like >= level)
            program.at_most(variable, {program.met(need, own): 1.0})
        parts[variable] = level - before
        last = variable
    return parts
