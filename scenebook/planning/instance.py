"""The question that a choice of units asks, in numbers: the scenes as needs, and what may meet each.

Units are numbered, a set of units is an integer with a bit for each, and scenes that ask the same are one. What a scene
comes to on a set of units is worked out here by the rules of states/ (S6 to S9), so that thousands of sets can be
asked; a test holds the two together, and whoever prints a worth asks states/ itself.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

from scenebook.planning.worth import scene_value

__all__ = ["Ask", "Found", "Instance", "Need", "Offer", "Own"]

_ALL = -1


class Offer(NamedTuple):
    """A stand-in that may meet a need: its unit, the place there, and whether the scene could be set with it.

    `on` are sections of a unit that has so many at once: those that its switch turns on; of a preset all that are on
    where the scene says it. `moves` tells of a preset that changes them.
    """

    by: int
    place: int
    on: int
    likeness: float
    works: bool = True
    preset: bool = False  # the place is the unit's preset
    moves: bool = False

    @property
    def section(self) -> bool:
        """Whether its switch turns on a section of a unit that has so many at once."""
        return bool(self.on) and not self.preset


@dataclass(frozen=True)
class Need:
    """A need of a scene: the unit that meets it itself, and what else may, in the order in which it asks.

    A trigger is a need as well, but it is there or not: it has no part in a mean.
    """

    unit: int
    colour: bool
    offers: tuple[Offer, ...]
    trigger: bool = False
    member: str = ""

    @cached_property
    def steady(self) -> bool:
        """Whether what it asks first is never less like than what it asks later, and takes no more than its place."""
        likes = [offer.likeness for offer in self.offers]
        return likes == sorted(likes, reverse=True) and all(o.works and not o.moves for o in self.offers)

    @cached_property
    def best(self) -> dict[int, float]:
        """The greatest likeness that each unit could give it, itself included."""
        found: dict[int, float] = {}
        for offer in self.offers:
            if offer.works:
                found[offer.by] = max(found.get(offer.by, 0.0), offer.likeness)
        return found | {self.unit: 1.0}


class Found(NamedTuple):
    """What a scene comes to on a set of units: each need's likeness, below 0 where nothing meets it."""

    likeness: tuple[float, ...]
    settable: bool
    asked: int = 0  # the units whose being there, or not, decided it
    on: tuple[tuple[int, int], ...] = ()  # by unit, which of its sections are on
    places: tuple[tuple[tuple[int, str], Offer], ...] = ()  # what plays which need, and what it leaves so


class Own(NamedTuple):
    """What a scene itself says of a unit that has so many sections at once: which are on, which it leaves, or names."""

    unit: int
    on: int
    left: int = 0
    said: int = 0


@dataclass(frozen=True, eq=False)
class Ask:
    """A scene as it is asked of any set of units, how often, and which sections its own words turn on.

    Where it leaves something it follows another: what played the part of a unit there is left too (rule S6). `leaves`
    are the unit and member, or no member for the whole unit; `named` are the units of which it says anything.
    """

    needs: tuple[Need, ...]
    weight: float
    own: tuple[Own, ...] = ()
    refusing: int = 0  # units that cannot be set as it names them: where one is carried, the scene is worth nothing
    names: tuple[tuple[str, str], ...] = ()
    leaves: frozenset[tuple[int, str]] = frozenset()
    named: int = 0
    before: "Ask | None" = None
    _known: dict[int, Found] = field(default_factory=dict, repr=False)

    @property
    def used(self) -> tuple[tuple[int, int], ...]:
        """By unit, how many of its sections are on before anything stands in."""
        return tuple((each.unit, each.on.bit_count()) for each in self.own)

    @cached_property
    def units(self) -> int:
        """Every unit that has to do with the scene, as bits; of a chain of scenes that leave, ask the oldest first."""
        bits = self.refusing | (self.before.units if self.before else 0)
        for need in self.needs:
            bits |= 1 << need.unit
            for offer in need.offers:
                bits |= 1 << offer.by
        return bits

    @cached_property
    def steady(self) -> bool:
        """Whether one more unit can only do good: then what is out of reach of a set is out of reach of its parts."""
        return self.before is None and all(need.steady for need in self.needs)

    @cached_property
    def musts(self) -> tuple[int, ...]:
        """The numbers of the needs that the scene cannot do without."""
        return tuple(number for number, need in enumerate(self.needs) if not need.colour)


