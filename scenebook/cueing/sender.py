"""What a sender stores for a gig: one list for each distinct set of messages that its cues need.

Pure. The lists are those of full cues, so any may be pressed after any other. Equal ones are stored once, a chorus too.
They are numbered in the order of the set, home first; a song starts a bank where there is room. A toggling switch, of
which a full list can promise nothing, gets a list that flips it once.
"""

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import NamedTuple

from scenebook.cueing.cues import Cue, CueList, Message, MessageKind
from scenebook.cueing.sender_numbers import numbers
from scenebook.cueing.sender_parts import parts_of
from scenebook.errors import BadValueError
from scenebook.model import MAIN, Gig, Library, Lists, Rig, Unit
from scenebook.model.base import place_text
from scenebook.model.messages import channel_of
from scenebook.model.protocol import BYTE_US

__all__ = ["UNSTORED", "Flip", "Needs", "SenderLists", "StoredList"]
__all__ += ["flips_in", "label_of", "sender_lists", "sender_of"]

Needs = tuple[tuple[int, int], ...]  # each press of a cue: which of `lists`, and µs after the press before
UNSTORED: Needs = ((-1, 0),)
"""A cue that needs messages of which no list is stored, after a change for tonight. Hands do what they can."""


class Flip(NamedTuple):
    """What a list flips: a switch that a toggling message works."""

    unit: str
    member: str


@dataclass(frozen=True, slots=True)
class StoredList:
    """One list: its number from 0, how the sender shows it, what it is for, its messages, the cues that press it.

    `at_us` of a message counts from the press. `step` counts the presses of a cue that needs several, from 1. `flips`
    is set where the list flips a toggling switch and does nothing else.
    """

    number: int
    label: str
    name: str
    messages: tuple[Message, ...]
    cues: tuple[str, ...]
    step: int = 1
    flips: Flip | None = None

    @property
    def triggers(self) -> tuple[Flip, ...]:
        """What fires at every press of it: units with their triggers."""
        fired = [each for each in self.messages if each.kind is MessageKind.TRIGGER and each.value != "release"]
        return tuple(dict.fromkeys(Flip(each.unit, each.member) for each in fired))


@dataclass(frozen=True, slots=True)
class SenderLists:
    """What a rig's sender stores for a gig, in the order of its numbers, and what each cue needs of it.

    `sets` has the presses of each cue of the sets, home first; `spares` and `house` of each cue of theirs.
    """

    gig: str
    rig: str
    unit: str
    ports: tuple[str, ...]
    holds: Lists
    lists: tuple[StoredList, ...]
    sets: tuple[Needs, ...]
    spares: tuple[tuple[Needs, ...], ...]
    house: tuple[Needs, ...]

    def flip(self, unit: str, member: str) -> int | None:
        """Return which list flips a toggling switch, if one does."""
        return next((at for at, each in enumerate(self.lists) if each.flips == (unit, member)), None)


def sender_of(library: Library, gig: Gig, rig: Rig, where: str = "") -> tuple[str, Lists]:
    """Return the unit that holds the lists tonight, and what it can hold.

    Raises:
        BadValueError: the rig names no sender, it is out tonight, or nothing says what it holds.
    """
    if rig.sender is None:
        remedy = "Write sender into the rig's file, with its unit and the ports that it serves"
        raise BadValueError("the rig names no sender", where=where, remedy=remedy)
    unit = gig.played_by.get(rig.sender.unit, rig.sender.unit)
    if unit in gig.out:
        raise BadValueError(
            f"the sender {unit!r} is out tonight", where=where, remedy="Let another unit play its part, or take it back"
        )
    holds = library.units[unit].lists
    if holds is None:
        raise BadValueError(
            f"{unit!r} is the sender, but nothing says what lists it can hold",
            where=where,
            remedy="Give the unit lists: count and messages",
        )
    return unit, holds


def sender_lists(library: Library, lean: CueList, full: CueList) -> SenderLists:
    """Return what the sender stores for a gig, from its full list; `lean` says which toggling switches are flipped.

    Raises:
        BadValueError: the rig names no sender, or it has no room: which cue, how much that needs, what would help.
    """
    rig = library.rigs[full.rig]
    unit, holds = sender_of(library, library.gigs[full.gig], rig, place_text("rig", full.rig))
    ports = rig.sender.ports if rig.sender else ()
    needed = _Needed(library, ports, holds)
    sets = [needed.by(("home",), cue) for cue in full.cues[:1]]
    needed.note_flips(lean)
    sets += [needed.by(("sets", cue.entry), cue) for cue in full.cues[1:]]
    spares = [tuple(needed.by(("spare", at), cue) for cue in each.cues) for at, each in enumerate(full.spares)]
    house = tuple(needed.by(("house",), cue) for cue in full.house.cues) if full.house else ()
    lists = _numbered(needed.lists, unit, holds, place_text("gig", full.gig))
    return SenderLists(full.gig, full.rig, unit, ports, holds, lists, tuple(sets), tuple(spares), house)


