"""The order of a chain: what breaks fewest preferences where it is heard, then as on the wall, then by practice alone.

What is counted where it is heard is what `place.placing` counts, unit by unit, so no unit of the chain that is found
would break less anywhere else. Few units are ordered for certain, many by moving one at a time until none gains.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from itertools import combinations, permutations

from scenebook.errors import ScenebookError
from scenebook.model import Library, Practice, Rig, Unit
from scenebook.model.practice import Preference, Trait
from scenebook.planning.chain import stands_of
from scenebook.planning.heard import Heard, heard_on
from scenebook.planning.kinds import parts_of
from scenebook.planning.place import hands_on

__all__ = ["ordered_chain"]

_EXACT = 12  # units of which the best order is found for certain: 4,096 sets
_NEW = "the rig whose chain is ordered"
_HEARD, _WALL = 10**12, 10**6  # what one broken preference weighs that is heard once, and two units not as on the wall

Wrong = Mapping[tuple[str, str], int]
"""What it weighs that the first of two units stands before the second."""


def ordered_chain(library: Library, rig: Rig) -> tuple[str, ...]:
    """Return the units of a rig's chain, in which all stand one after another, in the order that breaks least.

    Of orders that break as little, the one nearest to that of the largest stored rig that holds half of them, since its
    player put it so; then the one that breaks fewest preferences that are not heard; then the order given. A unit that
    ends a chain and hands it on, such as a direct box, may take one side of what is stereo.
    """
    names = tuple(str(link) for link in rig.chain)
    units, practice = {name: library.units[name] for name in names}, library.settings.practice
    heard, wall = _heard(library, rig), _as_on_a_wall(library, names)
    found = []
    for end in ("", *(name for name, unit in units.items() if hands_on(unit))):
        wrong = _wrong(units, practice, heard, wall, end)
        rest = tuple(name for name in names if name != end)
        order = (*_in_order(rest, wrong), *([end] if end else []))
        found.append((_weight(order, wrong), order))
    return min(found, key=lambda each: each[0])[1]


def _heard(library: Library, rig: Rig) -> Heard:
    try:
        return heard_on(library.model_copy(update={"rigs": {**library.rigs, _NEW: rig}}), _NEW)[0]
    except ScenebookError:  # its home cannot be set: then practice alone decides
        return []


def _as_on_a_wall(library: Library, names: Sequence[str]) -> set[tuple[str, str]]:
    """Return the pairs of units of which the first stands before the second on the player's wall.

    That is the stored rig with the most units, of those that hold half of these, or of all where none does: boards that
    were chosen from it come after it.
    """
    chains = [stands_of(rig.chain) for rig in library.rigs.values()]
    most = max(chains, key=lambda stands: (2 * len(stands.keys() & {*names}) >= len(names), len(stands)), default={})
    there = {name: most[name][0] for name in names if name in most}
    return {
        (one, other)
        for (one, at), (other, then) in permutations(there.items(), 2)
        if at.link < then.link or (at.link == then.link and at.path == then.path and at.position < then.position)
    }


def _wrong(
    units: Mapping[str, Unit], practice: Practice, heard: Heard, wall: set[tuple[str, str]], end: str
) -> dict[tuple[str, str], int]:
    """Return what each pair of units weighs in one order; with the unit at the `end` one side of a stereo pair may."""
    orders = [each for each in practice.order if (each.first, each.then) == (Trait.MONO, Trait.STEREO)]
    others = [each for each in practice.order if each not in orders]
    kinds = {name: {part.kind for part in parts_of(name, unit, practice)} for name, unit in units.items()}
    sounds = _broken_where_heard(heard, practice.order)
    no_matter = _broken_where_heard(heard, orders) if end else Counter()

    def weight(one: str, other: str) -> int:
        ends = end and end in (one, other)
        by = others if ends else practice.order
        breaks = sum(each.first in kinds[other] and each.then in kinds[one] for each in by)
        told = sounds[one, other] - (no_matter[one, other] if ends else 0)
        return told * _HEARD + ((other, one) in wall) * _WALL + breaks

    return {pair: weight(*pair) for pair in permutations(units, 2)}


def _broken_where_heard(heard: Heard, order: Iterable[Preference]) -> Counter[tuple[str, str]]:
    """Count how often a preference is broken and heard if the first of two units stands before the second."""
    wants = Counter((each.first, each.then) for each in order)
    found: Counter[tuple[str, str]] = Counter()
    for weight, sounding in heard:
        for first, then in permutations(sounding, 2):
            times = wants.get((first.kind, then.kind), 0)
            if times and first.unit != then.unit:
                found[then.unit, first.unit] += weight * times
    return found


def _weight(order: Sequence[str], wrong: Wrong) -> int:
    return sum(wrong[pair] for pair in combinations(order, 2))


def _in_order(names: tuple[str, ...], wrong: Wrong) -> tuple[str, ...]:
    """Return units in the chain that breaks least, where there are not many; else in one that no move of one betters.

    Moves begin at the order given, and at what moves make of it by wall and practice alone.
    """
    if len(names) <= _EXACT:
        return _best_order(names, wrong)
    unheard = {pair: weight % _HEARD for pair, weight in wrong.items()}
    starts = [names, _moved_order(names, unheard)]
    return min((_moved_order(start, wrong) for start in starts), key=lambda order: _weight(order, wrong))


def _best_order(names: tuple[str, ...], wrong: Wrong) -> tuple[str, ...]:
    """Return the chain that breaks least, of equals the one nearest to the order given from its beginning on.

    By dynamic programming over sets: the best order of a set is its best first and the best order of the rest.
    """

    @cache
    def best_of(left: frozenset[int]) -> tuple[int, tuple[int, ...]]:
        if not left:
            return 0, ()
        found = []
        for first in sorted(left):
            cost, order = best_of(left - {first})
            found.append((cost + sum(wrong[names[first], names[then]] for then in order), (first, *order)))
        return min(found)

    return tuple(names[number] for number in best_of(frozenset(range(len(names))))[1])


def _moved_order(names: tuple[str, ...], wrong: Wrong) -> tuple[str, ...]:
    """Return a chain that no move of one unit betters, from the order given; each move lessens a whole number."""
    order = list(names)
    improved = True
    while improved:
        improved = False
        for name in names:
            rest = [other for other in order if other != name]
            costs = [
                sum(wrong[other, name] for other in rest[:place]) + sum(wrong[name, other] for other in rest[place:])
                for place in range(len(rest) + 1)
            ]
            best = min(range(len(costs)), key=lambda place: costs[place])
            if costs[best] < costs[order.index(name)]:
                order = [*rest[:best], name, *rest[best:]]
                improved = True
    return tuple(order)
