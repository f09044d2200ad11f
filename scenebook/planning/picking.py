"""The best rig of a library within limits, what each limit costs, and reach against one limit.

Whatever worth is told here is what states/ says of the rig (planning/reach.py), not what a search says of itself.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from time import perf_counter
from typing import NamedTuple

from scenebook.errors import BadValueError, ScenebookError
from scenebook.model import MAIN, Library, Rig, Unit
from scenebook.planning.asking import instance_of
from scenebook.planning.choice import Choice, Progress, Search
from scenebook.planning.kinds import load_of, units_words
from scenebook.planning.limits import Limit
from scenebook.planning.loop_rigs import loop_switches
from scenebook.planning.naming import rig_of
from scenebook.planning.reach import Reach, reach
from scenebook.planning.within import Bounded, Within
from scenebook.planning.worth import weights

__all__ = ["NEW", "Chosen", "Gain", "Question", "best_rig", "chosen_of", "gains", "left_out", "question"]

Watch = Callable[[Progress], bool]
NEW = "the new rig"


class Gain(NamedTuple):
    """What one more step of a limit would give: at least, and at most where that is not proved to be all."""

    limit: Limit
    worth: float
    at_most: float
    proved: bool
    units: tuple[str, ...]


@dataclass(frozen=True)
class Chosen:
    """The rig, its reach as states/ tells it, and how sure it is that nothing is better.

    `bound` is the most that any other set of units could be worth; `unknown` names units that had to stay out of the
    choice since what a limit counts of them is not known, by limit.
    """

    units: tuple[str, ...]
    rig: Rig
    reach: Reach
    bound: float
    proved: bool
    settled: bool
    used: tuple[tuple[Limit, float], ...]
    unknown: tuple[tuple[str, tuple[str, ...]], ...]
    tonight: float  # its worth with what the gigs say of units that are out or played by another
    looped: tuple[str, ...]  # units that stay out since only a loop of a stored rig works them

    count: str  # how many units these are, in words
    switchers: tuple[str, ...]  # units of it that could hold loops: a choice gives them none
    to_buy: tuple[tuple[str, float | None], ...]  # units that are not owned, each with its price where it is known

    @property
    def worth(self) -> float:
        """What the rig is worth."""
        return self.reach.worth


@dataclass
class Question:
    """A library as it is asked for its best rigs, and the search that keeps what it learns."""

    library: Library
    gigs: Sequence[str] | None
    mean: bool
    search: Search
    limits: tuple[Limit, ...]
    must: int
    never: int
    by_hand: bool = False  # no unit has a port and channel

    def within(self, *limits: Limit) -> Within:
        """Return limits in numbers; a unit of which a limit counts nobody knows what stays out."""
        units, bounded, never = self.search.instance.units, [], self.never | 1 << len(self.library.units)
        for limit in limits:
            counts = [limit.counts.get(name, 0.0) for name in units]
            never |= sum(1 << number for number, count in enumerate(counts) if count is None)
            bounded.append(Bounded(tuple(count or 0.0 for count in counts), limit.most))
        return Within(tuple(bounded), self.must, never)


def question(
    library: Library,
    gigs: Sequence[str] | None = None,
    *,
    limits: Sequence[Limit] = (),
    must: Sequence[str] = (),
    never: Sequence[str] = (),
    mean: bool = False,
    by_hand: bool = False,
) -> Question:
    """Return a library's question; with `by_hand` rigs have no MIDI, and what only messages work is not there.

    Raises:
        BadValueError: there is nothing to choose from or by; no rig keeps the limits with the units that must be
            carried, and which limit by how much; a unit must and must never be carried, or what a limit counts of one
            that must is not known.
    """
    both = sorted(set(must) & set(never))
    if both:
        raise BadValueError(f"{both[0]!r} must be carried and must never be", remedy="Say one of the two")
    _check_asks(library, gigs)
    _check_musts(limits, must)
    instance = instance_of(library, gigs, mean=mean, by_hand=by_hand)
    search = Search(instance, _weights(library, instance.units))
    asked = Question(library, gigs, mean, search, tuple(limits), instance.bits(must), instance.bits(never), by_hand)
    _check_fits(asked, never)
    return asked


def _check_asks(library: Library, gigs: Sequence[str] | None) -> None:
    """Raise an error where there is nothing to choose from, or nothing by which one rig is better than another."""
    if not any(not unit.outlets for unit in library.units.values()):
        raise BadValueError("the library has no units to choose from", remedy="Put the units in first")
    if not any(weights(library, gigs).values()):
        raise BadValueError(
            "no scene is played, so no rig is better than another",
            remedy="Give the songs scenes, and put them into a set of a gig",
        )


def _check_musts(limits: Sequence[Limit], must: Sequence[str]) -> None:
    over = []
    for limit in limits:
        unknown = [name for name in must if limit.counts[name] is None]
        if unknown:
            raise BadValueError(
                f"nobody knows what {unknown[0]!r} counts towards the limit on {limit.name}, and it must be carried",
                remedy=f"Note it in the unit, or give no limit on {limit.name}",
            )
        total = sum(limit.counts[name] or 0.0 for name in must)
        if total > limit.most + 1e-9:
            over.append(f"{limit.name} by {limit.words(total - limit.most)} ({limit.words(total)})")
    if over:
        raise BadValueError(
            f"the units that must be carried are over the limit: {', '.join(over)}",
            remedy="Raise the limit, or leave a unit at home",
        )


def _check_fits(asked: Question, never: Sequence[str]) -> None:
    """Raise an error where not even one unit keeps the limits: which, and by how much the nearest is over them."""
    units = asked.library.units
    able = [name for name in units if name not in never and not units[name].outlets]
    for limit in asked.limits:
        if limit.name == "units" and limit.most < 1:
            raise BadValueError("a rig of no unit is none", accepted="units=1 or more", remedy="Raise the limit")
        counts = {name: count for name in able if (count := limit.counts[name]) is not None}
        if counts and min(counts.values()) > limit.most + 1e-9:
            least = min(counts, key=lambda name: counts[name])
            raise BadValueError(
                f"no unit keeps the limit on {limit.name}: the least, {least!r}, is over it by "
                f"{limit.words(counts[least] - limit.most)}",
                accepted=f"{limit.words(counts[least])} or more",
                remedy="Raise the limit",
            )
    _check_fits_together(asked.limits, able)


def _check_fits_together(limits: Sequence[Limit], able: Sequence[str]) -> None:
    """Raise an error where each limit is kept by some unit, and all of them by none."""
    over = {}
    for name in able:
        counts = [(limit, limit.counts[name]) for limit in limits]
        if all(count is not None for _, count in counts):
            over[name] = [(limit, count - limit.most) for limit, count in counts if count and count > limit.most + 1e-9]
    if not over or not all(over.values()):
        return
    near = min(over, key=lambda name: (len(over[name]), max(more / max(each.most, 1.0) for each, more in over[name])))
    said = " and ".join(f"over the limit on {each.name} by {each.words(more)}" for each, more in over[near])
    raise BadValueError(
        f"no unit keeps all limits at once: the nearest, {near!r}, is {said}",
        remedy="Raise that limit, or leave one out",
    )


def _weights(library: Library, names: Sequence[str]) -> list[float]:
    """Return what decides between sets of equal worth, in g: an unknown weight counts as more than all known ones."""
    known = [unit.weight_g for unit in library.units.values() if unit.weight_g is not None]
    heavy = sum(known) + 1.0
    return [(library.units[name].weight_g or heavy) if name else 0.0 for name in names]


def best_rig(asked: Question, *, seconds: float, watch: Watch | None = None) -> Chosen:
    """Return the best rig, proved; or the best found in so many seconds, or until `watch` says to stop."""
    choice = asked.search.best(asked.within(*asked.limits), seconds=seconds, watch=watch)
    return chosen_of(asked, choice)


def chosen_of(asked: Question, choice: Choice) -> Chosen:
    """Return a choice as a rig, with what states/ makes of it; where that is not what was promised it is not proved."""
    library, units = asked.library, asked.search.instance.named(choice.carried)
    rig = rig_of(library, units, by_hand=asked.by_hand)
    there = library.model_copy(update={"rigs": {NEW: rig}})
    reached = reach(there, NEW, asked.gigs, mean=asked.mean, tonight=False)
    kept = abs(reached.worth - choice.worth) < 1e-6  # or nothing is proved, whatever the search says
    return Chosen(
        rig.carried,
        rig,
        reached,
        min(max(choice.bound, reached.worth), max(reached.whole, reached.worth)),
        choice.proved and kept,
        choice.settled and kept,
        tuple((limit, sum(limit.counts[name] or 0.0 for name in units)) for limit in asked.limits),
        left_out(library, asked.limits),
        _tonight(asked, there, reached.worth),
        _looped(asked),
        units_words(load_of(rig), library.units),
        tuple(name for name in rig.carried if loop_switches(library.units[name])),
        tuple((name, library.units[name].price) for name in rig.carried if not library.units[name].owned),
    )


def left_out(library: Library, limits: Iterable[Limit]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return by limit the units that had to stay out, since nobody knows what they count; supplies reach nothing."""
    found = ((each.name, tuple(n for n in each.unknown if not library.units[n].outlets)) for each in limits)
    return tuple(each for each in found if each[1])


