"""Which units belong in the loops of a switcher, so that feet press least inside songs.

Every loop by itself is counted by compiling the gigs with it, once in each kind of switch that the switcher has: one
that a foot presses, one that a message works. What one loop saves does not depend on another, since each unit is
compiled by itself. So the best choice of loops is found exactly (loop_choice.py), and it is compiled once more to be
sure. A unit that nothing but its loop lets a foot or a message switch stays in its loop.

A switcher has one in and one out, so nothing may stand between two of its loops and be in none (signal_path.py). A unit
that no foot works gets a loop of its own where it stands between two that feet would gain by; one with no main switch,
such as a tuner, is in a loop that stays on.
"""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from scenebook.errors import BadValueError, ScenebookError
from scenebook.model import MAIN, Library, Parallel, Rig
from scenebook.model.base import place_text
from scenebook.planning.loop_choice import Candidate, best_loops
from scenebook.planning.loop_rigs import switcher_of, with_loops
from scenebook.planning.signal_path import Tangle, tangle_words, tangles
from scenebook.planning.work import Count, pressed
from scenebook.planning.worth import chosen_gigs
from scenebook.states.stage import Way, stage_of

__all__ = ["Saving", "Switching", "Watch", "switching"]

Watch = Callable[[int, int, int | None], bool]
"""Told how many loops of how many are measured, and the fewest presses so far; says whether to go on."""


class Saving(NamedTuple):
    """Units in one loop, and how many presses inside songs that saves against no loop but what `stuck` needs.

    `switch` is one of the kind of switch that it was counted with.
    """

    units: tuple[str, ...]
    presses: int
    switch: str


@dataclass(frozen=True)
class Switching:
    """The loops of a switcher today and at their best, with the presses of feet that each needs.

    `savings` tells what each loop would save by itself, the most first. `refused` are units that cannot be in a loop
    there, with the reason; `left_out` gigs that the rig cannot play. `named` are scenes that speak of a loop by name.
    `stuck` are the units that only a loop lets feet or messages switch: they stay in it, and `without` loops nothing is
    counted then. `tangled` says why today's loops cannot be wired. `stay_on` are the switches of the best whose loops
    are on at home and stay so. `in_the_way` are units that stand between loops which would save `wished` presses more
    inside songs. `out_of_order` says that the best needs a switcher whose loops can follow each other otherwise than
    its switches do. `proved` says that the best, compiled as a whole, is what its loops promise one by one, and that
    every loop was tried; `tried` of `loops_to_try` were.
    """

    rig: str
    switcher: str
    count: int  # of loops
    today: dict[str, tuple[str, ...]]
    best: dict[str, tuple[str, ...]]
    without: Count | None
    now: Count
    then: Count
    savings: tuple[Saving, ...]
    refused: tuple[tuple[str, str], ...] = ()
    left_out: tuple[tuple[str, str], ...] = ()
    named: tuple[str, ...] = ()
    proved: bool = True
    stuck: tuple[str, ...] = ()
    in_chain: bool = False  # it stands in the chain today, and holds its loops beside it then
    tried: int = 0
    loops_to_try: int = 0
    tangled: str = ""
    stay_on: tuple[str, ...] = ()
    in_the_way: tuple[str, ...] = ()
    wished: int = 0
    out_of_order: bool = False


def switching(
    library: Library,
    rig: str,
    switcher: str | None = None,
    gigs: Sequence[str] | None = None,
    *,
    watch: Watch | None = None,
) -> Switching:
    """Return what belongs in the loops of a rig's switcher at the gigs named, or at all; it may hold none today.

    `watch` is told how far it is; where it says to stop, the best of what has been measured is returned.

    Raises:
        BadValueError: the rig has no switcher, or several and none is named.
        ScenebookError: a gig that was named cannot be played on the rig.
    """
    holder = switcher_of(library, rig, switcher)
    return _Loops(library, rig, holder, gigs).switching(watch or (lambda done, of, least: True))


_NO_FOOT = (None, Way.PRESET, Way.HAND)  # what lets neither a foot nor a message switch a unit between scenes


