"""A rig from a set of units: its chain by common practice, free channels for what hears MIDI, and its stand-ins."""

from collections.abc import Sequence
from functools import cache
from itertools import permutations

from scenebook.model import Library, Placement, Rig, Unit
from scenebook.model.practice import Practice
from scenebook.model.protocol import CHANNELS
from scenebook.planning.asking import PORT, hears_midi
from scenebook.planning.homes import homes_of
from scenebook.planning.kinds import parts_of
from scenebook.planning.loop_rigs import loop_switches
from scenebook.planning.worth import all_stand_ins

__all__ = ["rig_of"]

_EXACT = 12  # units of which the best order is found for certain: 4,096 sets


def rig_of(library: Library, names: Sequence[str], *, by_hand: bool = False) -> Rig:
    """Return a rig of the named units; with `by_hand` none of them has a port and channel.

    Its stand-ins are those of all rigs of the library that these units can play for units that stay at home: with
    fewer, places could be shared out otherwise than was reckoned with. What feeds others, or holds loops, stands
    outside the chain.
    """
    outside = [name for name in names if library.units[name].outlets or loop_switches(library.units[name])]
    chain = [name for name in names if name not in outside]
    ordered = _in_order({name: library.units[name] for name in chain}, library.settings.practice)
    stand_ins = tuple(each for each in all_stand_ins(library) if each.by in names and each.part not in names)
    placed = {} if by_hand else _placements({name: library.units[name] for name in (*ordered, *outside)})
    units = {name: Placement() for name in outside} | placed
    return Rig(chain=ordered, units=units, home=homes_of(library, ordered), stand_ins=stand_ins)


def _placements(units: dict[str, Unit]) -> dict[str, Placement]:
    """Return a channel for each unit that hears MIDI; a second port where one port's channels run out."""
    placed = {}
    channels = [channel for channel in CHANNELS if channel]
    for number, name in enumerate(name for name, unit in units.items() if hears_midi(unit)):
        port, channel = divmod(number, len(channels))
        placed[name] = Placement(port=PORT if port == 0 else f"{PORT} {port + 1}", channel=channels[channel])
    return placed


def _in_order(units: dict[str, Unit], practice: Practice) -> tuple[str, ...]:
    """Return units in a chain that breaks few order preferences: the fewest, where there are not many units."""
    wrong = _wrong(units, practice)
    return _best_order(tuple(units), wrong) if len(units) <= _EXACT else _moved_order(tuple(units), wrong)


def _best_order(names: tuple[str, ...], wrong: dict[tuple[str, str], int]) -> tuple[str, ...]:
    """Return the chain that breaks fewest, of equals the one nearest to the order given from its beginning on.

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


def _moved_order(names: tuple[str, ...], wrong: dict[tuple[str, str], int]) -> tuple[str, ...]:
    """Return a chain that breaks few: from the order given by moving one at a time."""
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


def _wrong(units: dict[str, Unit], practice: Practice) -> dict[tuple[str, str], int]:
    """Return how many preferences each pair of units breaks if the first comes before the second."""
    kinds = {name: {part.kind for part in parts_of(name, unit, practice)} for name, unit in units.items()}
    return {
        (one, other): sum(each.first in kinds[other] and each.then in kinds[one] for each in practice.order)
        for one, other in permutations(units, 2)
    }
