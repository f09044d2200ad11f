"""What one unit more would add to a rig, what each carried one gives, and what every single loss on stage costs.

Each question is another rig, or the same one with something out, walked as in reach.py.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from scenebook.cueing.points import Point, gig_points
from scenebook.errors import ScenebookError
from scenebook.model import Gig, Library, Placement, Rig, StandIn
from scenebook.planning.joins import Join, MidiLines, chain_joins
from scenebook.planning.power import Power, power
from scenebook.planning.reach import Outcome, Reached, Walk, leaves
from scenebook.planning.work import pressed
from scenebook.planning.worth import all_stand_ins, chosen_gigs
from scenebook.states.stage import stage_of

__all__ = ["Changed", "Loss", "LossKind", "Losses", "Marginal"]


class LossKind(StrEnum):
    """What is lost."""

    UNIT = "unit"
    SUPPLY = "supply"
    LEAD = "MIDI lead"


class Marginal(NamedTuple):
    """A unit, and the worth that it adds to a rig or takes with it."""

    unit: str
    worth: float


class Changed(NamedTuple):
    """A scene that becomes worth less: how often it is played so, what it was and what it becomes, and the worth."""

    song: str
    scene: str
    weight: int
    before: Outcome
    after: Outcome
    lost: float


@dataclass(frozen=True, slots=True)
class Loss:
    """One thing lost, and what it costs.

    `gone` are the units that are dead, `deaf` those that live and hear no more messages: they are worked by hand.
    Of a unit or a supply `lost` is what lacks once `joins` are made; until then all in `deaf` is deaf. Of a lead it is
    what lacks as long as all of `deaf` is; `joins` leave only the unit at its end deaf. `by_hand` counts the cues
    whose scenes ask something of a unit that is deaf.
    """

    kind: LossKind
    name: str  # the unit, the supply, or the unit to which the lead goes
    start: str  # of a lead: where it comes from
    gone: tuple[str, ...]
    deaf: tuple[str, ...]
    lost: float
    scenes: tuple[Changed, ...]
    by_hand: int
    joins: tuple[Join, ...]
    assumed: bool = False  # a lead that the rig does not note: it is taken for granted
    feet: int = 0  # of a unit that holds loops: the presses inside songs that come on top, once the leads are joined


class Losses:
    """Holds a rig's reach of some gigs, and asks what would change it.

    Gigs whose replacements cannot be made on the rig are left out, as in reach.py.
    """

    def __init__(self, library: Library, rig: str, gigs: Sequence[str] | None = None, *, mean: bool = False) -> None:
        self._library, self._name, self._mean = library, rig, mean
        self._rig = library.rigs[rig]
        self._gigs: list[tuple[Gig, list[Point]]] = []
        for gig in chosen_gigs(library, gigs).values():
            try:
                stage_of(library, rig, gig)
            except ScenebookError:
                continue
            self._gigs.append((gig, gig_points(library, gig)))
        self._points = [point for _, points in self._gigs for point in points]
        self._without: dict[frozenset[str], list[Reached]] = {}
        self._now = self._reached(self._rig, ways=True)
        self.worth = _worth(self._now)

    def additions(self) -> tuple[Marginal, ...]:
        """Return what each unit of the library that the rig does not carry would add, the most first.

        With it come the stand-ins that any rig of the library says it can be. Whether something works all its switches
        is not asked: the rig would give it a channel or a loop. Ties: owned, then the lighter.
        """
        now, naming = self._reached(self._rig), _naming(self._points)
        stand_ins: dict[str, list[StandIn]] = {}
        for each in all_stand_ins(self._library):
            stand_ins.setdefault(each.by, []).append(each)
        units = self._library.units
        found = [
            Marginal(name, self._gain(name, stand_ins.get(name, ()), now, naming))
            for name in units
            if name not in self._rig.carried
        ]
        return tuple(
            sorted(found, key=lambda m: (-round(m.worth, 9), not units[m.unit].owned, units[m.unit].weight_g or 0))
        )

    def _gain(
        self, unit: str, stand_ins: Sequence[StandIn], now: Sequence[Reached], naming: Mapping[str, Sequence[int]]
    ) -> float:
        """Return what a unit would add: only the points count whose scenes name it, or what it can stand in for."""
        parts = {unit, *(each.part for each in (*self._rig.stand_ins, *stand_ins) if each.by == unit)}
        touched = sorted({point for part in parts for point in naming.get(part, ())})
        played = any(unit in gig.played_by.values() for gig, _ in self._gigs)
        if not touched and not played:
            return 0.0
        rig = _rebuilt(self._rig, chain=(*self._rig.chain, unit), stand_ins=(*self._rig.stand_ins, *stand_ins))
        picked = range(len(self._points)) if played else _with_their_runs(self._points, touched)
        then = self._reached(rig, only=frozenset(picked))
        return _sum(after.value - now[at].value for at, after in zip(picked, then, strict=True))

    def removals(self) -> tuple[Marginal, ...]:
        """Return what each carried unit gives: what would be lost without it, the least first; ties: the heavier."""
        units = self._library.units
        found = [
            Marginal(name, _sum(was.value - left.value for was, left in zip(self._now, self._out({name}), strict=True)))
            for name in self._rig.carried
        ]
        return tuple(sorted(found, key=lambda m: (round(m.worth, 9), -(units[m.unit].weight_g or 0))))

    def single(self, plan: Power | None = None) -> tuple[Loss, ...]:
        """Return every single loss: each unit, the supply, each MIDI lead; within a kind what costs most first.

        Who has planned already how the rig's supply feeds it gives the plan, so that it is not solved again.
        """
        lines = MidiLines(self._rig, assumed=True)
        losses = [self._dead(LossKind.UNIT, name, {name}, lines) for name in self._rig.carried]
        fed = self._fed(plan)
        losses += [self._dead(LossKind.SUPPLY, self._rig.supply or "", fed, lines)] if fed else []
        for start, end in lines.leads:
            losses.append(self._deaf(end, start, lines))
        kinds = list(LossKind)
        return tuple(sorted(losses, key=lambda loss: (kinds.index(loss.kind), -round(loss.lost, 9), -loss.by_hand)))

    def _dead(self, kind: LossKind, name: str, gone: Iterable[str], lines: MidiLines) -> Loss:
        dead = frozenset(gone)
        order = tuple(each for each in self._rig.carried if each in dead)
        deaf = dict.fromkeys(each for unit in order for each in lines.behind(unit) if each not in dead)
        scenes = _changed(self._points, self._now, self._out(dead))
        joins = (*chain_joins(self._rig, dead), *lines.joins(dead))
        lost = _sum(each.lost for each in scenes)
        by_hand, feet = self._naming(deaf), self._more_presses(name)
        return Loss(kind, name, "", order, tuple(deaf), lost, scenes, by_hand, joins, feet=feet)

    def _more_presses(self, holder: str) -> int:
        """Return what a dead switcher costs the feet: what was in its loops is switched by its own footswitch then.

        A gig of which a scene cannot be set on the rig, with the switcher or without it, counts nothing.
        """
        more = 0
        for gig, _ in self._gigs if holder in self._rig.loops else ():
            try:
                now = pressed(self._library, gig, self._name)
                more += pressed(self._library, _without(gig, frozenset({holder}), self._rig), self._name).inside
                more -= now.inside
            except ScenebookError:
                continue
        return max(0, more)

    def _deaf(self, end: str, start: str, lines: MidiLines) -> Loss:
        deaf, joins = (end, *lines.behind(end)), lines.joins(frozenset({end}))
        silent = _rebuilt(self._rig, units={**self._rig.units, **dict.fromkeys(deaf, Placement())})
        scenes = _changed(self._points, self._now, self._reached(silent, ways=True))
        lost = _sum(each.lost for each in scenes)
        by_hand, assumed = self._naming(deaf), lines.is_assumed(end)
        return Loss(LossKind.LEAD, end, start, (), deaf, lost, scenes, by_hand, joins, assumed)

    def _naming(self, units: Iterable[str]) -> int:
        """Count the cues whose scenes ask something of one of some units, or of what is in its loops."""
        asked = set(units)
        for holder in asked & self._rig.loops.keys():
            asked.update(*self._rig.loops[holder].values())
        return sum(not asked.isdisjoint(each.met.settings) for each in self._now) if asked else 0

    def _fed(self, plan: Power | None) -> set[str]:
        """Return the carried units that the rig's supply feeds: those of its kind of current; DC where none is said.

        A unit for which the plan has no outlet hangs on something else and goes on; a plan that knows no outlet says
        nothing of that. A unit with a mains supply of its own goes on, and one of whose supply nothing is said counts
        as going on; where only its mA or volts are not known it counts as fed, so that no loss is hidden.
        """
        units, supply = self._library.units, self._rig.supply
        kinds = {outlet.current for outlet in units[supply].outlets} if supply else set()
        kinds = kinds or {"DC"}
        takes = ((name, units[name].supply) for name in self._rig.carried)
        fed = {name for name, each in takes if each and not (each.none or each.own) and each.current in kinds}
        if supply and fed:
            plan = plan or power(self._library, self._name)
            fed -= {each.unit for each in plan.unfed} if plan.loads else set()
        return fed | ({supply} & set(self._rig.carried) if supply else set())

    def _out(self, units: Iterable[str]) -> list[Reached]:
        out = frozenset(units)
        if out not in self._without:  # what a unit gives and what its loss costs is one question
            self._without[out] = self._reached(self._rig, out=out, ways=True)
        return self._without[out]

    def _reached(
        self,
        rig: Rig,
        *,
        out: frozenset[str] = frozenset(),
        ways: bool = False,
        only: frozenset[int] | None = None,
    ) -> list[Reached]:
        """Return what becomes of the scene at each point of all gigs, or at some, on another rig or with units out."""
        library = self._library.model_copy(update={"rigs": {**self._library.rigs, self._name: rig}})
        walks: dict[tuple[object, ...], Walk] = {}
        reached: list[Reached] = []
        first = 0
        for gig, points in self._gigs:
            numbered = enumerate(points, first)
            first += len(points)
            wanted = points if only is None else [point for at, point in numbered if at in only]
            if not wanted:
                continue
            gig = _without(gig, out, rig)
            key = gig.out, tuple(gig.played_by.items())
            if key not in walks:
                walks[key] = Walk(library, stage_of(library, self._name, gig), mean=self._mean, ways=ways)
            reached += walks[key].along(wanted)
        return reached


def _without(gig: Gig, out: frozenset[str], rig: Rig) -> Gig:
    """Return a gig with more units out, whoever plays them; what the rig itself carries replaces nobody."""
    played_by = {old: new for old, new in gig.played_by.items() if old not in out and new not in rig.carried}
    return gig.model_copy(update={"out": (*gig.out, *sorted(out)), "played_by": played_by})


def _rebuilt(rig: Rig, **update: object) -> Rig:
    """Return a rig with some fields changed, made anew so that nothing worked out from the old one stays."""
    return Rig(**{**{name: getattr(rig, name) for name in rig.model_fields_set}, **update})


def _worth(reached: Iterable[Reached]) -> float:
    return _sum(each.value for each in reached)


def _sum(values: Iterable[float]) -> float:
    """Add exactly, so that what is added in another order is the same; without the dust of tenths."""
    return round(math.fsum(values), 9)


def _naming(points: Sequence[Point]) -> dict[str, list[int]]:
    """Return the numbers of the points whose scenes name each unit."""
    found: dict[str, list[int]] = {}
    for at, point in enumerate(points):
        for unit in point.song.scenes[point.part.scene].units:
            found.setdefault(unit, []).append(at)
    return found


def _with_their_runs(points: Sequence[Point], touched: Sequence[int]) -> list[int]:
    """Return the points that are touched; where a scene leaves something, all from where its song began afresh.

    What is left goes from one cue to the next, and nothing goes past a fresh beginning.
    """
    found: set[int] = set(touched)
    start = 0
    while start < len(points):
        end = next((at for at in range(start + 1, len(points)) if points[at].afresh), len(points))
        run = range(start, end)
        if any(leaves(points[at]) for at in run) and not found.isdisjoint(run):
            found.update(run)
        start = end
    return sorted(found)


def _changed(points: Sequence[Point], before: Sequence[Reached], after: Sequence[Reached]) -> tuple[Changed, ...]:
    """Return the scenes that became worth less, what loses most first."""
    found: dict[tuple[str, str, Outcome, Outcome], Changed] = {}
    for point, was, now in zip(points, before, after, strict=True):
        if was.value - now.value > 1e-9:
            key = point.song_name, point.part.scene, was.outcome, now.outcome
            weight, lost = (found[key].weight, found[key].lost) if key in found else (0, 0.0)
            found[key] = Changed(*key[:2], weight + 1, *key[2:], lost + was.value - now.value)
    return tuple(sorted(found.values(), key=lambda each: -round(each.lost, 9)))