class _Loops:
    """Counts presses on one rig with one arrangement of loops or another."""

    def __init__(self, library: Library, rig: str, holder: str, gigs: Sequence[str] | None) -> None:
        self._library, self.name, self.holder = library, rig, holder
        rig_of = library.rigs[rig]
        self.of = with_loops(rig_of, holder, rig_of.loops.get(holder, {}))
        self.switches = [name for name, each in library.units[holder].switches.items() if not each.momentary]
        self.switches = [name for name in self.switches if name != MAIN or name in self.of.loops[holder]]
        if not self.switches:
            raise BadValueError(
                f"{holder!r} has no switch for a loop",
                where=place_text("rig", rig),
                remedy="Describe its switches first",
            )
        self.places = places = _places(self.of.chain)
        self.today = {
            switch: tuple(sorted(names, key=lambda name: places.get(name, 0)))  # as the signal takes them
            for switch, names in self.of.loops[holder].items()
        }
        self._ways = self._bare_ways()
        self.stuck = tuple(name for names in self.today.values() for name in names if self._ways[name] in _NO_FOOT)
        fixed = {switch: tuple(name for name in names if name in self.stuck) for switch, names in self.today.items()}
        self.fixed = {switch: names for switch, names in fixed.items() if names}
        self.left_out: list[tuple[str, str]] = []
        self._gigs = chosen_gigs(library, gigs)
        for gig in list(self._gigs):
            try:
                self._count_gig(self.of, gig)
            except ScenebookError as error:
                if gigs:
                    raise
                self.left_out.append((gig, str(error)))
                del self._gigs[gig]

    def count(self, loops: Mapping[str, tuple[str, ...]]) -> Count:
        """Return the presses with these loops of the switcher.

        Raises:
            ScenebookError: a scene cannot be set with them.
        """
        rig = with_loops(self.of, self.holder, loops, self.stay_on(loops))
        counts = [self._count_gig(rig, gig) for gig in self._gigs]
        return Count(sum(each.inside for each in counts), sum(each.between for each in counts))

    def _count_gig(self, rig: Rig, gig: str) -> Count:
        library = self._library.model_copy(update={"rigs": {**self._library.rigs, self.name: rig}})
        return pressed(library, self._gigs[gig], self.name)

    def stay_on(self, loops: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
        """Return the switches whose loops are new and hold nothing that a scene could turn off."""
        new = ((switch, names) for switch, names in loops.items() if switch not in self.fixed)
        return tuple(switch for switch, names in new if names and not any(map(self._has_main, names)))

    def tangled(self, loops: Mapping[str, tuple[str, ...]]) -> Iterator[Tangle]:
        """Yield why the switcher cannot be wired with these loops."""
        return (each for each in tangles(with_loops(self.of, self.holder, loops)) if each.holder == self.holder)

    def groups(self) -> Iterator[tuple[str, ...]]:
        """Yield what could be in one loop: each unit that a foot works, and neighbours of the chain together.

        What no foot works is alone in a loop, where it stands between units that feet would gain by.
        """
        able, fill = self._able(), self._fill()
        for run in _runs(self.places, able | fill):
            feet = [number for number, name in enumerate(run) if name in able]
            for start in feet:
                for end in range(start + 1, len(run) + 1):
                    units = tuple(run[start:end])
                    if not able.issuperset(units):
                        break
                    if len(units) == 1 or all(map(self._has_main, units)) or units in self.today.values():
                        yield units
            yield from ((name,) for name in run[feet[0] : feet[-1]] if name in fill) if feet else ()

    def _has_main(self, name: str) -> bool:
        return MAIN in self._library.units[name].switches

    def _fill(self) -> set[str]:
        """Return the units of the chain that may be alone in a loop though no foot works them.

        None that gives a stereo signal: what goes through a loop is taken to be mono.
        """
        chain = {name for name in self.places if self._library.units[name].output != "stereo"}
        return chain - self._able() - self._elsewhere() - self._twice() - {*self.of.loops}

    def _bare_ways(self) -> dict[str, Way | None]:
        """Return what works each unit's main switch where no loop does."""
        bare = Rig(**{**{name: getattr(self.of, name) for name in self.of.model_fields_set}, "loops": {}})
        library = self._library.model_copy(update={"rigs": {**self._library.rigs, self.name: bare}})
        return dict.fromkeys(self.of.carried) | {
            each.name: each.ways.get(MAIN) for each in stage_of(library, self.name).carried
        }

    def _able(self) -> set[str]:
        """Return the units that a foot works or only a loop can, and that no other loop or send holds."""
        feet = {name for name, way in self._ways.items() if way is Way.FOOT}
        apart = {self.holder, *self.of.loops, *self.of.sends}
        return (feet | {*self.stuck}) & self.places.keys() - self._elsewhere() - self._twice() - apart

    def _elsewhere(self) -> set[str]:
        return {
            name
            for holder, loops in [*self.of.loops.items(), *self.of.sends.items()]
            if holder != self.holder
            for names in loops.values()
            for name in names
        }

    def _twice(self) -> set[str]:
        chain = [link for link in self.of.chain if isinstance(link, str)]
        return {name for name in chain if chain.count(name) > 1}

    def _kinds(self) -> dict[str, list[str]]:
        """Return the switches by their kind, of which one stands for all; that of a unit that is stuck is its own."""
        carried = stage_of(self._library, self.name).by_name[self.holder]
        found: dict[str, list[str]] = {}
        for switch in self.switches:
            way = carried.ways.get(switch)
            stored = " stored" * (switch in carried.unit.stored)
            found.setdefault(switch if switch in self.fixed else f"any {way}{stored}", []).append(switch)
        return found

    def _to_measure(self, kinds: Mapping[str, Sequence[str]]) -> list[tuple[tuple[str, ...], str]]:
        """Return each group with each kind of switch that may hold it: who is stuck stays in its own loop."""
        found = []
        for units in self.groups():
            held = {name for name in units if name in self.stuck}
            for kind in kinds:
                if held == set(self.fixed.get(kind, ())) and units != self.fixed.get(kind):
                    found.append((units, kind))
        return found

    def switching(self, watch: Watch) -> Switching:
        """Return today's loops and the best."""
        base, now, kinds = self.count(self.fixed), self.count(self.today), self._kinds()
        pairs = self._to_measure(kinds)
        measured, refused = self._measured(pairs, kinds, min(base.inside, now.inside), watch)
        candidates = [Candidate(units, kind, base.inside - count.inside) for (units, kind), count in measured.items()]
        chosen, wished = self._chosen(candidates, kinds), self._chosen(candidates, kinds, apart=True)
        tangled = next(map(tangle_words, self.tangled(self.today)), "")
        best, then = self.today, now
        proved = len(measured) + len(refused) == len(pairs)
        if chosen is not None:
            best = self._named(chosen, kinds)
            then = self.count(best)
            proved = proved and then.inside == base.inside - sum(each.presses for each in chosen)
            for (units, kind), count in measured.items():  # where loops do not add up, one alone may be better
                alone = {**self.fixed, kinds[kind][0]: units}
                if count.inside < then.inside and not any(self.tangled(alone)):
                    best, then = alone, count
        if not tangled and now.inside <= then.inside:
            best, then = self.today, now
        able, more = self._able(), then.inside - base.inside + sum(each.presses for each in wished or ())
        parted = self.tangled(self._named(wished, kinds)) if wished and more > 0 else ()
        in_the_way = next((each.between for each in parted), ())
        return Switching(
            rig=self.name,
            switcher=self.holder,
            count=len(self.switches),
            today=self.today,
            best=best,
            without=None if self.stuck else base,
            now=now,
            then=then,
            savings=_savings([each for each in candidates if able.issuperset(each.units)], kinds),
            refused=tuple((units[0], why) for (units, _), why in refused.items() if len(units) == 1),
            left_out=tuple(self.left_out),
            named=tuple(self._scenes_that_name_loops()),
            proved=proved,
            stuck=self.stuck,
            in_chain=self.of.chain != self._library.rigs[self.name].chain,
            tried=len(measured) + len(refused),
            loops_to_try=len(pairs),
            tangled=tangled,
            stay_on=() if best == self.today else self.stay_on(best),
            in_the_way=in_the_way,
            wished=more if in_the_way else 0,
            out_of_order=not self.in_order(best),
        )

    def _chosen(
        self, candidates: Sequence[Candidate], kinds: Mapping[str, Sequence[str]], *, apart: bool = False
    ) -> tuple[Candidate, ...] | None:
        """Return the best loops, those of units that are stuck among them; None where none can be wired."""
        there = {switch: units for switch, units in self.fixed.items() if self.places.keys() >= {*units}}
        stuck = [
            Candidate(units, switch, 0)
            for switch, units in there.items()
            if self.places[units[-1]] - self.places[units[0]] == len(units) - 1
        ]
        room = {kind: len(switches) for kind, switches in kinds.items()}
        return best_loops([*stuck, *candidates], room, self.places, there, apart=apart)

    def _measured(
        self, pairs: Sequence[tuple[tuple[str, ...], str]], kinds: Mapping[str, Sequence[str]], least: int, watch: Watch
    ) -> tuple[dict[tuple[tuple[str, ...], str], Count], dict[tuple[tuple[str, ...], str], str]]:
        """Return the presses with each loop by itself, and why some cannot be; all of it, or as far as `watch` lets."""
        measured, refused = {}, {}
        for number, (units, kind) in enumerate(pairs):
            if not watch(number, len(pairs), least):
                break
            try:
                measured[units, kind] = self.count({**self.fixed, kinds[kind][0]: units})
                least = min(least, measured[units, kind].inside)
            except ScenebookError as error:
                refused[units, kind] = str(error)
        return measured, refused

    def _named(self, chosen: Sequence[Candidate], kinds: Mapping[str, Sequence[str]]) -> dict[str, tuple[str, ...]]:
        """Return loops by the names of their switches; what is in a loop today stays in it, if their order lets it."""
        kept, anew = dict(self.fixed), dict(self.fixed)
        for kind, switches in kinds.items():
            wanted = [each.units for each in chosen if each.kind == kind]
            there = {name: self.today[name] for name in switches if self.today.get(name) in wanted}
            free = [name for name in switches if name not in there]
            new = [units for units in wanted if units not in there.values()]
            kept |= {**there, **dict(zip(free, new, strict=False))}
            anew |= dict(zip(switches, wanted, strict=False))
        found = kept if self.in_order(kept) or not self.in_order(anew) else anew
        return {name: found[name] for name in self.switches if name in found}

    def in_order(self, loops: Mapping[str, tuple[str, ...]]) -> bool:
        """Whether loops follow each other along the chain as their switches do, which in many switchers is fixed."""
        held = [loops[name] for name in self.switches if loops.get(name)]
        at = [self.places[units[0]] for units in held if units[0] in self.places]
        return at == sorted(at)

    def _scenes_that_name_loops(self) -> Iterator[str]:
        for song, whole in self._library.songs.items():
            for name, scene in whole.scenes.items():
                if set(scene.units.get(self.holder, {})) & set(self.switches):
                    yield f"{song}, {name}"


def _places(chain: Sequence[str | Parallel]) -> dict[str, int]:
    """Return the number of each unit along the chain: one more only where it follows with nothing between them."""
    found: dict[str, int] = {}
    at = 0
    for link in chain:
        for path in [(link,)] if isinstance(link, str) else link.parallel:
            at += isinstance(link, Parallel)  # paths part and meet between them
            found |= {name: at + number for number, name in enumerate(path, 1)}
            at += len(path)
        at += isinstance(link, Parallel)
    return found


def _runs(places: Mapping[str, int], among: Collection[str]) -> Iterator[list[str]]:
    """Yield the longest stretches of the chain that hold none but some units."""
    run: list[str] = []
    for name in sorted(among, key=lambda name: places[name]):
        if run and places[name] != places[run[-1]] + 1:
            yield run
            run = []
        run.append(name)
    yield from [run] if run else []


def _savings(candidates: Sequence[Candidate], kinds: Mapping[str, Sequence[str]]) -> tuple[Saving, ...]:
    """Return what each loop saves in the kind of switch in which it saves most, the most first."""
    best: dict[tuple[str, ...], Saving] = {}
    for units, kind, presses in candidates:
        if units not in best or presses > best[units].presses:
            best[units] = Saving(units, presses, kinds[kind][0])
    return tuple(sorted(best.values(), key=lambda each: (-each.presses, len(each.units))))
