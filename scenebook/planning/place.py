"""Where in the chain a unit does least harm: which order preferences each place breaks, by how often it is heard.

The preferences are common practice (model/practice.py) and a library may override them. Only scenes in which both units
of a pair sound count. What a multi-effects does before and after its own send is its own affair.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import NamedTuple

from scenebook.errors import BadValueError
from scenebook.model import Library, Practice, Rig, Role, Unit
from scenebook.model.base import place_text
from scenebook.model.practice import Trait
from scenebook.planning.chain import Spot, is_before, put_in, spots_of, spots_today, stands_of, without
from scenebook.planning.heard import Heard, heard_on
from scenebook.planning.kinds import Kind, Part, has_sections, parts_of
from scenebook.planning.loop_rigs import loop_switches
from scenebook.planning.signal_path import tangles

__all__ = ["Broken", "Place", "Placing", "hands_on", "placing"]

# A unit's input is where its signal goes in first, its output where it comes out last.
_HANDS_ON = frozenset({Role.PREAMP, Role.UTILITY})  # roles of what may end a chain and sends its signal on
_ENDS: dict[Kind, slice] = {Trait.MONO: slice(1), Trait.STEREO: slice(-1, None)}


class Broken(NamedTuple):
    """A preference that a place breaks: what should come first and what then, and how often that is heard."""

    first: str
    then: str
    reason: str
    weight: int


class Place(NamedTuple):
    """One place in the chain, or two: before the send and after the return of a multi-effects."""

    spots: tuple[Spot, ...]
    broken: tuple[Broken, ...]

    @property
    def weight(self) -> int:
        """How often a broken preference is heard, all together."""
        return sum(each.weight for each in self.broken)


@dataclass(frozen=True)
class Placing:
    """All places of a unit in a rig's chain.

    `weight` counts how often the unit is heard in the chosen gigs. `places` stand in the order of the signal, `pairs`
    likewise. `today` is where it stands now, nothing for a unit that is not in the chain. The best breaks least; of
    equals today's place, then the nearest to it; of a unit that stands nowhere the usual place, heard or not: the end
    for what ends a chain, else where it breaks fewest preferences. It is none of `unwired`, the places at which a
    switcher's leads cannot be plugged. A place in a parallel path may be the best only for a unit that stands in that
    parallel today: elsewhere the other paths would go without it. `not_noted` says what would matter and is not known,
    `refused` which scenes cannot be set on the rig, `loop` with which units it shares a switcher's loop.
    `line_out` is the unit that ends the chain and hands it on, as a direct box does: that it takes one side of a
    stereo signal is no fault of the place asked about and is not counted, and no place behind it is the best.
    `pairs` are of a unit of which some rig says that it has a send and return; `send_unknown` where none says so.
    """

    rig: str
    unit: str
    weight: int
    places: tuple[Place, ...]
    pairs: tuple[Place, ...]
    today: Place | None
    best: Place
    best_pair: Place | None
    not_noted: tuple[tuple[str, str], ...] = ()
    refused: tuple[str, ...] = ()
    loop: tuple[str, ...] = ()
    line_out: str = ""
    send_unknown: bool = False
    unwired: tuple[Spot, ...] = ()

    @property
    def tells(self) -> bool:
        """Whether any place is better than another: a unit that is not heard breaks nothing, unless by its bypass."""
        return self.weight > 0 or len({place.weight for place in self.places}) > 1


def placing(library: Library, rig: str, unit: str, gigs: Sequence[str] | None = None) -> Placing:
    """Return what each place of a unit in the chain of a rig breaks; a unit that is not in it may be put in.

    Raises:
        BadValueError: the rig has no other unit in its chain.
    """
    chain = without(library.rigs[rig], unit)
    if library.units[unit].outlets or unit in library.rigs[rig].loops or loop_switches(library.units[unit]):
        what = "feeds other units" if library.units[unit].outlets else "holds loops beside the chain"
        raise BadValueError(
            f"{unit!r} {what}, so it has no place in the signal",
            where=place_text("rig", rig),
            remedy="See scenebook rig power and scenebook rig switcher",
        )
    if not chain:
        raise BadValueError(
            f"there is nothing in the chain beside {unit!r}",
            where=place_text("rig", rig),
            remedy="Put the other units into the chain first",
        )
    heard, refused = _heard(library, rig, unit, gigs)
    return _Places(library, rig, unit, heard).placing(refused)


def hands_on(unit: Unit) -> bool:
    """Whether a unit is of a kind that ends a chain: a preamp, or a utility that is set once and not switched."""
    roles = set(unit.roles)
    set_once = not any(each.foot or each.message or each.toggle or each.contact for each in unit.switches.values())
    return roles <= _HANDS_ON and (Role.PREAMP in roles or (Role.UTILITY in roles and set_once and not unit.programs))


def _heard(library: Library, rig: str, unit: str, gigs: Sequence[str] | None) -> tuple[Heard, tuple[str, ...]]:
    """Return what sounds in each scene on a rig, with a unit at the end of its chain if it does not carry it."""
    of = library.rigs[rig]
    if unit not in of.carried:
        there = Rig(**{**{name: getattr(of, name) for name in of.model_fields_set}, "chain": (*of.chain, unit)})
        library = library.model_copy(update={"rigs": {**library.rigs, rig: there}})
    return heard_on(library, rig, gigs)


class _Places:
    """The places of one unit, and what each part of it breaks at each."""

    def __init__(self, library: Library, rig: str, unit: str, heard: Heard) -> None:
        self.name, self.unit, self.of = rig, unit, library.rigs[rig]
        self.units, self._practice = library.units, library.settings.practice
        self._has_send = any(unit in each.sends or _stands_twice(each, unit) for each in library.rigs.values())
        self.parts = parts_of(unit, library.units[unit], self._practice)
        self.stands = stands_of(without(self.of, unit))
        self.spots = list(spots_of(without(self.of, unit)))
        self.line_out = self._line_out()
        own = [(weight, [p for p in sounding if p.unit == unit], sounding) for weight, sounding in heard]
        self.weight = sum(weight for weight, mine, _ in own if any(part.kind is not Trait.BUFFER for part in mine))
        self._pairs = self._met(own)
        self._costs = {(part, spot): self._broken(part, spot) for part in self.parts for spot in self.spots}

    def _line_out(self) -> str:
        """Return the unit that ends the chain and hands it on: this one, if it is of that kind, else today's last."""
        names = [self.unit, without(self.of, self.unit)[-1]]
        return next((name for name in names if isinstance(name, str) and hands_on(self.units[name])), "")

    def _met(self, own: Sequence[tuple[int, list[Part], frozenset[Part]]]) -> Counter[tuple[Part, Part]]:
        """Count how often each part of the unit is heard with each part of another that stands in the chain."""
        met: Counter[tuple[Part, Part]] = Counter()
        for weight, mine, sounding in own:
            for other in sounding:
                if other.unit in self.stands:
                    met.update({(part, other): weight for part in mine})
        return met

    def _broken(self, part: Part, spot: Spot) -> tuple[Broken, ...]:
        """Return the preferences that a part of the unit breaks at a place."""
        found = []
        for (mine, other), weight in self._pairs.items():
            if mine == part:
                found += self._between(mine, other, spot, weight)
        return tuple(sorted(found, key=lambda each: (-each.weight, each.first, each.then)))

    def _between(self, mine: Part, other: Part, spot: Spot, weight: int) -> list[Broken]:
        sides = {is_before(spot, stand) for stand in self.stands[other.unit]}
        found = []
        for each in self._practice.order:
            if (each.first, each.then) == (Trait.MONO, Trait.STEREO) and self._is_line_out(mine, other, spot):
                continue
            if (each.first, each.then) == (mine.kind, other.kind) and sides == {False}:
                found.append(Broken(mine.name, other.name, each.reason, weight))
            if (each.first, each.then) == (other.kind, mine.kind) and sides == {True}:
                found.append(Broken(other.name, mine.name, each.reason, weight))
        return found

    def _is_line_out(self, mine: Part, other: Part, spot: Spot) -> bool:
        """Whether the mono one of two parts ends the chain, so that it is no matter of order what it takes."""
        if mine.kind is Trait.MONO:
            return mine.unit == self.line_out and spot == self.spots[-1]
        return other.unit == self.line_out

    def place(self, *spots: Spot) -> Place:
        """Return a place, or two: then each part is on the side where it breaks less, the same in all scenes."""
        found: list[Broken] = []
        for part in self.parts:
            able = _ENDS.get(part.kind, slice(None))
            found += min(
                (self._costs[part, spot] for spot in spots[able]), key=lambda each: sum(b.weight for b in each)
            )
        return Place(spots, tuple(sorted(found, key=lambda each: -each.weight)))

    def placing(self, refused: tuple[str, ...]) -> Placing:
        """Return all places, and the best."""
        today = spots_today(self.of, self.unit)
        places = tuple(self.place(spot) for spot in self.spots)
        unwired = tuple(place.spots[0] for place in places if not self._is_wired(place))
        unwired = unwired if len(unwired) < len(places) else ()  # then it is for others to move
        pairs: tuple[Place, ...] = ()
        if has_sections(self.units[self.unit]) and self._has_send:
            ends = [spot for spot in self.spots if spot.path is None]
            pairs = tuple(self.place(*two) for two in combinations(ends, 2))
            pairs = tuple(filter(self._is_wired, pairs)) or pairs
        return Placing(
            rig=self.name,
            unit=self.unit,
            weight=self.weight,
            places=places,
            pairs=pairs,
            today=self.place(*today) if today else None,
            best=self._best(places, today),
            best_pair=self._best(pairs, today) if pairs else None,
            not_noted=tuple(self._not_noted()),
            refused=refused,
            loop=_loop_mates(self.of, self.unit),
            line_out=self.line_out if self._mono_ends() else "",
            send_unknown=has_sections(self.units[self.unit]) and not self._has_send,
            unwired=unwired,
        )

    def _mono_ends(self) -> bool:
        """Whether the end of the chain takes one side of what is stereo, of this unit or before it."""
        if not self.line_out or self.units[self.line_out].input != "mono":
            return False
        names = self.stands if self.line_out == self.unit else [self.unit]
        return any(self.units[name].output == "stereo" for name in names)

    def _best(self, places: Sequence[Place], today: Sequence[Spot]) -> Place:
        links = {spot.link for spot in today if spot.path is not None}
        closed = set(self.spots[-1:] if self.line_out not in ("", self.unit) else ()) - set(today)
        able = [
            place
            for place in places
            if all(spot not in closed and (spot.path is None or spot.link in links) for spot in place.spots)
        ]
        able = [place for place in able if self._is_wired(place)] or able
        return min(
            able, key=lambda place: (place.weight, self._unusual(place.spots, today), self._way(place.spots, today))
        )

    def _is_wired(self, place: Place) -> bool:
        """Whether a switcher's leads can be plugged: nothing stands between two of its loops and in none.

        A unit that is in a loop may give it up.
        """
        if not self.of.loops:
            return True
        said = {name: getattr(self.of, name) for name in self.of.model_fields_set}
        said["chain"] = put_in(without(self.of, self.unit), self.unit, place.spots)
        given_up = {
            holder: {switch: tuple(name for name in names if name != self.unit) for switch, names in loops.items()}
            for holder, loops in self.of.loops.items()
        }
        return not tangles(Rig(**said)) or not tangles(Rig(**{**said, "loops": given_up}))

    def _unusual(self, spots: Sequence[Spot], today: Sequence[Spot]) -> tuple[bool, int]:
        """Return how far places of a unit that stands nowhere today are from common practice, whatever is heard."""
        if today:
            return False, 0
        others = [part for name in self.stands for part in parts_of(name, self.units[name], self._practice)]
        broken = 0
        for mine in self.parts:
            able = spots[_ENDS.get(mine.kind, slice(None))]
            broken += min(sum(len(self._between(mine, other, spot, 1)) for other in others) for spot in able)
        return self.line_out == self.unit and spots[-1] != self.spots[-1], broken

    def _way(self, spots: Sequence[Spot], today: Sequence[Spot]) -> int:
        """Return how far places are from today's; the earliest counts where there is none of today."""
        order = {spot: number for number, spot in enumerate(self.spots)}
        ends = [order[today[0]], order[today[-1]]] if today else [0, 0]
        return sum(abs(order[spot] - end) for spot, end in zip(spots, ends, strict=False))

    def _not_noted(self) -> list[tuple[str, str]]:
        """Name what would matter for a place, of this unit and of those in the chain, and is not noted."""
        return [
            (name, what)
            for name in dict.fromkeys([self.unit, *self.stands])
            for what in _lacking(self.units[name], self._practice)
        ]


def _lacking(unit: Unit, practice: Practice) -> list[str]:
    fuzz = Role.FUZZ in unit.roles and not has_sections(unit)
    lacks = {
        "roles": not unit.roles and not has_sections(unit),
        "input impedance": fuzz and unit.input_kohm is None,
        "bypass": unit.bypass is None and bool(unit.switches),
        "mono or stereo": unit.input is None or unit.output is None,
    }
    return [what for what, missing in lacks.items() if missing]


def _stands_twice(rig: Rig, unit: str) -> bool:
    return rig.chain.count(unit) > 1


def _loop_mates(rig: Rig, unit: str) -> tuple[str, ...]:
    inside = (names for loops in rig.loops.values() for names in loops.values())
    return next((tuple(name for name in names if name != unit) for names in inside if unit in names), ())
