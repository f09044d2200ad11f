"""The way of the signal through a rig, jack by jack: which lead goes where, and what each unit joins inside itself.

Pure. A unit in a switcher's loop is joined to the switcher, unless it shares its loop with its neighbour; one whose
send and return hold others stands in the chain twice.
"""

from collections.abc import Mapping
from typing import NamedTuple

from scenebook.model import Parallel, Rig
from scenebook.model.base import listed

__all__ = ["AMPLIFIER", "INSTRUMENT", "MIX", "NOWHERE", "SPLIT", "Jack", "Link", "SignalPath", "Tangle", "signal_path"]
__all__ += ["tangle_words", "tangled", "tangles"]

INSTRUMENT, AMPLIFIER, SPLIT, MIX = "the instrument", "the amplifier", "the split", "the mix"
NOWHERE = frozenset({INSTRUMENT, AMPLIFIER, SPLIT, MIX})  # ends of the signal's way that are no unit


class Jack(NamedTuple):
    """A jack of a unit: in, out, send, return, or a loop's with its switch: "loop 1 send"."""

    unit: str  # or INSTRUMENT, AMPLIFIER, SPLIT, MIX: then the jack only tells these apart
    jack: str


class Link(NamedTuple):
    """One lead of the signal, from jack to jack."""

    start: str
    start_jack: str
    stop: str
    stop_jack: str

    @property
    def ends(self) -> tuple[Jack, Jack]:
        """The jack that it comes out of, and the jack that it goes into."""
        return Jack(self.start, self.start_jack), Jack(self.stop, self.stop_jack)


class SignalPath(NamedTuple):
    """The signal's whole way. `links` tell splits and mixes apart from units, `leads` only what goes between units.

    `through` says out of which jack comes what goes into one, while the switches of loops are on.
    """

    links: tuple[Link, ...]
    through: dict[Jack, Jack]

    @property
    def leads(self) -> tuple[Link, ...]:
        """The leads between units in the order of the chain, each once."""
        found: dict[Link, None] = {}
        sources: dict[Jack, list[Jack]] = {}
        for link in self.links:
            start, stop = link.ends
            starts = sources[start] if start.unit in (SPLIT, MIX) else [start]
            if stop.unit in (SPLIT, MIX):
                sources.setdefault(stop, []).extend(each for each in starts if each not in sources.get(stop, ()))
            elif stop.unit != AMPLIFIER:
                found.update(dict.fromkeys(Link(*each, *stop) for each in starts if each.unit != INSTRUMENT))
        return tuple(found)


def signal_path(rig: Rig) -> SignalPath:
    """Return the signal's way through a rig, from the instrument to the amplifier."""
    walk = _Walk(rig)
    where = _Where(Jack(INSTRUMENT, ""))
    for at, link in enumerate(rig.chain):
        if isinstance(link, str):
            where = walk.along((link,), where)
        else:
            where = walk.beside_each_other(link.parallel, where, str(at))
    where = walk.into(None, where)
    walk.join(where, Jack(AMPLIFIER, ""))
    return SignalPath(tuple(walk.links), walk.through)


class Tangle(NamedTuple):
    """A switcher into whose jacks two leads would have to go, one after the other along the chain.

    It has one in and one out, so the signal goes through it once, from the first of its loops to the last. `between`
    are the units that stand between two of its loops and in none of them; none where a loop is gone into twice, or
    where paths part or meet between loops.
    """

    holder: str
    between: tuple[str, ...]
    jacks: tuple[str, ...]  # in, out, or a loop's send and return


def tangles(rig: Rig) -> tuple[Tangle, ...]:
    """Return the switchers of a rig that cannot be wired as its chain and its loops say.

    Paths side by side part and meet at a split and a mix, which a switcher may hold itself: that is no tangle.
    """
    places = {name: at for at, link in enumerate(rig.chain) for name in _names(link)}
    ends: dict[Jack, dict[Jack, None]] = {}
    for link in signal_path(rig).links:
        start, stop = link.ends
        ends.setdefault(stop, {})[start] = None
        ends.setdefault(start, {})[stop] = None
    found = []
    for holder in rig.loops:
        wanted = {jack.jack: tuple(others) for jack, others in ends.items() if jack.unit == holder}
        jacks = tuple(jack for jack, others in wanted.items() if _one_after_another(others, places))
        found += [Tangle(holder, _between(rig, holder), jacks)] if jacks else []
    return tuple(found)


def tangled(rig: Rig) -> tuple[str, ...]:
    """Return in words which switchers of a rig cannot be wired as it says, and why."""
    return tuple(map(tangle_words, tangles(rig)))