def _looped(asked: Question) -> tuple[str, ...]:
    """Return the units that scenes turn on and that only a loop works: a choice knows units alone, not loops."""
    library, instance = asked.library, asked.search.instance
    refusing = 0
    for ask in instance.asks:
        refusing |= ask.refusing
    loops = [names for rig in library.rigs.values() for inside in rig.loops.values() for names in inside.values()]
    inside = {name for names in loops for name in names}
    able = refusing & ~asked.never
    return tuple(name for name in instance.named(able) if name in inside and _is_unworked(library.units[name]))


def _is_unworked(unit: Unit) -> bool:
    """Whether neither a message, a foot, a hand nor a preset works the main switch of a unit."""
    main = unit.switches.get(MAIN)
    if main is None or main.message or main.toggle or main.foot or main.hand or main.contact:
        return False
    return MAIN not in unit.stored


def _tonight(asked: Question, there: Library, worth: float) -> float:
    try:
        return reach(there, NEW, asked.gigs, mean=asked.mean).worth
    except ScenebookError:  # a replacement of one gig cannot be made on this rig
        return worth


def gains(asked: Question, chosen: Chosen, *, seconds: float, watch: Watch | None = None) -> Iterator[Gain]:
    """Yield for each limit what one more step of it would give, each found in its share of so many seconds."""
    instance = asked.search.instance
    start = instance.bits(chosen.units)
    base = instance.worth(start)
    ends = perf_counter() + seconds
    for number, limit in enumerate(asked.limits):
        wider = [each._replace(most=each.most + each.step) if each is limit else each for each in asked.limits]
        share = (ends - perf_counter()) / (len(asked.limits) - number)
        found = asked.search.best(asked.within(*wider), seconds=share, start=start, watch=watch, settle=False)
        more = tuple(name for name in instance.named(found.carried))
        most = min(found.bound, max(float(chosen.reach.whole), found.worth))
        yield Gain(limit, found.worth - base, most - base, found.proved, more)