def label_of(number: int, holds: Lists) -> str:
    """Return a list's number, from 0, as the sender shows it: bank and switch from 1, or the list's place."""
    if holds.switches is None:
        return f"list {number + 1}"
    bank, switch = divmod(number, holds.switches)
    return f"bank {bank + 1}" if holds.switches == 1 else f"bank {bank + 1}, switch {switch + 1}"


@dataclass(slots=True)
class _List:
    """A list that some cues need, before it has a number; `group` is the song that needs it first."""

    group: tuple[object, ...]
    name: str
    messages: tuple[Message, ...]
    step: int = 1
    flips: Flip | None = None
    cues: list[str] = field(default_factory=list)


class _Needed:
    """The lists that cues need, each once, in the order in which they are first needed."""

    def __init__(self, library: Library, ports: Sequence[str], holds: Lists) -> None:
        self.lists: list[_List] = []
        self._units, self._ports, self._holds = library.units, frozenset(ports), holds
        self._places: dict[object, int] = {}

    def by(self, group: tuple[object, ...], cue: Cue) -> Needs:
        """Return the presses that a full cue needs."""
        mine = [message for message in cue.messages if message.port in self._ports]
        place = f"{cue.song}: {cue.scene}" if cue.song else "home"
        found = []
        for step, part in enumerate(parts_of(mine, self._units, pauses=self._holds.pauses), 1):
            at = self._place(_List(group, place + (f", press {step}" if step > 1 else ""), part.messages, step))
            self.lists[at].cues.append(f"cue {cue.number}, {place}" if cue.song else place)
            found.append((at, part.after_us))
        return tuple(found)

    def note_flips(self, lean: CueList) -> None:
        """Need a list for each toggling switch that some cue of a lean list flips."""
        songs = (*lean.spares, *([lean.house] if lean.house else []))
        for cue in (*lean.cues, *(cue for song in songs for cue in song.cues)):
            for flip, messages in flips_in(cue, self._units, self._ports).items():
                member = "" if flip.member == MAIN else f" {flip.member}"
                self._place(_List(("home",), f"flip {flip.unit}{member}", messages, flips=flip))

    def _place(self, wanted: _List) -> int:
        key = wanted.flips, *((m.port, m.data, self._holds.pauses and m.at_us) for m in wanted.messages)
        if key not in self._places:
            self._places[key] = len(self.lists)
            self.lists.append(wanted)
        return self._places[key]


def flips_in(cue: Cue, units: Mapping[str, Unit], ports: Container[str]) -> dict[Flip, tuple[Message, ...]]:
    """Return the toggling switches that a cue's messages on some ports flip, each with what flips it, from 0 µs."""
    found: dict[Flip, tuple[Message, ...]] = {}
    for message in cue.messages:
        switch = units[message.unit].switches.get(message.member)
        is_state = message.kind in (MessageKind.ON, MessageKind.OFF) and message.port in ports
        if is_state and switch is not None and switch.toggle is not None and switch.message is None:
            flip = Flip(message.unit, message.member)
            before = found.get(flip, ())
            found[flip] = (*before, message._replace(at_us=BYTE_US * sum(len(m.data) for m in before)))
    return found


def _numbered(needed: Sequence[_List], unit: str, holds: Lists, where: str) -> tuple[StoredList, ...]:
    """Return the lists with their numbers.

    Raises:
        BadValueError: a list is too long or needs too many channels, or there are too many lists.
    """
    for each in needed:
        _check_room(each, unit, holds, where)
    sizes = [len(list(group)) for _, group in groupby(needed, lambda each: each.group)]
    found = numbers(sizes, holds.count, holds.switches)
    if found is None:
        first = needed[holds.count]
        raise BadValueError(
            f"{len(needed)} lists are needed, and {unit!r} holds {holds.count}: {_cue_of(first)} is the first without",
            where=where,
            accepted=f"up to {holds.count} different lists",
            remedy="Fewer songs in the gig, or more scenes that are alike, need fewer lists",
        )
    return tuple(
        StoredList(number, label_of(number, holds), e.name, e.messages, tuple(e.cues), e.step, e.flips)
        for number, e in zip(found, needed, strict=True)
    )


def _check_room(each: _List, unit: str, holds: Lists, where: str) -> None:
    count, channels = len(each.messages), {(m.port, channel_of(m.data)) for m in each.messages if channel_of(m.data)}
    if count > holds.messages:
        raise BadValueError(
            f"{_cue_of(each)} needs {count} messages in one list, and a list of {unit!r} holds {holds.messages}",
            where=where,
            accepted=f"up to {holds.messages} messages",
            remedy="Take units off the sender's ports, or let presets store what the scene says of them",
        )
    if len(channels) > holds.channels:
        raise BadValueError(
            f"{_cue_of(each)} needs {len(channels)} channels in one list, and a list of {unit!r} holds "
            f"{holds.channels}",
            where=where,
            accepted=f"up to {holds.channels} channels",
            remedy="Take units off the sender's ports, or let some of them share a channel",
        )


def _cue_of(each: _List) -> str:
    return each.cues[0] if each.cues else each.name