@dataclass(frozen=True, eq=False)
class Instance:
    """Everything that a choice decides on: the units by name, the scenes, and the most sections a unit does at once."""

    units: tuple[str, ...]
    asks: tuple[Ask, ...]
    sections: tuple[int | None, ...]
    colour_share: float
    mean: bool = False
    idle: float = 0.0  # the worth of scenes that need nothing, which every rig has

    @cached_property
    def limited(self) -> bool:
        """Whether any unit has only so many sections at once."""
        return any(most is not None for most in self.sections)

    @cached_property
    def _followed(self) -> bool:
        """Whether any scene leaves what another's sections were, of a unit that has only so many at once."""
        return self.limited and any(ask.before for ask in self.asks)

    @cached_property
    def known(self) -> tuple[tuple[int, dict[int, float]], ...]:
        """For each scene its units as bits, and its worth, weight included, on sets of them, as far as it is known."""
        return tuple((ask.units, {}) for ask in self.asks)

    def worth(self, carried: int) -> float:
        """Return the worth of all scenes on a set of units."""
        total = 0.0
        for number, (units, known) in enumerate(self.known):
            worth = known.get(carried & units)
            total += self.weighed(number, carried) if worth is None else worth
        return self.idle + total

    def weighed(self, number: int, carried: int) -> float:
        """Work out what a scene comes to on a set of units, weight included, and keep the number alone."""
        ask = self.asks[number]
        found = self._matched(ask, carried & ask.units)
        worth = self.known[number][1][carried & ask.units] = ask.weight * self.value_of(ask, found)
        return worth

    def value(self, ask: Ask, carried: int) -> float:
        """Return how well a scene is met on a set of units, from 0 to 1."""
        return self.value_of(ask, self.found(ask, carried))

    def value_of(self, ask: Ask, found: Found) -> float:
        """Return how well a scene is met by what was found."""
        if not found.settable:
            return 0.0
        if any(found.likeness[number] <= 0 for number in ask.musts):
            return 0.0
        musts = [found.likeness[number] for number in ask.musts if not ask.needs[number].trigger]
        without = sum(need.colour and like < 0 for need, like in zip(ask.needs, found.likeness, strict=True))
        return scene_value(musts, without, mean=self.mean, share=self.colour_share)

    def found(self, ask: Ask, carried: int) -> Found:
        """Return what a scene comes to on a set of units (rules S8 and S9)."""
        found = ask._known.get(carried & ask.units)
        if found is not None:
            return found
        unknown, each = [ask], ask.before
        while each is not None and carried & each.units not in each._known:
            unknown.append(each)
            each = each.before
        for each in reversed(unknown):  # the oldest first: a song may leave something for hundreds of scenes
            found = each._known[carried & each.units] = self._matched(each, carried & each.units)
        assert found is not None
        return found

    def _matched(self, ask: Ask, carried: int) -> Found:
        """Meet needs in rounds, as states/ does: each asks for its best, a place keeps the likest (rule S9)."""
        needs, likes = ask.needs, [1.0 if carried >> need.unit & 1 else -1.0 for need in ask.needs]
        asked = sum({1 << need.unit for need in needs})
        stood = self.found(ask.before, carried) if ask.before else None
        left, closed = _left(ask, stood, carried)
        sections = _Sections(ask, stood, [offer for _, offer in left])
        open_to = {
            number: iter([o for o in need.offers if not closed & {(o.by, o.place), (o.by, None)}])
            for number, need in enumerate(needs)
            if likes[number] < 0
        }
        held: dict[int, Offer] = {}
        asking = list(open_to)
        while asking:
            for number in asking:
                for offer in open_to[number]:
                    asked |= 1 << offer.by
                    if carried >> offer.by & 1:
                        held[number] = offer
                        break
            asking = self._refused(sections, held)
            for number in asking:
                del held[number]
        settable = not carried & ask.refusing
        for number, offer in held.items():
            likes[number] = offer.likeness
            settable = settable and offer.works
        places = *left, *(((needs[n].unit, needs[n].member), held[n]) for n in sorted(held))
        asked |= stood.asked if stood else 0
        on = sections.all_on(list(held.values())) if self._followed else ()
        return Found(tuple(likes), settable, asked | ask.refusing, on, places)

    def at_best(self, ask: Ask, carried: int) -> Found:
        """Return what a scene could come to if places never ran out: no less than what it does come to."""
        likes = []
        for need in ask.needs:
            likes.append(max((like for unit, like in need.best.items() if carried >> unit & 1), default=-1.0))
        return Found(tuple(likes), not carried & ask.refusing)

    def bits(self, names: Sequence[str]) -> int:
        """Return a set of units as bits; names that are no part of the question are left out."""
        index = {name: number for number, name in enumerate(self.units)}
        return sum(1 << index[name] for name in set(names) if name in index)

    def named(self, carried: int) -> tuple[str, ...]:
        """Return the names of a set of units."""
        return tuple(self.units[number] for number in each_bit(carried))

    def _refused(self, sections: "_Sections", held: dict[int, Offer]) -> list[int]:
        taken: dict[tuple[int, int], Offer] = {}
        refused = []
        for number, offer in sorted(held.items(), key=lambda item: (-item[1].likeness, item[0])):
            most = self.sections[offer.by]
            place = offer.by, offer.place
            if place in taken or (most is not None and sections.too_many(most, offer, taken.values())):
                refused.append(number)
                continue
            taken[place] = offer
        return refused