def tangle_words(tangle: Tangle) -> str:
    """Return in words that a switcher cannot be wired so, and what would do."""
    what = f"{tangle.holder!r} cannot be wired so: two leads would have to go into one jack of it ({tangle.jacks[0]})"
    if not tangle.between and not {"in", "out"} & {*tangle.jacks}:
        return f"{what}, since the signal would go into one of its loops twice. Only neighbours share a loop."
    if not tangle.between:
        return f"{what}, since paths side by side part or meet between two of its loops. Put them before or behind it."
    stand = "stands" if len(tangle.between) == 1 else "stand"
    return (
        f"{what}, since {listed(tangle.between)} {stand} between two of its loops and in none. What is in no loop "
        "stands before the first of them or behind the last, unless the switcher has a second pair of jacks: put it "
        "there, or into a loop too."
    )


def _names(link: str | Parallel) -> tuple[str, ...]:
    return (link,) if isinstance(link, str) else tuple(name for path in link.parallel for name in path)


def _one_after_another(others: tuple[Jack, ...], places: Mapping[str, int]) -> bool:
    """Whether several jacks share a lead's end and are not side by side, in the paths of one place of the chain."""
    at = {places.get(jack.unit) for jack in others}
    return len(others) > 1 and (None in at or len(at) > 1)


def _between(rig: Rig, holder: str) -> tuple[str, ...]:
    """Return the units that stand between the first and the last unit in a switcher's loops, and are in none."""
    inside = {name for names in rig.loops[holder].values() for name in names}
    order = [name for link in rig.chain for name in _names(link)]
    at = [number for number, name in enumerate(order) if name in inside]
    return tuple(dict.fromkeys(name for name in order[at[0] : at[-1]] if name not in inside)) if at else ()


class _Where(NamedTuple):
    """Where the signal is: the jack that it comes out of, and the loop (holder and switch) that it is in."""

    jack: Jack
    inside: tuple[str, str] | None = None


class _Walk:
    """Follows the signal along the chain and keeps the leads that it takes."""

    def __init__(self, rig: Rig) -> None:
        self._rig = rig
        self._seen: set[str] = set()
        self._twice = {link for link in rig.chain if isinstance(link, str) and rig.chain.count(link) > 1}
        self._loop_of = {
            name: (holder, switch)
            for holder, switches in rig.loops.items()
            for switch, names in switches.items()
            for name in names
        }
        self._entered: dict[str, Jack] = {}  # the jack by which the signal went into each unit last
        self._sources: dict[Jack, set[Jack]] = {}  # what comes together at a split or a mix
        self.links: dict[Link, None] = {}
        self.through: dict[Jack, Jack] = {}

    def along(self, path: tuple[str, ...], where: _Where) -> _Where:
        """Follow a run of units."""
        for name in path:
            where = self.into(self._loop_of.get(name), where)
            enters, leaves = self._jacks(name)
            self.join(where, Jack(name, enters))
            where = where._replace(jack=self._out_of(name, leaves))
            self._seen.add(name)
        return where

    def beside_each_other(self, paths: tuple[tuple[str, ...], ...], where: _Where, at: str) -> _Where:
        """Follow paths side by side, from where they part to where they meet; that is outside a switcher's loops."""
        split, mix = Jack(SPLIT, at), Jack(MIX, at)
        self.join(where, split)
        after = [self.along(path, where._replace(jack=split)) for path in paths]
        inside = {each.inside for each in after}
        if len(after) > 1 and inside != {None}:
            after = [self.into(None, each) for each in after]
        for each in after:
            self.join(each, mix)
        return _Where(mix, after[0].inside if len(after) == 1 else None)

    def into(self, loop: tuple[str, str] | None, where: _Where) -> _Where:
        """Return where the signal is once it has gone into a loop, or out of all of them."""
        if loop == where.inside:
            return where
        if where.inside is not None:
            holder, switch = where.inside
            self.join(where, Jack(holder, f"{switch} return"))
            where = _Where(self._out_of(holder, "out"))
        if loop is None:
            return where
        holder, switch = loop
        if self._coming_from(where.jack) != {Jack(holder, "out")}:  # from loop to loop the signal stays in the switcher
            self.join(where, Jack(holder, "in"))
        return _Where(self._out_of(holder, f"{switch} send"), loop)

    def join(self, where: _Where, jack: Jack) -> None:
        """Keep the lead from where the signal is to a jack."""
        self.links[Link(*where.jack, *jack)] = None
        self._entered[jack.unit] = jack
        if jack.unit in (SPLIT, MIX):
            self._sources.setdefault(jack, set()).update(self._coming_from(where.jack))

    def _coming_from(self, jack: Jack) -> set[Jack]:
        return self._sources.get(jack, {jack})

    def _out_of(self, unit: str, jack: str) -> Jack:
        self.through[self._entered[unit]] = Jack(unit, jack)
        return Jack(unit, jack)

    def _jacks(self, name: str) -> tuple[str, str]:
        """Return the jacks by which the signal enters and leaves a unit here."""
        if name not in self._rig.sends and name not in self._twice:
            return "in", "out"
        return ("return", "out") if name in self._seen else ("in", "send")
