"""Which units belong in the loops of a switcher, so that feet press least inside songs.

Every loop by itself is counted by compiling the gigs with it; what one loop saves does not depend on another, since
each unit is compiled by itself. So the best choice of loops is found exactly, and it is compiled once more to be sure.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

from scenebook.cueing.compile import Compiler
from scenebook.cueing.points import gig_points
from scenebook.errors import BadValueError, ScenebookError
from scenebook.model import MAIN, Library, Rig
from scenebook.model.base import listed, place_text
from scenebook.planning.work import foot_presses
from scenebook.planning.worth import chosen_gigs
from scenebook.states.stage import Way, stage_of

__all__ = ["Count", "Saving", "Switching", "switching"]

Loops = dict[str, tuple[str, ...]]
"""The units in each loop of a switcher, by the name of its switch."""


class Count(NamedTuple):
    """Presses of a foot at the chosen gigs: inside songs, and between them."""

    inside: int
    between: int


class Saving(NamedTuple):
    """Units in one loop, and how many presses inside songs that saves against no loop at all."""

    units: tuple[str, ...]
    presses: int


@dataclass(frozen=True)
class Switching:
    """The loops of a switcher today and at their best, with the presses of feet that each needs.

    `savings` tells what each loop would save by itself, the most first. `refused` are units that cannot be in a loop
    there, with the reason; `left_out` gigs that the rig cannot play. `named` are scenes that speak of a loop by name.
    `proved` says that the best, compiled as a whole, is what its loops promise one by one.
    """

    rig: str
    switcher: str
    count: int  # of loops
    today: Loops
    best: Loops
    without: Count
    now: Count
    then: Count
    savings: tuple[Saving, ...]
    refused: tuple[tuple[str, str], ...] = ()
    left_out: tuple[tuple[str, str], ...] = ()
    named: tuple[str, ...] = ()
    proved: bool = True


def switching(library: Library, rig: str, switcher: str | None = None, gigs: Sequence[str] | None = None) -> Switching:
    """Return what belongs in the loops of a rig's switcher at the gigs named, or at all.

    Raises:
        BadValueError: the rig has no switcher, or several and none is named.
        ScenebookError: a gig that was named cannot be played on the rig.
    """
    holder = _switcher(library.rigs[rig], rig, switcher)
    return _Loops(library, rig, holder, gigs).switching()


def _switcher(rig: Rig, name: str, switcher: str | None) -> str:
    holders = [holder for holder in rig.loops if switcher in (None, holder)]
    if len(holders) == 1:
        return holders[0]
    where = place_text("rig", name)
    if not rig.loops:
        raise BadValueError(
            "no unit of it has loops", where=where, remedy="Give the rig loops: which unit is in which of a switcher's"
        )
    found = f"{switcher!r} holds no loops there" if switcher else "it has several switchers"
    raise BadValueError(found, where=where, accepted=listed(rig.loops))


class _Loops:
    """Counts presses on one rig with one arrangement of loops or another."""

    def __init__(self, library: Library, rig: str, holder: str, gigs: Sequence[str] | None) -> None:
        self._library, self.name, self.holder = library, rig, holder
        self.of = library.rigs[rig]
        self.switches = [name for name, each in library.units[holder].switches.items() if not each.momentary]
        self.switches = [name for name in self.switches if name != MAIN or name in self.of.loops[holder]]
        if not self.switches:
            raise BadValueError(
                f"{holder!r} has no switch for a loop",
                where=place_text("rig", rig),
                remedy="Describe its switches first",
            )
        self.today = dict(self.of.loops[holder])
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
        held = {name: each for name, each in self.of.loops.items() if name != self.holder}
        said = {name: getattr(self.of, name) for name in self.of.model_fields_set}
        rig = Rig(**{**said, "loops": {**held, self.holder: dict(loops)}})
        counts = [self._count_gig(rig, gig) for gig in self._gigs]
        return Count(sum(each.inside for each in counts), sum(each.between for each in counts))

    def _count_gig(self, rig: Rig, gig: str) -> Count:
        library = self._library.model_copy(update={"rigs": {**self._library.rigs, self.name: rig}})
        points = gig_points(library, self._gigs[gig])
        cues = Compiler(library, self._gigs[gig], self.name).cues(points, full=False)
        inside = between = 0
        for point, cue in zip(points, cues[1:], strict=True):
            presses = foot_presses(cue.by_hand, self._library.units)
            inside, between = (inside, between + presses) if point.afresh else (inside + presses, between)
        return Count(inside, between)

    def groups(self) -> Iterator[tuple[str, ...]]:
        """Yield what could be in one loop: each unit that a foot works, and neighbours of the chain together."""
        able = self._able()
        runs: list[list[str]] = [[]]
        for link in self.of.chain:
            names = [link] if isinstance(link, str) else [name for path in link.parallel for name in path]
            for name in names if isinstance(link, str) else []:
                runs[-1].append(name) if name in able else runs.append([])
            if not isinstance(link, str):
                runs += [*([name] for name in names if name in able), []]
        for run in runs:
            yield from (tuple(run[a:b]) for a in range(len(run)) for b in range(a + 1, len(run) + 1))

    def _able(self) -> set[str]:
        """Return the units whose main switch a foot works where no loop does, and that no other loop or send holds."""
        bare = Rig(**{**{name: getattr(self.of, name) for name in self.of.model_fields_set}, "loops": {}})
        library = self._library.model_copy(update={"rigs": {**self._library.rigs, self.name: bare}})
        elsewhere = {
            name
            for holder, loops in [*self.of.loops.items(), *self.of.sends.items()]
            if holder != self.holder
            for names in loops.values()
            for name in names
        }
        stage = stage_of(library, self.name)
        feet = {each.name for each in stage.carried if each.ways.get(MAIN) is Way.FOOT}
        chain = [link for link in self.of.chain if isinstance(link, str)]
        twice = {name for name in chain if chain.count(name) > 1}
        return feet - elsewhere - twice - {self.holder, *self.of.loops, *self.of.sends}

    def switching(self) -> Switching:
        """Return today's loops and the best."""
        nothing = self.count({})
        savings, refused = self._savings(nothing)
        best = self._best(savings)
        now, then = self.count(self.today), self.count(self._named(best))
        if now.inside <= then.inside:
            best_loops, then = self.today, now
        else:
            best_loops = self._named(best)
        promised = nothing.inside - sum(each.presses for each in best)
        return Switching(
            rig=self.name,
            switcher=self.holder,
            count=len(self.switches),
            today=self.today,
            best=best_loops,
            without=nothing,
            now=now,
            then=then,
            savings=savings,
            refused=refused,
            left_out=tuple(self.left_out),
            named=tuple(self._scenes_that_name_loops()),
            proved=then.inside == promised,
        )

    def _savings(self, nothing: Count) -> tuple[tuple[Saving, ...], tuple[tuple[str, str], ...]]:
        savings, refused = [], []
        for units in self.groups():
            try:
                count = self.count({self.switches[0]: units})
            except ScenebookError as error:
                refused += [(units[0], str(error))] if len(units) == 1 else []
                continue
            savings.append(Saving(units, nothing.inside - count.inside))
        return tuple(sorted(savings, key=lambda each: (-each.presses, len(each.units)))), tuple(refused)

    def _best(self, savings: Sequence[Saving]) -> tuple[Saving, ...]:
        """Return the loops that save most together: of equals fewer shared units, then fewer loops, then the chain.

        A loop holds neighbours, so this is a choice of stretches of the chain that do not overlap.
        """
        order = {name: number for number, name in enumerate(self.of.carried)}
        worth = [each for each in savings if each.presses > 0]
        worth.sort(key=lambda each: (order[each.units[0]], len(each.units)))

        @cache
        def best_from(at: int, loops: int) -> tuple[int, int, int, tuple[Saving, ...]]:
            if at == len(worth) or not loops:
                return 0, 0, 0, ()
            each = worth[at]
            after = next(
                (n for n in range(at, len(worth)) if order[worth[n].units[0]] > order[each.units[-1]]), len(worth)
            )
            saved, shared, used, rest = best_from(after, loops - 1)
            with_it = (saved + each.presses, shared + 1 - len(each.units), used - 1, (each, *rest))
            without = best_from(at + 1, loops)
            return max(with_it, without, key=lambda found: found[:3])

        return best_from(0, len(self.switches))[3]

    def _named(self, best: Sequence[Saving]) -> Loops:
        """Return loops by the names of their switches; what is in a loop today stays in it."""
        kept = {name: units for name, units in self.today.items() if units in [each.units for each in best]}
        free = [name for name in self.switches if name not in kept]
        new = [each.units for each in best if each.units not in kept.values()]
        found = {**kept, **dict(zip(free, new, strict=False))}
        return {name: found[name] for name in self.switches if name in found}

    def _scenes_that_name_loops(self) -> Iterator[str]:
        for song, whole in self._library.songs.items():
            for name, scene in whole.scenes.items():
                if set(scene.units.get(self.holder, {})) & set(self.switches):
                    yield f"{song}, {name}"