class _Sections:
    """Which sections are on in a scene: by its own words, by what it leaves, and by what stands in."""

    def __init__(self, ask: Ask, stood: Found | None, left: Sequence[Offer]) -> None:
        self._own = {each.unit: each for each in ask.own}
        self._stood = dict(stood.on) if stood else {}
        self._left = {each.unit: each.left for each in ask.own} if stood else {}
        for offer in left:
            said = self._own[offer.by].said if offer.by in self._own else 0
            more = _ALL if offer.preset and not ask.named >> offer.by & 1 else 0 if offer.preset else offer.on & ~said
            self._left[offer.by] = self._left.get(offer.by, 0) | more

    def on(self, unit: int, offers: Iterable[Offer]) -> int:
        """Return the sections of a unit that are on with some stand-ins."""
        on, more, left = self._own[unit].on if unit in self._own else 0, 0, self._left.get(unit, 0)
        for offer in offers:
            if offer.by == unit:
                on, more = (offer.on, more) if offer.preset else (on, more | offer.on)
        return on & ~left | self._stood.get(unit, 0) & left | more

    def too_many(self, most: int, offer: Offer, others: Iterable[Offer]) -> bool:
        """Whether one more stand-in turns on more sections than the unit has at once."""
        others = tuple(others)
        on = self.on(offer.by, (*others, offer)).bit_count()
        return on > most and on > self.on(offer.by, others).bit_count()

    def all_on(self, held: Sequence[Offer]) -> tuple[tuple[int, int], ...]:
        """Return by unit which sections are on."""
        units = sorted({*self._own, *self._left, *(offer.by for offer in held)})
        return tuple((unit, self.on(unit, held)) for unit in units)


def _left(
    ask: Ask, stood: Found | None, carried: int
) -> tuple[list[tuple[tuple[int, str], Offer]], set[tuple[int, int | None]]]:
    """Return what a scene leaves of what played a part before it, and the places that are closed so (None: all)."""
    left: list[tuple[tuple[int, str], Offer]] = []
    closed: set[tuple[int, int | None]] = set()
    said = ask.named & carried
    for (unit, member), offer in stood.places if stood else ():
        if carried >> unit & 1 or not ask.leaves & {(unit, member), (unit, "")}:
            continue
        if not offer.preset:
            closed.add((offer.by, offer.place))
        elif not said >> offer.by & 1:
            closed.add((offer.by, None))
        said |= 1 << offer.by
        left.append(((unit, member), offer))
    return left, closed


def each_bit(bits: int) -> Iterator[int]:
    """Yield the number of every bit that is set, from the least."""
    while bits:
        low = bits & -bits
        yield low.bit_length() - 1
        bits ^= low
